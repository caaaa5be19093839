//! A film held by a shaking hand, refocused once and turned away once: what is
//! timed, what is void, and that the number of workers changes nothing.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/timed.rs"]
mod timed;

use std::path::Path;

use focuslag::render::{Scene, Truth, render};
use focuslag::store::schema::{Clip, Timing, Verdict};

fn time(truth: &Truth, clip: &Path, folder: &Path, workers: usize) -> Timing {
    let corners = truth.screen.corners.expect("a screen");
    let rig = format!(
        "name = \"counter\"\n[screen]\ncorners = {corners:?}\n[stimulus]\nkind = \"swing\"\n\
         [trial]\nwindow_ms = 900\n"
    );
    timed::timed(clip, &rig, folder, workers)
}

/// Verdicts and reasons in order.
fn ends(clip: &Clip) -> Vec<(Verdict, Option<&str>)> {
    let end = |t: &focuslag::store::schema::Trial| t.verdict;
    let trials = clip.trials.iter();
    trials.map(|t| (end(t), t.reason.as_deref())).collect()
}

#[test]
fn a_shaken_refocused_and_turned_film_is_timed_where_it_can_be() {
    let scene = "seed = 61\n\
        [motion]\nmove_ms = 300\npause_ms = 1300\nlead_ms = 600\n\
        [film]\nfps = 120\nsize = [480, 270]\n\
        [film.tremor]\npx = 0.8\nhz = 5\n\
        [film.refocus]\nblur_px = 3.5\nat_ms = 200\nfor_ms = 400\ntrials = [1]\n\
        [film.bump]\npx = [100.0, 0.0]\nhz = 1.0\ndecay_ms = 200\nat_ms = 300\ntrials = [3]\n\
        [container]\nkeyint = 96\npreset = \"ultrafast\"\n\
        [[trial]]\n[[trial]]\n[[trial]]\ndelay_ms = 200\ndrive_ms = 300\n[[trial]]\n[[trial]]\n";
    let scene = Scene::from_toml(scene, "shaken.toml").expect("a scene");
    let folder = tempfile::tempdir().expect("a folder");
    let clip = folder.path().join("shaken.mp4");
    let truth = render(&scene, folder.path(), &clip, |_, _| ()).expect("a clip");
    let timing = time(&truth, &clip, folder.path(), 2);
    assert_eq!(timing, time(&truth, &clip, folder.path(), 1));
    let seen = &timing.clips[0];
    let steadiness = seen.steadiness.as_ref().expect("a record");
    assert!(steadiness.tracked);
    assert!(steadiness.lost_frames > 10, "{steadiness:?}");
    assert_eq!(steadiness.refocused_s.len(), 1, "{steadiness:?}");
    assert_eq!(
        ends(seen),
        [
            (Verdict::Hit, None),
            (Verdict::Void, Some("cannot tell")),
            (Verdict::Hit, None),
            (Verdict::Void, Some("cut")),
            (Verdict::Hit, None),
        ],
        "{:?}",
        seen.warnings
    );
    let unit = 1.0 / truth.refresh_hz + 1.0 / truth.capture_fps;
    for (t, got) in truth.trials.iter().zip(&seen.trials) {
        assert!((t.onset_s - got.onset_s).abs() < 3.0 / truth.capture_fps + unit);
        let (Some([first, last]), Some(settle)) = (t.settle_s, got.settle_s) else {
            continue;
        };
        assert!(
            settle > first - unit && settle < last + unit,
            "{t:?} {got:?}"
        );
    }
    let said = |text: &str| seen.warnings.iter().any(|w| w.contains(text));
    assert!(said("the screen was lost") && said("went out of focus"));
}
