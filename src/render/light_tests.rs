//! Light that is not steady, against the textbook: what a sampled flicker
//! looks like, how many bands a rolling shutter shows, what an exposure
//! averages.

use super::foresee;
use super::pixel_tests::{first, light, quiet, shoot};
use super::scene::{Flicker, Scene};

/// Linear film of a screen that shows the same all the time.
fn still() -> Scene {
    let mut scene = quiet();
    scene.film.gamma = 1.0;
    scene.motion.lead_ms = 1000.0;
    scene.motion.tail_ms = Some(0.0);
    scene.live_view.fps = Some(10.0);
    scene
}

/// Mean luminance of columns `x` of row `y`.
fn row(luma: &[u8], y: usize, x: std::ops::Range<usize>) -> f64 {
    let n = x.len() as f64;
    let part = &luma[y * 240..][x];
    part.iter().map(|v| light(*v)).sum::<f64>() / n
}

/// Of the screen's rows, one by one.
fn ratio(luma: &[u8], steady: &[u8]) -> Vec<f64> {
    let of = |luma, y| row(luma, y, 50..190);
    (34..146).map(|y| of(luma, y) / of(steady, y)).collect()
}

fn desk(luma: &[u8]) -> f64 {
    (0..20).map(|y| row(luma, y, 0..240)).sum::<f64>() / 20.0
}

/// Amplitude of a frequency in a signal sampled at `step`.
pub(super) fn amplitude(signal: &[f64], step: f64, hz: f64) -> f64 {
    let mean = signal.iter().sum::<f64>() / signal.len() as f64;
    let (mut c, mut s) = (0.0, 0.0);
    for (k, v) in signal.iter().enumerate() {
        let angle = std::f64::consts::TAU * hz * k as f64 * step;
        c += (v - mean) * angle.cos();
        s += (v - mean) * angle.sin();
    }
    2.0 * c.hypot(s) / signal.len() as f64
}

/// Of the frequencies in `range`, counted in `unit`, the one with most amplitude.
pub(super) fn strongest(
    signal: &[f64],
    step: f64,
    range: std::ops::RangeInclusive<usize>,
    unit: f64,
) -> f64 {
    let of = |hz: &f64| amplitude(signal, step, *hz);
    let all = range.map(|k| k as f64 * unit);
    all.max_by(|a, b| of(a).total_cmp(&of(b))).unwrap_or(0.0)
}

/// Sampled at fs, a flicker of f is seen at |f − k·fs|, k the nearest whole
/// number (the sampling theorem: Shannon 1949; any textbook).
#[test]
fn a_mains_flicker_is_seen_at_its_alias() {
    for (fps, hz, want) in [
        (240.0, 100.0, 100.0),
        (120.0, 100.0, 20.0),
        (60.0, 100.0, 20.0),
        (50.0, 120.0, 20.0),
        (480.0, 120.0, 120.0),
    ] {
        let mut scene = still();
        scene.film.fps = fps;
        scene.lamp = Flicker { hz, depth: 0.3 };
        let (_, frames) = shoot(&scene);
        let n = fps as usize;
        let signal: Vec<f64> = frames[..n].iter().map(|f| desk(&f.1)).collect();
        let seen = strongest(&signal, 1.0 / fps, 1..=n / 2, 1.0);
        assert!((seen - want).abs() < 1e-9, "{hz} Hz at {fps} fps: {seen}");
    }
}

/// An exposure of length T passes sin(πfT)/(πfT) of a flicker's depth.
#[test]
fn an_exposure_averages_the_flicker() {
    let mut scene = still();
    (scene.lamp.hz, scene.lamp.depth) = (100.0, 0.4);
    scene.film.exposure_ms = 4.0;
    let (_, frames) = shoot(&scene);
    let signal: Vec<f64> = frames[..240].iter().map(|f| desk(&f.1)).collect();
    let mean = signal.iter().sum::<f64>() / 240.0;
    let x = std::f64::consts::PI * 0.4;
    let got = amplitude(&signal, 1.0 / 240.0, 100.0) / mean;
    assert!((got - 0.4 * x.sin() / x).abs() < 0.005, "{got}");
}

/// Row y of a frame is exposed readout·y/h later: f × readout bands a frame.
#[test]
fn a_rolling_shutter_shows_frequency_times_readout_bands() {
    let mut scene = still();
    scene.film.readout_ms = 4.0;
    scene.film.exposure_ms = 0.2;
    let steady = first(&scene);
    for hz in [500.0, 1000.0, 1750.0] {
        scene.screen.flicker = Flicker { hz, depth: 0.5 };
        let banded = first(&scene);
        let ratio = ratio(&banded, &steady);
        let bands = strongest(&ratio, 1.0 / 180.0, 2..=100, 0.1);
        let want = hz * 0.004;
        assert!((bands - want).abs() < 0.2, "{hz} Hz: {bands} bands");
        // The desk is lit by something else.
        let change = desk(&banded) / desk(&steady);
        assert!((change - 1.0).abs() < 1e-3);
    }
}

/// Switched off for half of the time, short exposures see black bands that
/// fill half of the rows; the mean light is the duty.
#[test]
fn a_switched_backlight_goes_black_in_bands() {
    let mut scene = still();
    scene.film.readout_ms = 4.0;
    scene.film.exposure_ms = 0.1;
    let steady = first(&scene);
    (scene.screen.pwm.hz, scene.screen.pwm.duty) = (1500.0, 0.5);
    let ratio = ratio(&first(&scene), &steady);
    let black = ratio.iter().filter(|r| **r < 0.02).count();
    let full = ratio.iter().filter(|r| **r > 0.98).count();
    assert!(black > 35 && full > 35, "{black} black, {full} full");
    let mean = ratio.iter().sum::<f64>() / ratio.len() as f64;
    assert!((mean - 0.5).abs() < 0.12, "{mean}");
}

/// A row's picture is that of its own time: the bottom of the frame sees an
/// update earlier than the top does.
#[test]
fn a_rolling_shutter_sees_an_update_from_below() {
    let mut scene = quiet();
    scene.film.readout_ms = 4.0;
    let (truth, frames) = shoot(&scene);
    let first = |y: usize| {
        let strip = |f: &(f64, Vec<u8>)| f.1[y * 240 + 40..y * 240 + 200].to_vec();
        let at = frames.windows(2).position(|w| strip(&w[0]) != strip(&w[1]));
        frames[at.unwrap() + 1].0
    };
    // The card comes in from the right at the middle; its edge is seen in all
    // of its rows: 66 % of 120 rows about the middle.
    let (top, bottom) = (first(60), first(120));
    assert!(bottom <= top, "{top} {bottom}");
    assert!(truth.trials.len() == 1);
}

#[test]
fn the_truth_does_not_know_of_light() {
    let plain = foresee(&quiet()).unwrap();
    let mut scene = quiet();
    scene.lamp.depth = 0.5;
    scene.screen.flicker.depth = 0.3;
    scene.screen.pwm.duty = 0.4;
    scene.film.readout_ms = 3.0;
    assert_eq!(plain, foresee(&scene).unwrap());
}

/// A disturbance of no strength is the undisturbed film.
#[test]
fn every_row_by_itself_gives_the_same_film() {
    let plain = shoot(&quiet()).1;
    let mut scene = quiet();
    scene.lamp.depth = 1e-12;
    let rough = shoot(&scene).1;
    let pixels = |film: Vec<(f64, Vec<u8>)>| film.into_iter().flat_map(|f| f.1);
    let pairs = pixels(plain).zip(pixels(rough));
    assert!(pairs.map(|(a, b)| a.abs_diff(b)).max().unwrap() <= 1);
}
