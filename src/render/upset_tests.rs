//! What upsets filming, seen in the film's own pixels.

use std::path::Path;

use super::film::Samples;
use super::light_tests::{amplitude, strongest};
use super::pixel_tests::{first, light, quiet, shoot};
use super::scene::{Drift, Glare, Grid, Overlay, Profile, Scene, Since, Texture};
use super::studio::Studio;
use super::{Truth, foresee};

const W: usize = 240;

/// Linear film; nothing moves for the first second.
fn still() -> Scene {
    let mut scene = quiet();
    scene.film.gamma = 1.0;
    scene.film.fps = 60.0;
    scene.motion.lead_ms = 1000.0;
    scene.motion.tail_ms = Some(0.0);
    scene
}

fn flat(mut scene: Scene) -> Scene {
    scene.far.texture = Texture::Flat;
    scene.far.mean = 0.5;
    scene.live_view.drift = Drift::default();
    scene
}

/// Mean and variance of a rectangle.
fn moments(luma: &[u8], x: std::ops::Range<usize>, y: std::ops::Range<usize>) -> (f64, f64) {
    let rows = y.flat_map(|y| luma[y * W..][x.clone()].iter());
    let values: Vec<f64> = rows.map(|v| light(*v)).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|v| (v - mean).powi(2));
    (mean, squares.sum::<f64>() / n)
}

fn screen(luma: &[u8]) -> (f64, f64) {
    moments(luma, 60..180, 45..135)
}

/// Mean squared difference of neighbours: sharpness.
fn gradient(luma: &[u8], x: std::ops::Range<usize>, y: std::ops::Range<usize>) -> f64 {
    y.flat_map(|y| x.clone().map(move |x| y * W + x))
        .map(|i| (light(luma[i + 1]) - light(luma[i])).powi(2))
        .sum()
}

/// A gain g changes mean and deviation alike: variance ÷ mean² stays.
#[test]
fn exposure_that_drifts_cancels_in_normalised_energy() {
    let drift = Drift {
        depth: 0.2,
        period_s: 1.0,
        ..Drift::default()
    };
    let mut film = still();
    film.film.drift = drift.clone();
    let mut live = still();
    live.live_view.drift = drift;
    for scene in [film, live] {
        let (_, frames) = shoot(&scene);
        let seen: Vec<_> = frames[..60].iter().map(|f| screen(&f.1)).collect();
        let spread = |v: Vec<f64>| {
            let high = v.iter().copied().fold(f64::MIN, f64::max);
            let low = v.iter().copied().fold(f64::MAX, f64::min);
            (high - low) / (high + low)
        };
        let mean = spread(seen.iter().map(|s| s.0).collect());
        assert!((mean - 0.2).abs() < 0.01, "{mean}");
        let energy = spread(seen.iter().map(|s| s.1 / s.0.powi(2)).collect());
        assert!(energy < 0.004, "{energy}");
    }
}

/// The gain follows the card with its time constant: e⁻¹ is left after it.
#[test]
fn exposure_steps_when_the_card_comes_in() {
    let mut scene = still();
    scene.motion.profile = Profile::Stop;
    scene.motion.tail_ms = Some(700.0);
    scene.film.drift.step = -0.4;
    scene.film.drift.step_ms = 100.0;
    let (truth, frames) = shoot(&scene);
    let onset = truth.trials[0].world.onset_s;
    let desk = |t: f64| {
        let f = frames.iter().find(|f| f.0 >= t - 1e-9).unwrap();
        (f.0, moments(&f.1, 0..W, 0..20).0)
    };
    let before = desk(onset - 0.1).1;
    let (t, after) = desk(onset + 0.1);
    let want = 1.0 - 0.4 * (1.0 - (-(t - onset) / 0.1).exp());
    assert!((after / before - want).abs() < 0.01, "{}", after / before);
}

/// Light added to light: the mean rises by it, the deviation stays.
#[test]
fn glare_adds_light_and_nothing_else() {
    let plain = first(&still());
    let mut scene = still();
    scene.glare = Glare {
        level: 0.15,
        area: [0.0, 0.0, 0.5, 1.0],
        soft: 0.02,
        ..Glare::default()
    };
    let glared = first(&scene);
    let parts = |luma: &[u8], x: std::ops::Range<usize>| moments(luma, x, 45..135);
    let (before, after) = (parts(&plain, 50..110), parts(&glared, 50..110));
    let more = after.0 - before.0;
    assert!((more - 0.15).abs() < 0.003, "{more}");
    assert!((after.1 / before.1 - 1.0).abs() < 0.02);
    assert_eq!(parts(&plain, 130..190), parts(&glared, 130..190));
}

/// Where the screen's left edge lies, px: light summed across it, from column
/// `from` on.
fn left_edge(luma: &[u8], y: usize, from: usize) -> f64 {
    let row = |x: usize| light(luma[y * W + x]);
    let (dark, bright) = (row(from), row(from + 16));
    let sum: f64 = (from..from + 17).map(row).sum();
    from as f64 + 17.0 - (sum - 17.0 * dark) / (bright - dark)
}

#[test]
fn a_knock_shifts_everything_by_fractions_of_a_pixel() {
    let mut scene = flat(still());
    scene.film.fps = 240.0;
    scene.film.bump.stay_px = [1.3, 0.0];
    scene.film.bump.decay_ms = 5.0;
    scene.film.bump.at_ms = -600.0;
    scene.screen.bezel_px = 14.0;
    let (truth, frames) = shoot(&scene);
    let knock = truth.trials[0].world.onset_s - 0.6;
    let at = |t: f64| &frames.iter().find(|f| f.0 >= t).unwrap().1;
    let (before, after) = (at(0.1), at(knock + 0.1));
    for y in [60, 90, 120] {
        let way = left_edge(after, y, 36) - left_edge(before, y, 36);
        assert!((way - 1.3).abs() < 0.03, "{y}: {way}");
    }
    assert!((left_edge(before, 90, 36) - 40.0).abs() < 0.03);
    let mut plain = still();
    plain.film.fps = 240.0;
    assert_eq!(truth.trials, foresee(&plain).unwrap().trials);
}

/// Shifted, the screen's edge lies there; zoomed and turned, the screen is as
/// wide as its corners say. What the live view shows is the same picture.
#[test]
fn another_framing_moves_the_screen_and_keeps_its_picture() {
    let plain = flat(still());
    let mut shifted = plain.clone();
    shifted.film.framing.shift_px = [6.25, -4.0];
    let (a, b) = (first(&plain), first(&shifted));
    for y in [60, 90, 120] {
        let at = left_edge(&b, y - 4, 42);
        assert!((at - left_edge(&a, y, 36) - 6.25).abs() < 0.05, "{at}");
    }
    let mut framed = still();
    framed.film.framing.zoom = 1.05;
    framed.film.framing.turn_deg = 1.5;
    let truth = foresee(&framed).unwrap();
    let [tl, tr, ..] = truth.screen.corners.unwrap();
    let top = [tr[0] - tl[0], tr[1] - tl[1]];
    assert!((top[0].hypot(top[1]) - 160.0 * 1.05).abs() < 1e-9);
    assert!((top[1] / top[0] - 1.5_f64.to_radians().tan()).abs() < 1e-9);
    assert_eq!(truth.trials, foresee(&still()).unwrap().trials);
    // The same places of the screen show the same.
    let seen = [&still(), &framed].map(|s| screen_values(&first(s), s));
    let n = seen[0].len() as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let m = [mean(&seen[0]), mean(&seen[1])];
    let cross = |i: usize, k: usize| {
        let both = seen[i].iter().zip(&seen[k]);
        both.map(|(a, b)| (a - m[i]) * (b - m[k])).sum::<f64>()
    };
    let r = cross(0, 1) / (cross(0, 0) * cross(1, 1)).sqrt();
    assert!(r > 0.98, "{r}");
}

/// The film at places of the screen, between its pixels.
fn screen_values(luma: &[u8], scene: &Scene) -> Vec<f64> {
    use crate::geometry::{Homography, Point, Quad, UprightPx, whole_screen};
    let corners = foresee(scene).unwrap().screen.corners.unwrap();
    let quad: Quad<UprightPx> = Quad::new(corners.map(|[x, y]| Point::new(x, y)));
    let map = Homography::between(&whole_screen(), &quad).unwrap();
    let places = (0..80).flat_map(|j| (0..80).map(move |i| (i, j)));
    places
        .map(|(i, j)| {
            let at = |k: i32| 0.1 + f64::from(k) / 100.0;
            let p = map.apply(Point::new(at(i), at(j)));
            let (x, y) = (p.x - 0.5, p.y - 0.5);
            let (fx, fy) = (x.fract(), y.fract());
            let v = |dx: usize, dy: usize| light(luma[(y as usize + dy) * W + x as usize + dx]);
            (1.0 - fy) * ((1.0 - fx) * v(0, 0) + fx * v(1, 0))
                + fy * ((1.0 - fx) * v(0, 1) + fx * v(1, 1))
        })
        .collect()
}

/// Sub-pixel movement alone changes no sharpness.
#[test]
fn a_tremor_leaves_the_sharpness_alone() {
    let mut scene = still();
    scene.film.tremor.px = 0.7;
    scene.film.tremor.hz = 3.0;
    let (_, frames) = shoot(&scene);
    let of = |luma: &[u8]| gradient(luma, 44..196, 34..146) / screen(luma).0.powi(2);
    let energy: Vec<f64> = frames[..60].iter().map(|f| of(&f.1)).collect();
    let mean = energy.iter().sum::<f64>() / 60.0;
    let off = energy.iter().map(|e| (e / mean - 1.0).abs());
    assert!(off.clone().fold(0.0, f64::max) < 0.04, "{energy:?}");
}

#[test]
fn a_filming_camera_that_refocuses_blurs_bezel_and_screen() {
    let mut scene = still();
    scene.film.refocus.blur_px = 5.0;
    scene.film.refocus.at_ms = -700.0;
    scene.film.refocus.for_ms = 400.0;
    let (truth, frames) = shoot(&scene);
    let begin = truth.trials[0].world.onset_s - 0.7;
    let at = |t: f64| &frames.iter().find(|f| f.0 >= t).unwrap().1;
    let (before, during, after) = (at(begin - 0.1), at(begin + 0.2), at(begin + 0.45));
    for x in [20..60, 60..180] {
        let sharp = |luma: &[u8]| gradient(luma, x.clone(), 45..135);
        assert!(sharp(during) < 0.5 * sharp(before), "{x:?}");
        assert!((sharp(after) / sharp(before) - 1.0).abs() < 0.01);
    }
}

/// 130 columns on 160 film pixels: 0.8125 cycles per pixel, seen at
/// |0.8125 − 1| = 0.1875 (the sampling theorem).
#[test]
fn the_screens_pixels_fold_into_moire() {
    let mut scene = flat(still());
    scene.screen.grid = Grid {
        pixels: [130, 2000],
        ..Grid::default()
    };
    let luma = first(&scene);
    let row: Vec<f64> = (42..138).map(|x| light(luma[90 * W + x])).collect();
    let mean = row.iter().sum::<f64>() / row.len() as f64;
    let best = strongest(&row, 1.0, 1..=499, 1e-3);
    assert!((best - 0.1875).abs() < 0.002, "{best}");
    // 2·sinc(0.7) of the grid, sinc(f) of the film's pixel, its blur.
    let sinc = |x: f64| (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x);
    let blur = (-2.0 * (std::f64::consts::PI * 0.3 * 0.8125).powi(2)).exp();
    let want = 2.0 * sinc(0.7) * sinc(0.8125) * blur;
    let power = amplitude(&row, 1.0, best) / mean;
    assert!((power / want.abs() - 1.0).abs() < 0.05, "{power} {want}");
}

/// The middle of a rectangle in perspective is where its diagonals cross.
#[test]
fn perspective_keeps_the_crossing_of_the_diagonals() {
    let corners = [[30.0, 40.0], [205.0, 20.0], [190.0, 165.0], [45.0, 130.0]];
    let mut scene = flat(still());
    scene.screen.corners = Some(corners);
    let plain = first(&scene);
    scene.overlays = vec![Overlay {
        shape: super::scene::Shape::Fill,
        area: [0.47, 0.47, 0.53, 0.53],
        ..Overlay::default()
    }];
    let marked = first(&scene);
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for (i, (a, b)) in marked.iter().zip(&plain).enumerate() {
        let d = light(*a) - light(*b);
        sum += d;
        x += d * ((i % W) as f64 + 0.5);
        y += d * ((i / W) as f64 + 0.5);
    }
    let [a, b, c, d] = corners;
    let cross = |p: [f64; 2], q: [f64; 2]| p[0] * q[1] - p[1] * q[0];
    let (ac, bd) = ([c[0] - a[0], c[1] - a[1]], [d[0] - b[0], d[1] - b[1]]);
    let s = cross([b[0] - a[0], b[1] - a[1]], bd) / cross(ac, bd);
    let want = [a[0] + s * ac[0], a[1] + s * ac[1]];
    for (got, want) in [x / sum, y / sum].into_iter().zip(want) {
        assert!((got - want).abs() < 0.25, "{got} {want}");
    }
}

fn with_chroma(scene: &Scene) -> (Truth, Vec<(f64, bool, f32)>) {
    let studio = Studio::new(scene, Path::new(".")).unwrap();
    let mut frames = Vec::new();
    studio
        .shoot(|t, frame| {
            let chroma = frame.chroma.unwrap_or_default();
            let most = chroma[0].iter().fold(0.0_f32, |a, v| a.min(*v));
            frames.push((t, !chroma[0].is_empty(), most));
            assert!(matches!(frame.luma, Samples::Eight(_)));
            Ok::<(), ()>(())
        })
        .unwrap();
    (studio.truth(), frames)
}

/// A grey box that turns green: the film is grey until it does.
#[test]
fn a_focus_box_changes_colour_when_the_truth_says() {
    let mut scene = quiet();
    scene.overlays = vec![Overlay {
        name: Some("box".into()),
        since: Since::Onset,
        at_ms: 0.0,
        then_color: Some([0.1, 0.9, 0.1]),
        then_ms: 120.0,
        ..Overlay::default()
    }];
    let (truth, frames) = with_chroma(&scene);
    let cue = &truth.trials[0].cues[0];
    assert!((cue.shown_s - truth.trials[0].onset_s).abs() < 1e-9);
    let turned = frames.iter().find(|f| f.1).unwrap();
    let want = ((cue.shown_s + 0.12 - 0.003) * 60.0 - 1e-6).ceil() / 60.0 + 0.003;
    let late = turned.0 - want;
    assert!((0.0..1.0 / 240.0 + 1e-3).contains(&late), "{late}");
    // Cb of that green (BT.709): (0.1 − 0.672) ÷ 1.8556 = −0.308, on a line
    // less than a chroma sample wide here.
    assert!(frames.iter().any(|f| f.2 < -0.05));
    assert!(frames.iter().all(|f| f.2 > -0.32));
}

#[test]
fn the_truth_is_deaf_to_all_of_it() {
    let plain = foresee(&quiet()).unwrap();
    let mut scene = quiet();
    scene.film.drift.depth = 0.2;
    scene.live_view.drift.step = 0.3;
    scene.glare.level = 0.3;
    scene.film.tremor.px = 2.0;
    scene.film.bump.px = [4.0, 4.0];
    scene.film.refocus.blur_px = 6.0;
    scene.screen.grid.pixels = [640, 480];
    scene.overlays = vec![Overlay::default()];
    assert_eq!(plain, foresee(&scene).unwrap());
}
