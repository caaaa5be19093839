//! The pixels say what the truth says: films without noise, before they are
//! encoded.

use std::path::Path;

use super::film::Samples;
use super::scene::{Profile, Scene, Stimulus, Trial};
use super::studio::Studio;
use super::truth::Truth;

/// A small film of 240 fps without noise. Refreshes at k/60 s; exposures of 1 ms.
pub(super) fn quiet() -> Scene {
    let mut scene = Scene::default();
    (scene.film.size, scene.film.exposure_ms) = ([240, 180], 1.0);
    (scene.film.read_noise, scene.film.full_well) = (0.0, 0.0);
    (scene.screen.phase_ms, scene.screen.bezel_px) = (Some(3.0), 6.0);
    scene.screen.corners = Some([[40., 30.], [200., 30.], [200., 150.], [40., 150.]]);
    scene.live_view.lag_ms = 55.0;
    (scene.motion.profile, scene.motion.move_ms) = (Profile::Stop, 200.0);
    (scene.motion.lead_ms, scene.motion.tail_ms) = (300.0, Some(700.0));
    (scene.lens.delay_ms, scene.lens.drive_ms) = (150.0, 150.0);
    scene.trials = vec![Trial::default()];
    scene
}

pub(super) fn shoot(scene: &Scene) -> (Truth, Vec<(f64, Vec<u8>)>) {
    let studio = Studio::new(scene, Path::new(".")).unwrap();
    let mut frames = Vec::new();
    studio
        .shoot(|t, frame| {
            if let Samples::Eight(luma) = frame.luma {
                frames.push((t, luma));
            }
            Ok::<(), ()>(())
        })
        .unwrap();
    (studio.truth(), frames)
}

/// The first frame.
pub(super) fn first(scene: &Scene) -> Vec<u8> {
    shoot(scene).1.swap_remove(0).1
}

/// Linear luminance of an 8-bit sample in limited range, where γ is 1.
pub(super) fn light(v: u8) -> f64 {
    (f64::from(v) - 16.0) / 219.0
}

/// Stamps of the frames that differ from the one before.
fn changes(frames: &[(f64, Vec<u8>)]) -> Vec<f64> {
    let pairs = frames.windows(2).filter(|w| w[0].1 != w[1].1);
    pairs.map(|w| w[1].0).collect()
}

/// Pictures change only in the frames whose exposure touches an update, or in
/// the one right after it.
#[test]
fn the_film_changes_only_where_the_screen_does() {
    let (truth, frames) = shoot(&quiet());
    let changes = changes(&frames);
    assert!(changes.len() > 20);
    for t in &changes {
        let near = truth.updates.iter().map(|u| t - u.shown_s);
        let near = near.filter(|d| *d > -0.0005 - 1e-9);
        let after = near.fold(f64::MAX, f64::min);
        assert!(after < 0.0005 + 1.0 / 240.0 + 1e-9, "{t}: {after}");
    }
}

/// The card starts at 0.3 s and stops at 0.5 s; the lens moves from 0.65 s to
/// 0.8 s; all is seen 55 ms later at the next refresh (3 ms + k/60), and in
/// the first frame whose exposure (stamp ± 0.5 ms) has seen it.
#[test]
fn motion_and_focus_begin_and_end_on_film_when_they_should() {
    let (truth, frames) = shoot(&quiet());
    let refresh = |t: f64| ((t + 0.055 - 0.003) * 60.0).ceil() / 60.0 + 0.003;
    let film = |t: f64| ((t - 0.0005) * 240.0).ceil() / 240.0;
    let changes = changes(&frames);
    let first = film(refresh(0.3));
    // A live-view exposure of 8 ms: a picture taken 4 ms early sees the start.
    let seen = changes[0];
    assert!((seen - first).abs() < 1.0 / 60.0 + 1e-9, "{seen} {first}");
    let still = |from: f64, to: f64| !changes.iter().any(|t| *t > from && *t < to);
    let (stop, go, end) = (film(refresh(0.5)), film(refresh(0.65)), film(refresh(0.8)));
    // Nothing moves from one refresh after the stop till the lens starts, and
    // nothing after it has arrived (at 0.8 s the blur is exactly 0).
    assert!(still(stop + 1.0 / 60.0, go - 1e-9));
    assert!(still(end + 1.0 / 240.0 + 1e-9, 9.0));
    assert!(!still(end - 2.0 / 60.0, end + 1e-9));
    let trial = &truth.trials[0];
    assert!((trial.onset_s - refresh(0.5)).abs() < 1e-9);
    // The film ends before the window does.
    assert_eq!(trial.reason, Some("cut"));
    assert!(trial.would_be.settle_s.unwrap()[1] <= refresh(0.8) + 1e-9);
}

/// Half of the exposure after the update: the frame is halfway between.
#[test]
fn a_frame_across_an_update_is_a_blend() {
    let mut scene = quiet();
    scene.film.exposure_ms = 4.0;
    scene.film.gamma = 1.0;
    // An update falls on every fourth stamp: half before, half after.
    scene.screen.phase_ms = Some(0.0);
    let (_, frames) = shoot(&scene);
    let k = frames.iter().position(|f| (f.0 - 0.45).abs() < 1e-6);
    let k = k.unwrap();
    let [before, mixed, after] = [k - 1, k, k + 1].map(|i| &frames[i].1);
    assert!(before != after);
    for ((a, m), b) in before.iter().zip(mixed).zip(after) {
        let middle = f64::midpoint(f64::from(*a), f64::from(*b));
        assert!((f64::from(*m) - middle).abs() <= 1.0);
    }
}

/// Rows are refreshed one after the other: the top changes before the bottom.
#[test]
fn a_scanned_out_screen_changes_from_top_to_bottom() {
    let mut scene = quiet();
    scene.screen.scan_out_ms = 14.0;
    let (_, frames) = shoot(&scene);
    let rows = |top: usize| {
        let part = |f: &(f64, Vec<u8>)| f.1[top * 240..(top + 12) * 240].to_vec();
        let strips: Vec<_> = frames.iter().map(|f| (f.0, part(f))).collect();
        changes(&strips)[0]
    };
    // The focus of the whole view changes at one time in the world; 85 of 120
    // rows further down it is seen 10 ms later: two or three frames.
    let frames_late = 240.0 * (rows(125) - rows(40));
    assert!((1.9..3.1).contains(&frames_late), "{frames_late}");
}

#[test]
fn a_light_goes_on_in_the_frame_that_sees_it() {
    let mut scene = quiet();
    scene.stimulus = Stimulus::Light;
    scene.light.center = [15.0, 15.0];
    scene.light.radius = 6.0;
    scene.motion.lead_ms = 301.0;
    let (truth, frames) = shoot(&scene);
    assert!((truth.trials[0].onset_s - 0.301).abs() < 1e-12);
    let lamp = |f: &(f64, Vec<u8>)| f.1[15 * 240 + 15];
    let lit = frames.iter().find(|f| lamp(f) > 120).unwrap();
    // 0.301 s × 240 = 72.24: frame 73 is the first to see it.
    assert!((lit.0 - 73.0 / 240.0).abs() < 1e-9);
}

#[test]
fn the_direct_view_is_sharp_and_not_late() {
    let mut scene = quiet();
    scene.film.direct_view = Some([0.0, 152.0, 100.0, 180.0]);
    let (truth, frames) = shoot(&scene);
    let strips = frames.iter().map(|f| (f.0, f.1[153 * 240..].to_vec()));
    let strips: Vec<_> = strips.collect();
    let changes = changes(&strips);
    // It falls from 0.3 s (slowly at first) to 0.5 s, with no lag.
    assert!((0.3..0.325).contains(&changes[0]), "{}", changes[0]);
    let last = changes[changes.len() - 1];
    assert!((last - 0.5).abs() < 1.0 / 240.0 + 0.0005, "{last}");
    assert!((truth.trials[0].direct_onset_s.unwrap() - 0.5).abs() < 1e-9);
}

/// Standard deviation of repeated frames: read noise and shot noise, carried
/// by the tone curve (γ = 1: the identity but for its scale, 219 steps).
#[test]
fn noise_is_as_strong_as_asked_for() {
    let mut scene = quiet();
    scene.film.gamma = 1.0;
    scene.film.read_noise = 0.01;
    scene.film.full_well = 1000.0;
    let (_, frames) = shoot(&scene);
    let still: Vec<_> = frames.iter().take(60).map(|f| &f.1).collect();
    let (mut sum, mut n) = (0.0, 0.0);
    for i in (60 * 240 + 60..60 * 240 + 180).chain(100 * 240 + 60..100 * 240 + 180) {
        let values = still.iter().map(|f| f64::from(f[i]));
        let mean = values.clone().sum::<f64>() / 60.0;
        let var = values.map(|v| (v - mean).powi(2)).sum::<f64>() / 59.0;
        let light = (mean - 16.0) / 219.0;
        let want = 219.0 * 219.0 * (1e-4 + light / 1000.0) + 1.0 / 12.0;
        sum += var / want;
        n += 1.0;
    }
    assert!((sum / n - 1.0).abs() < 0.05, "{}", sum / n);
}

/// Clips of one rig show the same card, whatever the lens does.
#[test]
fn clips_with_one_look_start_with_the_same_picture() {
    let begin = |seed: u64, overshoot: f64| {
        let mut scene = quiet();
        scene.seed = seed;
        scene.look_seed = Some(77);
        scene.lens.overshoot_permille = overshoot;
        first(&scene)
    };
    assert!(begin(1, 0.0) == begin(2, 12.0));
}
