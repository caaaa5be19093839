//! Flicker found and taken out of films made by formula.

use super::*;
use crate::sharpness::{COLUMNS, Places, ROWS, Reading, TILES, TileReel, Tiles};

const FPS: f64 = 240.0;

struct Film {
    times: Vec<f64>,
    readings: Vec<Reading>,
    reel: TileReel,
    places: Places,
}

/// Sharpness of a step from 0.1 to 1 at 1 s, in steps of 1/60 s.
fn focus(t: f64) -> f64 {
    let update = (t * 60.0).floor() / 60.0;
    (0.1 + (update - 1.0).max(0.0) / 0.1).min(1.0)
}

/// A film whose row `r` at `t` is lit by `light(r, t)`.
fn film(seconds: f64, light: impl Fn(f64, f64) -> f64, exponent: f64) -> Film {
    let n = (seconds * FPS) as usize;
    let places = Places {
        energy: [100.0; TILES],
        mean: [50.0; TILES],
    };
    let mut out = Film {
        times: (0..n).map(|k| k as f64 / FPS).collect(),
        readings: Vec::new(),
        reel: TileReel::default(),
        places,
    };
    let mut before: Option<Tiles> = None;
    for k in 0..n {
        let t = out.times[k];
        let mut tiles = Tiles::empty();
        for r in 0..ROWS {
            let g = light((r as f64 + 0.5) / ROWS as f64, t);
            let content = 0.3 + 0.05 * (r as f64 * 1.7).sin();
            for c in 0..COLUMNS {
                let i = r * COLUMNS + c;
                tiles.mean[i] = (content * g) as f32;
                let share = 1.0 + 0.4 * (i as f64 * 0.9).cos();
                tiles.energy[i] = (100.0 * share * focus(t) * g.powf(exponent)) as f32;
            }
            tiles.compared[r] = tiles.energy[r * COLUMNS..][..COLUMNS].iter().sum();
            // One picture, lit by another light.
            let old = before.as_ref().map_or(0.0, |b| b.compared[r]);
            tiles.change[r] = (tiles.compared[r].sqrt() - old.sqrt()).powi(2) + 1e-3;
        }
        let sum = |v: &[f32]| v.iter().map(|x| f64::from(*x)).sum::<f64>();
        out.readings.push(Reading {
            mean: sum(&tiles.mean) / TILES as f64,
            energy: sum(&tiles.energy) / (100.0 * TILES as f64),
            change: (k > 0).then(|| sum(&tiles.change) / (100.0 * TILES as f64)),
            white: 0.0,
        });
        out.reel.push(&tiles).unwrap();
        before = Some(tiles);
    }
    out
}

fn level(r: &Reading) -> f64 {
    r.energy / (r.mean * r.mean)
}

fn found(f: &mut Film) -> Option<Flicker> {
    find_flicker(&f.times, &f.readings, &mut f.reel, &f.places).unwrap()
}

/// Largest ripple of the level once focus has settled, ÷ level.
fn ripple(readings: &[Reading]) -> f64 {
    let settled: Vec<f64> = readings[300..].iter().map(level).collect();
    let (low, high) = settled
        .iter()
        .fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
    (high - low) / high
}

#[test]
fn steady_light_is_no_flicker_even_when_the_subject_moves() {
    let swing = |r: f64, t: f64| {
        if (0.8..1.1).contains(&t) {
            1.0 + 0.3 * ((t - 0.8) * 9.0 + 4.0 * r).sin()
        } else {
            1.0
        }
    };
    assert_eq!(found(&mut film(4.0, swing, 2.0)), None);
    assert_eq!(
        found(&mut film(4.0, |_, t| 1.0 + 0.05 * t, 2.0)),
        None,
        "drift"
    );
}

#[test]
fn flicker_is_found_with_its_frequency_depth_and_exponent() {
    let light = |_: f64, t: f64| 1.0 + 0.1 * (std::f64::consts::TAU * 20.0 * t).sin();
    let mut f = film(4.0, light, 1.3);
    let got = found(&mut f).unwrap();
    assert!((got.seen_hz.unwrap() - 20.0).abs() < 0.05, "{got:?}");
    assert!((got.depth - 0.1 / 2.0f64.sqrt()).abs() < 0.01, "{got:?}");
    assert!(got.bands < 0.01 && got.black == 0.0, "{got:?}");
    assert!((got.exponent - 1.3).abs() < 0.05, "{got:?}");
    assert_eq!(
        mains::check(got.seen_hz.unwrap(), 240.0, 0.1),
        mains::Clock::Silent
    );
}

#[test]
fn bands_leave_no_ripple_and_the_edge_stays_where_it_was() {
    let light = |r: f64, t: f64| 1.0 + 0.35 * (std::f64::consts::TAU * (37.0 * t + 2.0 * r)).sin();
    for exponent in [1.3, 2.0] {
        let mut f = film(4.0, light, exponent);
        let got = found(&mut f).unwrap();
        assert!(
            got.bands > 0.1 && (got.seen_hz.unwrap() - 37.0).abs() < 0.05,
            "{got:?}"
        );
        let before = ripple(&f.readings);
        let clean = steady(&f.readings, &mut f.reel, &f.places, &got, None).unwrap();
        assert!(
            ripple(&clean) < 0.02 && ripple(&clean) < before / 2.0,
            "{before} {}",
            ripple(&clean)
        );
        // Every step of the staircase in its own frame.
        let top = level(&clean[400]);
        for (k, c) in clean.iter().enumerate().skip(200).take(100) {
            let want = focus(k as f64 / FPS);
            assert!(
                (level(c) / top - want).abs() < 0.03,
                "{k}: {} {want}",
                level(c) / top
            );
        }
        // Repeated frames are alike again, so updates stand out.
        let at = |k: usize| clean[k].change.unwrap() / clean[k].energy;
        assert!(at(248) > 20.0 * at(250).max(at(251)));
    }
}

#[test]
fn rows_that_go_black_are_taken_from_another_frame_of_the_update() {
    // One row in four is black in any frame; a row is black for one frame in four.
    let light = |r: f64, t: f64| {
        let phase = (60.0 * t + r + 0.1).fract();
        if phase < 0.25 { 0.02 } else { 1.0 }
    };
    let mut f = film(4.0, light, 2.0);
    let got = found(&mut f).unwrap();
    assert!(got.black > 0.15, "{got:?}");
    let updates: Vec<usize> = (0..=240).map(|u| u * 4).collect();
    let clean = steady(&f.readings, &mut f.reel, &f.places, &got, Some(&updates)).unwrap();
    assert!(ripple(&clean) < 0.02, "{}", ripple(&clean));
    let top = level(&clean[400]);
    for (k, reading) in clean.iter().enumerate().take(300).skip(220) {
        let want = focus(k as f64 / FPS);
        assert!((level(reading) / top - want).abs() < 0.05, "{k}");
    }
}
