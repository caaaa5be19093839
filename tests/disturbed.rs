//! Films with a known disturbance, rendered, and timed by the whole tool.

// Helpers of tests may stop the test.
#![allow(clippy::expect_used, clippy::panic)]

#[path = "support/pair.rs"]
mod pair;
#[path = "support/timed.rs"]
mod timed;

use focuslag::render::{Scene, Truth, render};
use focuslag::store::schema::{Clip, Verdict};

/// Renders a small scene of three hits and times it.
fn timed_by(extra: &str, screen: &str) -> (Truth, Clip) {
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
    let rig = format!(
        "name = \"r\"\n[screen]\ncorners = {corners:?}\n{screen}[stimulus]\nkind = \"swing\"\n"
    );
    let timing = timed::timed(&path, &rig, dir.path(), 2);
    (truth, timing.clips[0].clone())
}

fn timed(more: &str) -> (Truth, Clip) {
    timed_by(more, "")
}

/// Every trial is a hit that settled where the truth says at the δ that the film
/// allows ([`pair::agrees`]).
fn agrees(truth: &Truth, clip: &Clip) {
    assert_eq!(clip.trials.len(), truth.trials.len());
    let unit = 1.0 / truth.refresh_hz + 1.0 / truth.capture_fps;
    for (k, found) in clip.trials.iter().enumerate() {
        assert_eq!(found.verdict, Verdict::Hit, "{found:?}");
        let pair = truth
            .settled(k, found.delta_permille.expect("δ"))
            .expect("a settle")
            .pair;
        let got = found.settle_s.expect("a hit");
        assert!(pair::agrees(pair, got, unit), "{pair:?} {got}");
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

/// A backlight switched 240.05 times a second, filmed 240 times: a dark band
/// that creeps through the picture in 20 seconds.
#[test]
fn a_band_that_hardly_moves_voids_the_trials() {
    let (truth, clip) = timed("exposure_ms = 0.5\n[screen.pwm]\nhz = 240.05\nduty = 0.65\n");
    assert!(truth.trials.len() == 3 && !clip.trials.is_empty());
    for t in &clip.trials {
        assert_eq!(t.verdict, Verdict::Void, "{t:?}");
    }
    let said = clip
        .warnings
        .iter()
        .any(|w| w.contains("blur cannot be told"));
    assert!(said, "{:?}", clip.warnings);
}

#[test]
fn a_box_drawn_once_focus_is_claimed_is_left_out_where_it_is_masked() {
    let drawn = "[[overlay]]\nsince = \"settle\"\nat_ms = 120\narea = [0.42, 0.38, 0.60, 0.60]\n";
    let masks = "masks = [[0.41, 0.36, 0.61, 0.40], [0.41, 0.58, 0.61, 0.62], \
                 [0.41, 0.36, 0.44, 0.62], [0.58, 0.36, 0.62, 0.62]]\n";
    let (truth, clip) = timed_by(drawn, masks);
    settles_within_u(&truth, &clip);
}

/// A film with less of the area left tells less, and says so.
fn settles_within_u(truth: &Truth, clip: &Clip) {
    assert_eq!(clip.trials.len(), truth.trials.len());
    for (found, known) in clip.trials.iter().zip(&truth.trials) {
        assert_eq!(found.verdict, Verdict::Hit, "{found:?}");
        let off = 1e3 * (found.settle_s.expect("a hit") - known.crossing_s.expect("a hit"));
        // 21 ms: one refresh and one frame.
        assert!(
            off.abs() < 21.0 + 2.0 * found.uncertainty_ms.expect("u"),
            "{off} {found:?}"
        );
    }
}

/// A box that comes up while the picture is blurred looks like focus. The trials
/// are void, and the masks that the warning proposes mend them.
#[test]
fn a_box_drawn_over_a_blurred_picture_is_told_with_the_masks_that_mend_it() {
    let drawn = "[[overlay]]\nsince = \"onset\"\nat_ms = 60\narea = [0.42, 0.38, 0.60, 0.60]\n";
    let (_, clip) = timed(drawn);
    for found in &clip.trials {
        assert_eq!(found.verdict, Verdict::Void, "{found:?}");
        assert_eq!(found.reason.as_deref(), Some("cannot tell"));
    }
    let said = clip.warnings.iter().find(|w| w.contains("graphics"));
    let masks = said.and_then(|w| w.split_once("`screen.masks = ")?.1.split_once('`'));
    let masks = format!("masks = {}\n", masks.expect("masks in the warning").0);
    let (truth, clip) = timed_by(drawn, &masks);
    settles_within_u(&truth, &clip);
    assert!(!clip.warnings.iter().any(|w| w.contains("graphics")));
}

/// A free pendulum moves while focus is judged, and the live view smears it. By
/// all of its sharpness the near side settles 10 updates late in this film.
#[test]
fn a_smeared_target_is_not_taken_for_defocus() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = "seed = 5\nat = \"cover\"\nwindow_ms = 500\n\
         [live_view]\nexposure_ms = 16\n\
         [motion]\nmove_ms = 1600\npause_ms = 0\npause_jitter_ms = 0\n\
         [[trial]]\ndrive_ms = 150\n[[trial]]\ndrive_ms = 200\n[[trial]]\ndrive_ms = 150\n\
         [screen]\nrefresh_hz = 60\ncorners = [[30, 24], [590, 26], [592, 446], [28, 444]]\n\
         [film]\nfps = 120\nsize = [620, 470]\n";
    let scene = Scene::from_toml(text, "pendulum.toml").expect("a scene");
    let path = dir.path().join("pendulum.mp4");
    let truth = render(&scene, dir.path(), &path, |_, _| ()).expect("a clip");
    let corners = truth.screen.corners.expect("a screen");
    let rig = format!(
        "name = \"r\"\n[screen]\ncorners = {corners:?}\n[stimulus]\nkind = \"swing\"\n\
         at = \"cover\"\n[trial]\nwindow_ms = 500\n"
    );
    let timing = timed::timed(&path, &rig, dir.path(), 2);
    let found = &timing.clips[0].trials;
    assert_eq!(found.len(), truth.trials.len());
    for (t, found) in truth.trials.iter().zip(found) {
        assert_eq!(found.verdict, Verdict::Hit, "{found:?}");
        let (pair, got) = (t.settle_s.expect("a hit"), found.settle_s.expect("a hit"));
        let late = (got - pair[1]) * truth.refresh_hz;
        println!("{:?} {late:.1} updates late", found.side);
        assert!(
            late < 5.5 && got > pair[0] - 1.5 / truth.refresh_hz,
            "{pair:?} {got}"
        );
    }
}
