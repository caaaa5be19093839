use super::*;
use crate::screen::{Reel, Thumb};

/// A patterned card over a patterned ground, its left edge at `left` cells.
fn picture(left: f64, scale: f64) -> Thumb {
    let pattern = |x: f64, y: f64, k: f64| {
        0.5 + 0.2 * (0.35 * x + 0.2 * y + k).sin() + 0.2 * (0.15 * x - 0.3 * y + 2.0 * k).cos()
    };
    let cells = (0..64 * 48)
        .map(|i| {
            let (x, y) = ((i % 64) as f64, (i / 64) as f64);
            let on_card = x >= left && (8.0..40.0).contains(&y);
            let v = if on_card {
                pattern((x - left) / scale, y / scale, 0.3)
            } else {
                pattern(x, y, 2.2)
            };
            v as f32
        })
        .collect();
    Thumb {
        width: 64,
        height: 48,
        cells,
    }
}

/// Share of the way: half a second there, a second of rest, half a second back.
fn way(t: f64) -> f64 {
    let eased = |s: f64| (1.0 - (std::f64::consts::PI * s.clamp(0.0, 1.0)).cos()) / 2.0;
    let u = (t - 0.4).rem_euclid(3.0);
    if u < 1.5 {
        eased(u / 0.5)
    } else {
        1.0 - eased((u - 1.5) / 0.5)
    }
}

const FRAME_S: f64 = 1.0 / 240.0;
const UPDATE_S: f64 = 1.0 / 60.0;

fn measured(lag_s: f64, seconds: f64, mirrored: bool) -> Result<Lag, NoLag> {
    let frames = (seconds / FRAME_S) as usize;
    let mut direct = Reel::new(64, 48);
    let mut screen = Reel::new(64, 48);
    for k in 0..frames {
        let at = way(k as f64 * FRAME_S);
        direct.push(&picture(10.0 + 40.0 * at, 1.0)).unwrap();
    }
    let shown_s: Vec<f64> = (0..(seconds / UPDATE_S) as usize)
        .map(|k| k as f64 * UPDATE_S)
        .collect();
    for t in &shown_s {
        let mut seen = picture(2.0 + 50.0 * way(t - lag_s), 1.3);
        if mirrored {
            seen.cells.chunks_mut(64).for_each(<[f32]>::reverse);
        }
        screen.push(&seen).unwrap();
    }
    let view = |reel, n, step_s: f64| View {
        reel,
        pictures: (0..n).collect(),
        shown_s: (0..n).map(|k| k as f64 * step_s).collect(),
        step_s,
        span: 1,
        instant_u_s: 0.0,
    };
    let terms = Terms {
        frame_s: FRAME_S,
        rows_apart: 0.0,
    };
    live_view_lag(
        &mut view(&mut screen, shown_s.len(), UPDATE_S),
        &mut view(&mut direct, frames, FRAME_S),
        terms,
    )
    .unwrap()
}

/// Views of another scale, and mirrored, are late by the lag that was put in.
#[test]
fn the_lag_that_was_put_in_comes_out() {
    for (lag_s, mirrored) in [(0.058, false), (0.131, true), (0.0, false)] {
        let got = measured(lag_s, 6.5, mirrored).unwrap();
        assert!((got.lag_s - lag_s).abs() < 0.0015, "{lag_s}: {got:?}");
        assert!((got.lag_s - lag_s).abs() < 2.0 * got.u_s, "{got:?}");
        assert!(got.u_s >= FRAME_S / 12.0_f64.sqrt() - 1e-12);
    }
}

#[test]
fn too_few_swings_give_no_lag() {
    assert_eq!(measured(0.05, 1.6, false), Err(NoLag::FewSwings(1)));
}

/// Student's t at 0.975 for 1 and 10 degrees of freedom is 12.706 and 2.228
/// (table in JCGM 100:2008, G.2).
#[test]
fn few_pairs_are_widened_as_in_the_table() {
    assert!((student(1) * 1.959_964 - 12.706).abs() < 1e-3);
    assert!((student(10) * 1.959_964 - 2.228).abs() < 1e-3);
}

#[test]
fn both_kinds_of_turn_are_looked_at_alike() {
    let all: Vec<usize> = turns(5).collect();
    assert_eq!(all, [0, 1, 2, 3, 4]);
    let some: Vec<usize> = turns(100).collect();
    assert!(some.len() <= MOST_PAIRS);
    assert_eq!(some.iter().filter(|k| *k % 2 == 0).count(), some.len() / 2);
}

#[test]
fn two_readings_that_differ_are_no_lag_and_else_widen_it() {
    let lag = Lag {
        lag_s: 0.080,
        u_s: 0.001,
        pairs: 4,
    };
    let near = held_against(lag, 0.086).unwrap();
    // A rectangle of 6 ms: 6 ÷ √12 = 1.73 ms (JCGM 100:2008, 4.3.7), with 1 ms.
    assert!((near.u_s - 0.002).abs() < 1e-5, "{near:?}");
    assert_eq!(near.lag_s, 0.080);
    let far = held_against(lag, 0.120).unwrap_err();
    assert!(matches!(far, NoLag::Apart(s) if (s - 0.04).abs() < 1e-9));
}
