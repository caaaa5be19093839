use super::*;
use crate::render::foresee;
use crate::rig::Rig;

const RIG: &str = "name = \"pendulum\"\n[capture]\nfps = 240.0\nframe_size = [960, 540]\n\
    [screen]\ncorners = [[266, 82], [750, 91], [756, 456], [262, 450]]\n\
    [stimulus]\nkind = \"swing\"\nregion = [16, 340, 228, 480]\n";

fn bed(text: &str) -> Bed {
    Bed::of(&Rig::parse(text, "rig.toml").unwrap()).unwrap()
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
    assert_eq!(
        truth.screen.corners.unwrap(),
        quad.corners.map(|c| [c.x, c.y])
    );
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
        for trouble in Trouble::ALL {
            let case = case(&bed, trouble, &Content::Drawn, 5, 9);
            let truth = foresee(&case.scene).unwrap();
            assert_eq!(truth.trials.len(), 9);
            for (a, b) in plain.trials.iter().zip(&truth.trials) {
                assert_eq!(
                    (a.verdict, a.settle_s),
                    (b.verdict, b.settle_s),
                    "{trouble:?}"
                );
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
    let mut seen: Vec<String> = truth
        .trials
        .iter()
        .map(|t| format!("{:?} {:?}", t.verdict, t.reason))
        .collect();
    seen.sort();
    seen.dedup();
    assert!(seen.len() >= 6, "{seen:?}");
}

#[test]
fn a_perfect_result_scores_without_error_and_a_late_one_by_its_distance() {
    use crate::store::schema;
    let bed = bed(RIG);
    let mut truth = foresee(&case(&bed, Trouble::None, &Content::Drawn, 1, 6).scene).unwrap();
    let timing = |truth: &crate::render::Truth, late_s: f64| -> schema::Timing {
        let trials = truth.trials.iter().map(|t| {
            let settle = t.settle_s.map(|p| p[1] + late_s);
            serde_json::json!({
                "index": 0, "side": t.side, "verdict": t.verdict, "reason": t.reason,
                "early": t.early, "move_s": t.move_s, "onset_s": t.onset_s,
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
    };
    let found = |late_s: f64| Row::of("all", &Score::of(&truth, &timing(&truth, late_s), &[]));
    let perfect = found(0.0);
    assert_eq!((perfect.missed, perfect.extra, perfect.wrong), (0, 0, 0));
    assert_eq!(perfect.settle_p99_ms, Some(0.0));
    assert_eq!(perfect.covered, Some(1.0));
    let late = found(0.030);
    assert!((late.settle_p50_ms.unwrap() - 30.0).abs() < 1e-6);
    // One refresh and one frame: 16.7 + 4.2 ms.
    assert!((late.settle_p95_units.unwrap() - 1.44).abs() < 1e-6);
    assert_eq!(late.covered, Some(0.0));
    // What settled before onset counts as sharp at onset: latency 0.
    truth.trials[0].settle_s = Some([truth.trials[0].onset_s - 0.5; 2]);
    let before = Score::of(&truth, &timing(&truth, 0.510), &[]);
    assert!((before.settle_ms[0] - 10.0).abs() < 1e-6);
}
