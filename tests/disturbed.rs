//! Films with a known disturbance, rendered, and timed by the whole tool.

// Helpers of tests may stop the test.
#![allow(clippy::expect_used, clippy::panic)]

#[path = "support/timed.rs"]
mod timed;

use focuslag::render::{Scene, Truth, render};
use focuslag::store::schema::{Clip, Verdict};

/// Renders a small scene of three hits and times it.
fn timed(extra: &str) -> (Truth, Clip) {
    let dir = tempfile::tempdir().expect("a folder");
    let text = format!(
        "seed = 7\n[motion]\nmove_ms = 250\npause_ms = 1750\n\
         [[trial]]\ndrive_ms = 180\n[[trial]]\ndrive_ms = 300\n[[trial]]\ndrive_ms = 120\n\
         [screen]\nrefresh_hz = 60\ncorners = [[20, 14], [380, 16], [382, 294], [18, 292]]\n\
         [film]\nfps = 240\nsize = [400, 310]\nreadout_ms = 3.5\n{extra}"
    );
    let scene = Scene::from_toml(&text, "small.toml").expect("a scene");
    let path = dir.path().join("small.mp4");
    let truth = render(&scene, dir.path(), &path, |_, _| ()).expect("a clip");
    let corners = truth.screen.corners.expect("a screen");
    let rig =
        format!("name = \"r\"\n[screen]\ncorners = {corners:?}\n[stimulus]\nkind = \"swing\"\n");
    let timing = timed::timed(&path, &rig, dir.path(), 2);
    (truth, timing.clips[0].clone())
}

/// Every trial is a hit that settled where the truth says, to within a refresh
/// and a frame and what the tool states as its own uncertainty: these screens are
/// small, and what compression gives back late it cannot tell from blur.
fn agrees(truth: &Truth, clip: &Clip) {
    assert_eq!(clip.trials.len(), truth.trials.len());
    let unit = 1.0 / truth.refresh_hz + 1.0 / truth.capture_fps;
    for (t, found) in truth.trials.iter().zip(&clip.trials) {
        assert_eq!(found.verdict, Verdict::Hit, "{found:?}");
        let u = found.uncertainty_ms.expect("a hit") / 1e3;
        let (pair, got) = (t.settle_s.expect("a hit"), found.settle_s.expect("a hit"));
        assert!(
            got > pair[0] - unit - 2.0 * u && got < pair[1] + unit + 2.0 * u,
            "{pair:?} {got} {u}"
        );
    }
}

#[test]
fn nothing_is_found_in_a_clean_film() {
    let (truth, clip) = timed("");
    agrees(&truth, &clip);
    assert_eq!(clip.hygiene, None);
}

#[test]
fn a_flickering_screen_is_named_and_checks_the_rate() {
    let (truth, clip) = timed("[screen.flicker]\nhz = 100\ndepth = 0.3\n");
    agrees(&truth, &clip);
    let found = clip.hygiene.and_then(|h| h.flicker).expect("flicker");
    // 100 Hz at 240 frames per second stays 100 Hz (Nyquist).
    assert!(
        (found.seen_hz.expect("a line") - 100.0).abs() < 0.2,
        "{found:?}"
    );
    assert_eq!(found.confirms_capture_fps, Some(true));
    assert!(clip.warnings.iter().any(|w| w.contains("flickers")));
}

#[test]
fn a_box_drawn_once_focus_is_claimed_makes_no_verdict_wrong() {
    let (truth, clip) =
        timed("[[overlay]]\nsince = \"settle\"\nat_ms = 120\narea = [0.42, 0.38, 0.60, 0.60]\n");
    // It is not left out, so it may delay the settle; graphics are to be masked.
    assert_eq!(clip.trials.len(), truth.trials.len());
    for found in &clip.trials {
        assert_eq!(found.verdict, Verdict::Hit, "{found:?}");
    }
}
