//! Disturbances put into films made by formula: found, and the curve without
//! them is the curve of the film that never had them.

use super::*;
use crate::sharpness::{COLUMNS, ROWS, Reading, TileReel, Tiles};

const FPS: f64 = 240.0;
const HZ: f64 = 60.0;

struct Film {
    times: Vec<f64>,
    readings: Vec<Reading>,
    reel: TileReel,
    places: Places,
    keys: Vec<usize>,
}

/// What one tile shows: mean and squared output per place.
type Tile = (f64, f64);

/// A tile of undisturbed film: every second trial of 2.5 s is near, focus
/// comes back 0.3 to 0.5 s after its onset.
fn plain(i: usize, t: f64) -> Tile {
    let update = (t * HZ + 1e-6).floor() / HZ;
    let into = (update / 2.5).fract() * 2.5;
    let blur = ((0.5 - into) / 0.2).clamp(0.0, 1.0);
    let own = 1.0 + 0.5 * (i as f64 * 0.9).cos();
    let mean = 0.3 + 0.06 * (i as f64 * 1.7).sin();
    // Tiles do not fall alike.
    let sharp = (1.0 - blur * (0.97 - 0.04 * own)).powf(1.0 + 0.4 * own);
    (mean, 0.02 * own * sharp)
}

fn film(show: impl Fn(usize, f64) -> Tile) -> Film {
    let n = (10.0 * FPS) as usize;
    let mut out = Film {
        times: (0..n).map(|k| k as f64 / FPS).collect(),
        readings: Vec::new(),
        reel: TileReel::default(),
        places: Places {
            energy: [200.0; TILES],
            mean: [100.0; TILES],
        },
        keys: Vec::new(),
    };
    for k in 0..n {
        let mut tiles = Tiles::empty();
        let (mut mean, mut energy) = (0.0, 0.0);
        for i in 0..TILES {
            let (m, e) = show(i, out.times[k]);
            tiles.mean[i] = m as f32;
            tiles.energy[i] = (200.0 * e) as f32;
            mean += m / TILES as f64;
            energy += e / TILES as f64;
        }
        out.reel.push(&tiles).unwrap();
        out.readings.push(Reading {
            mean,
            energy,
            change: Some(0.0),
            white: 0.0,
        });
    }
    out
}

fn stimuli() -> Vec<Stimulus> {
    (0..4)
        .map(|i| Stimulus {
            side: Some(if i % 2 == 0 { Side::Near } else { Side::Far }),
            move_s: Some(f64::from(i) * 2.5 - 0.2),
            onset_s: f64::from(i) * 2.5,
            onset_u_s: 0.001,
        })
        .collect()
}

const SETTINGS: Settings = Settings {
    window_s: 1.5,
    hold_s: 0.2,
    tolerance: 0.05,
    hit_ratio: 0.8,
    rate_u: 0.0,
};

fn cleaned(f: &mut Film) -> (Curve, Option<Curve>, Found) {
    cleaned_by(f, &stimuli())
}

fn cleaned_by(f: &mut Film, stimuli: &[Stimulus]) -> (Curve, Option<Curve>, Found) {
    let curve = Curve::new(&f.times, &f.readings, Some((1.0 / HZ, -1e-6)));
    let mut reel = update_tiles(&curve, &mut f.reel, false).unwrap().0;
    let mut frames = Frames {
        readings: &f.readings,
        reel: &mut reel,
        places: &f.places,
        keys: &f.keys,
        flicker: None,
    };
    let (out, found) = clean(&curve, stimuli, &SETTINGS, true, &mut frames).unwrap();
    (curve, out, found)
}

/// Largest difference of two curves over the trials' windows, each ÷ its own
/// level at the end of a trial.
fn apart(a: &Curve, b: &Curve) -> f64 {
    let mut most = 0.0f64;
    for s in stimuli() {
        let (from, to) = (a.at_or_after(s.onset_s), a.at_or_after(s.onset_s + 1.7));
        let top = |c: &Curve| c.samples[to - 3].value;
        for k in from..to {
            let d = a.samples[k].value / top(a) - b.samples[k].value / top(b);
            most = most.max(d.abs());
        }
    }
    most
}

#[test]
fn an_undisturbed_film_keeps_its_curve() {
    let (_, out, found) = cleaned(&mut film(plain));
    assert!(out.is_none() && found.nothing(), "{found:?}");
}

/// Rows that a switched backlight shows in every second frame only: an update's
/// tiles are those of the frames that show them, whichever these are.
#[test]
fn rows_that_go_black_are_taken_from_the_frames_that_show_them() {
    // The band wanders: now a row is lit in all four frames of an update, now
    // in two, never in none.
    let black = |i: usize, t: f64| {
        let frame = (t * FPS).round() as usize;
        let wandering = (frame / 48) % 8;
        frame.is_multiple_of(2) && (i / COLUMNS + wandering) % 8 < 3
    };
    let seen = |i, t| match plain(i, t) {
        (m, e) if black(i, t) => (0.01 * m, 1e-4 * e),
        lit => lit,
    };
    let (mut plainly, mut banded) = (film(plain), film(seen));
    let curve = Curve::new(&plainly.times, &plainly.readings, Some((1.0 / HZ, -1e-6)));
    let mut all_lit = update_tiles(&curve, &mut plainly.reel, false).unwrap().0;
    let (mut got, hidden) = update_tiles(&curve, &mut banded.reel, true).unwrap();
    assert_eq!(hidden, 0.0);
    for k in 1..curve.samples.len() {
        let (want, got) = (all_lit.get(k).unwrap(), got.get(k).unwrap());
        for i in 0..TILES {
            assert!((got.0[i] / want.0[i] - 1.0).abs() < 0.004, "{k} {i}");
            assert!((got.1[i] - want.1[i]).abs() < 3e-4, "{k} {i}");
        }
    }
    // Were they all black, that would be said.
    let dark = |i, t| match plain(i, t) {
        (m, e) if i / COLUMNS == 3 && (5.0..6.0).contains(&t) => (0.01 * m, 1e-4 * e),
        lit => lit,
    };
    let hidden = update_tiles(&curve, &mut film(dark).reel, true).unwrap().1;
    assert!((hidden - 0.1 / ROWS as f64).abs() < 0.001, "{hidden}");
}

/// Before the first trial the other side is seen; its light then is not its
/// usual light, and the sharpness follows the light.
#[test]
fn what_comes_before_the_first_stimulus_is_brought_to_its_sides_light() {
    // Glare: light that adds nothing to the squared output.
    let seen = |i: usize, t: f64| {
        let (m, e) = plain(i, t + 2.5);
        (
            m + 0.02 * (1.0 + (0.9 * t).sin()) + if t < 0.0 { 0.03 } else { 0.0 },
            e,
        )
    };
    let late = |i: usize, t: f64| seen(i, t - 1.0);
    let stimuli: Vec<Stimulus> = stimuli()
        .into_iter()
        .take(3)
        .map(|s| Stimulus {
            move_s: s.move_s.map(|t| t + 1.0),
            onset_s: s.onset_s + 1.0,
            ..s
        })
        .collect();
    let (curve, out, found) = cleaned_by(&mut film(late), &stimuli);
    let out = out.expect("a cleaned curve");
    assert!(found.power.is_some(), "{found:?}");
    let level = |c: &Curve, t: f64| c.samples[c.at_or_after(t)].value;
    // The far side in focus, before the first swing and after the second.
    let (raw, even) = (
        level(&curve, 0.5) / level(&curve, 5.2),
        level(&out, 0.5) / level(&out, 5.2),
    );
    assert!((raw - 1.0).abs() > 0.1, "{raw}");
    assert!((even - 1.0).abs() < 0.3 * (raw - 1.0).abs(), "{raw} {even}");
}

/// A box whose lines run through ten tiles, drawn while the predicate holds.
fn boxed(on: impl Fn(f64) -> bool) -> impl Fn(usize, f64) -> Tile {
    move |i, t| {
        let (m, e) = plain(i, t);
        let line = (35..40).contains(&i) || (59..64).contains(&i);
        if line && on(t) {
            (m + 0.08, e + 0.05)
        } else {
            (m, e)
        }
    }
}

#[test]
fn a_box_that_appears_after_settling_is_left_out() {
    let (want, ..) = cleaned(&mut film(plain));
    let mut f = film(boxed(|t| (t / 2.5).fract() * 2.5 > 0.9));
    let (raw, out, found) = cleaned(&mut f);
    let out = out.unwrap();
    assert!(found.left_out > 0.05 && found.left_out < 0.4, "{found:?}");
    assert_eq!(found.changes_s.len(), 4, "{found:?}");
    assert!((found.changes_s[0] - 0.9).abs() < 1.1 / HZ, "{found:?}");
    assert!(apart(&raw, &want) > 0.1);
    assert!(apart(&out, &want) < 0.03, "{}", apart(&out, &want));
    let instants = |c: &Curve| c.samples.iter().map(|s| s.shown_s).collect::<Vec<_>>();
    assert_eq!(instants(&out), instants(&raw), "no edge moves");
}

#[test]
fn a_box_that_is_always_there_is_left_out() {
    let (want, ..) = cleaned(&mut film(plain));
    let (raw, out, found) = cleaned(&mut film(boxed(|_| true)));
    assert!(
        found.left_out > 0.05 && found.changes_s.is_empty(),
        "{found:?}"
    );
    assert!(apart(&raw, &want) > 0.1);
    assert!(apart(&out.unwrap(), &want) < 0.03);
}

#[test]
fn exposure_that_drifts_is_taken_out_by_the_power_the_film_tells() {
    let (want, ..) = cleaned(&mut film(plain));
    for power in [1.4, -0.5] {
        let mut f = film(|i, t| {
            let (m, e) = plain(i, t);
            let g: f64 = 1.0 + 0.2 * (t * 1.9).sin();
            (m * g, e * g.powf(power))
        });
        let (raw, out, found) = cleaned(&mut f);
        assert!((found.power.unwrap() - power).abs() < 0.05, "{found:?}");
        assert!(!found.unsteady.is_empty() && found.left_out == 0.0);
        assert!(apart(&raw, &want) > 0.05);
        assert!(apart(&out.unwrap(), &want) < 0.02, "{power}");
    }
}

#[test]
fn a_step_at_a_key_frame_is_evened_out_and_focusing_is_not() {
    let (want, ..) = cleaned(&mut film(plain));
    // A key frame amid the rest at 0.9 s, and one while focus moves at 2.9 s.
    let mut f = film(|i, t| {
        let (m, e) = plain(i, t);
        (
            m,
            if (2.5..3.4).contains(&t) || t < 0.9 {
                e / 1.12
            } else {
                e
            },
        )
    });
    f.keys = vec![0, 216, 696, 816];
    let (raw, out, found) = cleaned(&mut f);
    assert_eq!(
        found.key_steps.iter().map(|s| s.0).collect::<Vec<_>>(),
        [0, 1]
    );
    assert!(
        found.key_steps.iter().all(|s| (s.1 - 1.12).abs() < 0.01),
        "{found:?}"
    );
    assert!(apart(&raw, &want) > 0.05);
    assert!(apart(&out.unwrap(), &want) < 0.01);
    // The same step without a key frame is focus.
    f.keys = vec![0, 696];
    let (_, out, found) = cleaned(&mut f);
    assert!(out.is_none() && found.key_steps.is_empty());
}
