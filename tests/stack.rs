//! Photographs of one subject at known lens positions, played as trials: the
//! positions come from the names, the truth from the positions.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "support/timed.rs"]
mod timed;

use std::path::Path;

use focuslag::render::{Scene, Verdict as True, render};
use focuslag::store::schema::Verdict;
use image::{GrayImage, Luma};
use imageproc::filter::gaussian_blur_f32;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Positions, whole units; 0 is in focus.
const POSITIONS: std::ops::RangeInclusive<i32> = -8..=8;
/// Standard deviation of the blur per unit, px.
const SIGMA_PX: f32 = 0.5;

/// Overlapping discs of all sizes, each photograph blurred by its position.
fn photographs(folder: &Path) {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut sharp = GrayImage::from_pixel(400, 300, Luma([110]));
    for _ in 0..1400 {
        let at = (rng.random_range(0..400), rng.random_range(0..300));
        let grey = Luma([rng.random_range(40..190u8)]);
        imageproc::drawing::draw_filled_circle_mut(&mut sharp, at, rng.random_range(2..14), grey);
    }
    for z in POSITIONS {
        let picture = match z.unsigned_abs() {
            0 => sharp.clone(),
            away => gaussian_blur_f32(&sharp, SIGMA_PX * away as f32),
        };
        picture
            .save(folder.join(format!("rail_z{z:+}.png")))
            .unwrap();
    }
}

/// A Gaussian of σ spreads as far as a disc of 4 σ (both have variance σ²
/// along a line), so a unit is 2 px.
const SCENE: &str = "seed = 5\nstimulus = \"light\"\nwindow_ms = 1000\n\
    [stack]\nfolder = \".\"\nmarker = \"z\"\nfocus = 0\nstart = 7\npx_per_unit = 2.0\n\
    [light]\ncenter = [30, 270]\nradius = 8\non_ms = 1400\noff_ms = 700\n\
    [screen]\nrefresh_hz = 60\ncorners = [[20, 14], [380, 16], [382, 254], [18, 252]]\n\
    [film]\nfps = 240\nsize = [400, 290]\n\
    [container]\npreset = \"ultrafast\"\n\
    [[trial]]\ndrive_ms = 200\n\
    [[trial]]\ndrive_ms = 200\novershoot_permille = 3\n\
    [[trial]]\noutcome = \"soft\"\nresidual_permille = 3\n\
    [[trial]]\noutcome = \"never moved\"\n\
    [[trial]]\noutcome = \"hunted on\"\nhunt_permille = 4\n";

#[test]
fn a_stack_played_is_timed_as_its_positions_say() {
    let dir = tempfile::tempdir().unwrap();
    photographs(dir.path());
    let scene = Scene::from_toml(SCENE, "stack.toml").expect("a scene");
    let clip = dir.path().join("stack.mp4");
    let truth = render(&scene, dir.path(), &clip, |_, _| ()).expect("a clip");
    let corners = truth.screen.corners.expect("a screen");
    let rig = format!(
        "name = \"rail\"\n[screen]\ncorners = {corners:?}\nrefresh_hz = 60\n\
         [stimulus]\nkind = \"light\"\nregion = [24, 264, 36, 276]\n[trial]\nwindow_ms = 1000\n"
    );
    let timing = timed::timed(&clip, &rig, dir.path(), 2);
    let found = &timing.clips[0].trials;
    let ends = [
        (True::Hit, Verdict::Hit),
        (True::Hit, Verdict::Hit),
        (True::Soft, Verdict::Soft),
        (True::Lost, Verdict::Lost),
        (True::Lost, Verdict::Lost),
    ];
    assert_eq!(found.len(), ends.len());
    let unit = 1.0 / truth.refresh_hz + 1.0 / truth.capture_fps;
    for ((t, f), (was, is)) in truth.trials.iter().zip(found).zip(ends) {
        assert_eq!((t.verdict, f.verdict), (was, is), "{f:?}");
        if let (Some(pair), Verdict::Hit, Some(got)) = (t.settle_s, f.verdict, f.settle_s) {
            assert!(
                got > pair[0] - unit && got < pair[1] + unit,
                "{pair:?} {got}"
            );
        }
        let position = t.position.as_ref().expect("a position");
        assert!((position.focus - 0.0).abs() < 1e-9 && (position.onset - 7.0).abs() < 1e-9);
    }
}
