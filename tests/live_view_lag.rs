//! The live-view lag of a rendered clip that shows the target directly and on
//! the screen, and what it does to latencies.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/timed.rs"]
mod timed;

use std::path::Path;

use focuslag::render::{Scene, Truth, render};
use focuslag::store::schema::{Clip, Verdict};

const DIRECT: [f64; 4] = [8.0, 196.0, 136.0, 280.0];

fn scene(trials: usize) -> String {
    scene_of(trials, 30.0)
}

fn scene_of(trials: usize, live_fps: f64) -> String {
    format!(
        "seed = 77\nwindow_ms = 600\n[motion]\nmove_ms = 300\npause_ms = 850\nlead_ms = 400\n\
         [screen]\nrefresh_hz = 60\ncorners = [[190, 40], [470, 44], [474, 256], [188, 252]]\n\
         [live_view]\nlag_ms = 73.0\nfps = {live_fps:?}\n\
         [film]\nfps = 240\nsize = [512, 288]\ndirect_view = {DIRECT:?}\n\
         [container]\npreset = \"ultrafast\"\n{}",
        "[[trial]]\ndelay_ms = 60\ndrive_ms = 150\n".repeat(trials)
    )
}

fn time(text: &str, folder: &Path) -> (Truth, Clip) {
    let path = folder.join("amber-1.mp4");
    let scene = Scene::from_toml(text, "scene.toml").expect("a scene");
    let truth = render(&scene, folder, &path, |_, _| ()).expect("a clip");
    let rig = format!(
        "name = \"counter\"\n[screen]\ncorners = {:?}\nrefresh_hz = 60\n[stimulus]\n\
         kind = \"swing\"\nregion = {DIRECT:?}\n[trial]\nwindow_ms = 600\n",
        truth.screen.corners.expect("a screen")
    );
    let mut timing = timed::timed(&path, &rig, folder, 2);
    (truth, timing.clips.remove(0))
}

#[test]
fn a_target_seen_twice_tells_the_lag_and_latencies_are_corrected_by_it() {
    let folder = tempfile::tempdir().unwrap();
    let (truth, clip) = time(&scene(4), folder.path());
    let lag = clip.live_view_lag_ms.expect("a lag");
    let u = clip.live_view_lag_u_ms.expect("its uncertainty");
    // A frame is 4.2 ms; the aim is 3 ms.
    assert!((lag - truth.live_view_lag_ms).abs() < 3.0, "{lag} ± {u}");
    assert!(
        (lag - truth.live_view_lag_ms).abs() < 2.0 * u,
        "{lag} ± {u}"
    );
    assert_eq!(clip.screen.refresh_hz, Some(60.0));
    assert!((clip.screen.live_view_hz.expect("a slower live view") - 30.0).abs() < 0.2);
    // A picture is held for 33 ms: on average the world is half of that later.
    let mean = clip.live_view_mean_lag_ms.expect("a mean lag");
    assert!((mean - lag - 1000.0 / 60.0).abs() < 0.2, "{mean}");
    let hits: Vec<_> = clip
        .trials
        .iter()
        .filter(|t| t.verdict == Verdict::Hit)
        .collect();
    assert!(!hits.is_empty(), "{:?}", clip.trials);
    for t in hits {
        let (seen, fair) = (t.latency_ms.unwrap(), t.latency_corrected_ms.unwrap());
        assert!((seen - fair - lag).abs() < 1e-3, "{seen} {fair}");
        assert!(t.uncertainty_ms.unwrap() > u);
        assert_eq!(t.early, Some(false));
    }
}

/// 25 pictures on a screen of 60 Hz are held for 2 refreshes and for 3: the
/// changes keep the phase of the 60, and are not to be taken for 60 pictures.
#[test]
fn a_live_view_at_no_whole_fraction_of_the_refresh_tells_its_lag_and_rate() {
    let folder = tempfile::tempdir().unwrap();
    let (truth, clip) = time(&scene_of(4, 25.0), folder.path());
    let lag = clip.live_view_lag_ms.expect("a lag");
    let u = clip.live_view_lag_u_ms.expect("its uncertainty");
    let error = (lag - truth.live_view_lag_ms).abs();
    // Pictures wait for a refresh of 16.7 ms by chance; half of 40 ms would be
    // the error of the wrong rate.
    assert!(error < 5.0 && error < 2.0 * u, "{lag} ± {u}");
    assert!((clip.screen.live_view_hz.expect("a slower live view") - 25.0).abs() < 0.2);
    let wrong = clip.warnings.iter().find(|w| w.contains("correct the rig"));
    assert_eq!(wrong, None);
}

#[test]
fn one_swing_tells_no_lag_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let (_, clip) = time(&scene(1), folder.path());
    assert_eq!(clip.live_view_lag_ms, None);
    assert_eq!(clip.live_view_mean_lag_ms, None);
    let said = clip.warnings.iter().find(|w| w.contains("live-view lag"));
    assert!(
        said.is_some_and(|w| w.contains("3 are needed")),
        "{:?}",
        clip.warnings
    );
    for t in &clip.trials {
        assert_eq!((t.latency_corrected_ms, t.early), (None, None));
    }
}
