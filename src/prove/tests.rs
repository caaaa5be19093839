use super::*;
use crate::render::{TrialTruth, Truth, Verdict as V, foresee};
use crate::rig::Rig;
use crate::store::schema::{self, Timing};

/// Lenses that land slowly, overshoot or search a little, or rest short of the
/// plane make a third of the deck or more.
#[test]
fn a_third_of_the_lenses_is_not_brisk() {
    let (mut all, mut slow) = (0, 0);
    for seed in 0..40 {
        let case = case(&bed(RIG), Trouble::None, &Content::Drawn, seed, 15);
        for t in &case.scene.trials {
            let small = |v: Option<f64>| v.is_some_and(|v| v < 8.0);
            all += 1;
            let lands = t.landing_ms.or(t.halt_permille).is_some();
            let searches = t.hunts.is_some() && small(t.hunt_permille);
            slow += usize::from(lands || searches || small(t.overshoot_permille));
        }
    }
    assert!(3 * slow > all && 2 * slow < all, "{slow} of {all}");
}
const RIG: &str = "name = \"pendulum\"\n[capture]\nfps = 240.0\nframe_size = [960, 540]\n\
    [screen]\ncorners = [[266, 82], [750, 91], [756, 456], [262, 450]]\n\
    [stimulus]\nkind = \"swing\"\nregion = [16, 340, 228, 480]\n";

fn bed(text: &str) -> Bed {
    Bed::of(&Rig::parse(text, "rig.toml").unwrap()).unwrap()
}

/// The truth of an undisturbed scene.
fn plain(seed: u64, trials: usize) -> Truth {
    let case = case(&bed(RIG), Trouble::None, &Content::Drawn, seed, trials);
    foresee(&case.scene).unwrap()
}

#[test]
fn the_frame_is_cut_to_what_is_looked_at() {
    let bed = bed(RIG);
    let quad = bed.rig.screen.corners.unwrap();
    // The same size, moved with the region beside it.
    assert!((quad.width() - 487.0).abs() < 4.0);
    let (w, h) = bed.rig.capture.frame_size.unwrap();
    assert!(w < 960 && h < 540 && w % 2 == 0 && h % 2 == 0);
    let case = case(&bed, Trouble::None, &Content::Drawn, 3, 8);
    let truth = foresee(&case.scene).unwrap();
    assert_eq!(truth.capture_fps, 240.0);
    let corners = quad.corners.map(|c| [c.x, c.y]);
    assert_eq!(truth.screen.corners.unwrap(), corners);
}

#[test]
fn a_rig_without_a_rate_is_refused() {
    let text = RIG.replace("fps = 240.0\n", "");
    let rig = Rig::parse(&text, "rig.toml").unwrap();
    assert_eq!(Bed::of(&rig).unwrap_err(), BedError::Rate);
}

#[test]
fn every_trouble_makes_a_scene_with_the_same_truth() {
    for stimulus in ["kind = \"swing\"", "kind = \"light\""] {
        let bed = bed(&RIG.replace("kind = \"swing\"", stimulus));
        let plain = case(&bed, Trouble::None, &Content::Drawn, 5, 9);
        let plain = foresee(&plain.scene).unwrap();
        for trouble in Trouble::all() {
            let case = case(&bed, trouble, &Content::Drawn, 5, 9);
            let truth = foresee(&case.scene).unwrap();
            assert_eq!(truth.trials.len(), 9);
            for (a, b) in plain.trials.iter().zip(&truth.trials) {
                assert_eq!(a.verdict, b.verdict, "{trouble:?}");
                assert_eq!(a.settle_s, b.settle_s, "{trouble:?}");
            }
        }
    }
}

#[test]
fn all_verdicts_come_up_and_the_seed_decides() {
    let bed = bed(RIG);
    let draw = |seed| case(&bed, Trouble::All, &Content::Drawn, seed, 40);
    assert_eq!(draw(1).scene.trials, draw(1).scene.trials);
    assert_ne!(draw(1).scene.trials, draw(2).scene.trials);
    let truth = foresee(&draw(1).scene).unwrap();
    let kinds = truth
        .trials
        .iter()
        .map(|t| format!("{:?} {:?}", t.verdict, t.reason));
    let seen: std::collections::BTreeSet<String> = kinds.collect();
    assert!(seen.len() >= 6, "{seen:?}");
}

/// A timing in which everything but the settle instant is the truth.
fn found(truth: &Truth, settle: impl Fn(&TrialTruth) -> Option<f64>) -> Timing {
    let trials = truth.trials.iter().map(|t| {
        let settle = settle(t);
        serde_json::json!({
            "index": 0, "side": t.side, "verdict": t.verdict, "reason": t.reason,
            "early": t.early, "move_s": t.move_s, "onset_s": t.onset_s,
            "delta_permille": truth.settle_permille,
            "reaction_s": null, "settle_s": settle, "end_s": 9.0,
            "latency_ms": settle.map(|s| ((s - t.onset_s) * 1e3).max(0.0)),
            "latency_corrected_ms": null, "uncertainty_ms": 5.0, "reversals": 0,
            "relapses": 0, "overshoot": 0.0, "sharpness": null, "cues": {}
        })
    });
    let clip = serde_json::json!({
        "path": "a.mp4", "sha256": "0", "frames": 1, "duration_s": 1.0,
        "capture_fps": 240.0, "screen": { "corners": null, "refresh_hz": 60.0 },
        "live_view_lag_ms": null, "warnings": [], "error": null,
        "trials": trials.collect::<Vec<_>>()
    });
    let timing = serde_json::json!({
        "format": "focuslag-timing", "version": 1,
        "setup": { "name": "kit-amber", "tags": {} }, "rig": {}, "measure": {},
        "made_by": {}, "clips": [clip]
    });
    serde_json::from_value(timing).unwrap()
}

#[test]
fn a_perfect_result_scores_without_error_and_a_late_one_by_its_distance() {
    let mut truth = plain(1, 6);
    let timing = |truth: &Truth, late_s: f64| found(truth, |t| t.settle_s.map(|p| p[1] + late_s));
    let row = |late_s: f64| Row::of("all", &Score::of(&truth, &timing(&truth, late_s), &[]));
    let perfect = row(0.0);
    assert_eq!((perfect.missed, perfect.extra, perfect.wrong), (0, 0, 0));
    assert_eq!(perfect.settle_p99_ms, Some(0.0));
    let late = row(0.030);
    assert!((late.settle_p50_ms.unwrap() - 30.0).abs() < 1e-6);
    // One refresh and one frame: 16.7 + 4.2 ms.
    assert!((late.settle_p95_units.unwrap() - 1.44).abs() < 1e-6);
    assert_eq!(late.covered, Some(0.0));
    // Of the second end of the pair; the crossing of δ lies before it.
    assert!(late.settle_bias_ms.unwrap() > 30.0 && perfect.settle_bias_ms.unwrap() > 0.0);
    assert_eq!(perfect.hits_right, Some(1.0));
    assert_eq!(late.two_u_p50_ms, Some(10.0));
    // What settled before onset counts as sharp at onset: latency 0.
    truth.trials[0].settle_s = Some([truth.trials[0].onset_s - 0.5; 2]);
    let before = Score::of(&truth, &timing(&truth, 0.510), &[]);
    assert!((before.settle_ms[0] - 10.0).abs() < 1e-6);
}

/// Found at 1.5 δ or at δ ÷ 1.5: no error outside the pair, early and late
/// against the crossing; 2 u of 10 ms holds it within 10 ms.
#[test]
fn bias_and_coverage_are_against_the_crossing_of_delta() {
    let mut truth = plain(1, 6);
    for t in &mut truth.trials {
        t.crossing_s = t.settle_s.map(|p| p[0] + 0.012);
        t.settle_s = t.settle_s.map(|p| [p[0], p[0] + 0.021]);
    }
    let score = |late: f64| {
        let found = found(&truth, |t| t.settle_s.map(|p| p[0] + late));
        Row::of("all", &Score::of(&truth, &found, &[]))
    };
    for (late, bias, covered) in [(0.0, -12.0, 0.0), (0.0125, 0.5, 1.0), (0.021, 9.0, 1.0)] {
        let row = score(late);
        assert_eq!(row.settle_p99_ms.map(f64::round), Some(0.0));
        assert!((row.settle_bias_ms.unwrap() - bias).abs() < 1e-6, "{late}");
        assert_eq!(row.covered, Some(covered), "{late}");
    }
}

/// A void that could be judged is wrong among the hits or the misses.
#[test]
fn hits_and_misses_are_counted_each_by_itself() {
    let truth = plain(3, 12);
    let of = |v: &[V]| {
        truth
            .trials
            .iter()
            .filter(|t| v.contains(&t.verdict))
            .count()
    };
    let (hits, misses) = (of(&[V::Hit]), of(&[V::Soft, V::Lost]));
    assert!(hits > 2 && misses > 1);
    let mut timing = found(&truth, |t| t.settle_s.map(|p| p[1]));
    let first = |v: V| truth.trials.iter().position(|t| t.verdict == v).unwrap();
    let clip = &mut timing.clips[0];
    clip.trials[first(V::Hit)].verdict = schema::Verdict::Void;
    let s = Score::of(&truth, &timing, &[]);
    assert_eq!((s.hits, s.misses), ([hits - 1, hits], [misses, misses]));
    let nothing = Score::empty(&truth);
    assert_eq!((nothing.hits, nothing.misses), ([0, hits], [0, misses]));
}
