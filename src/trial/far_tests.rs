//! A card that swings out of the autofocus area: when it has cleared it is
//! known in closed form, where it comes to rest does not matter.

use super::*;
use crate::screen::{Reel, Thumb};
use crate::store::schema::Side;
use std::f64::consts::PI;

const FRAME_S: f64 = 1.0 / 240.0;
const UPDATE_S: f64 = 1.0 / 60.0;
const LAG_S: f64 = 0.06;
const AREA: [f64; 4] = [0.35, 0.3, 0.65, 0.7];
/// In at 1 s, out at 3 s, and again: start of each way, seconds.
const STARTS_S: [f64; 6] = [1.0, 3.0, 5.0, 7.0, 9.0, 11.0];
const WAY_S: f64 = 0.3;
/// Cells from rest to where the card hangs when it is away.
const FAR_CELLS: f64 = 44.0;

/// Share of the way that the card is out, eased at both ends.
fn out(t: f64) -> f64 {
    let eased = |s: f64| (1.0 - (PI * (s / WAY_S).clamp(0.0, 1.0)).cos()) / 2.0;
    let way = |(k, start): (usize, &f64)| [-1.0, 1.0][k % 2] * eased(t - start);
    1.0 + STARTS_S.iter().enumerate().map(way).sum::<f64>()
}

/// When the card has left 90 % of the area on its `k`th way: its right edge,
/// at 48 cells when it is in, has passed 0.38 × 64 cells.
fn clear_s(k: usize) -> f64 {
    let share = (48.0 - 0.38 * 64.0) / FAR_CELLS;
    STARTS_S[k] + WAY_S * (1.0 - 2.0 * share).acos() / PI
}

/// The card over a ground of `contrast`, its own left by `moved` cells.
fn picture(moved: f64, contrast: f64, boxed: bool) -> Thumb {
    let cells = (0..64 * 48).map(|i| {
        let (x, y) = (f64::from(i % 64), f64::from(i / 64));
        let ground = 0.35 + contrast * (0.6 * x + 0.7 * y).sin();
        let (u, v) = (x + moved, y);
        let card = 0.5 + 0.12 * (0.5 * u + 0.3 * v).sin() + 0.08 * (0.2 * u - 0.4 * v).cos();
        // A cell is on the card as far as the card reaches over it.
        let inside =
            |from: f64, to: f64, at: f64| ((at + 1.0).min(to) - at.max(from)).clamp(0.0, 1.0);
        let covered = inside(16.0, 48.0, u) * inside(8.0, 40.0, v);
        let line = boxed && (18.0..46.0).contains(&x) && (y - 20.0).abs() < 1.0;
        let value = covered * card + (1.0 - covered) * ground;
        (if line { 0.9 } else { value }) as f32
    });
    Thumb {
        width: 64,
        height: 48,
        cells: cells.collect(),
    }
}

/// Contrast of the ground on the screen: out of focus while the lens is on the
/// card, in focus from `delay_s` after the area is clear, 80 ms later.
fn ground(t: f64, delay_s: f64) -> f64 {
    let far = STARTS_S.iter().skip(1).step_by(2).enumerate();
    let mut contrast = if t < STARTS_S[0] { 0.12 } else { 0.02 };
    for (k, start) in far {
        let since = t - clear_s(2 * k + 1) - delay_s;
        let next = STARTS_S.get(2 * k + 2).copied().unwrap_or(f64::MAX);
        if t > *start && t < next {
            contrast = 0.02 + 0.1 * (since / 0.08).clamp(0.0, 1.0);
        }
    }
    contrast
}

/// The far onsets found, against the closed form: errors in ms.
fn errors(direct: bool, delay_s: f64, boxed: bool) -> Vec<(OnsetSeen, f64)> {
    let seconds = 13.0;
    let (mut world, mut shown) = (Reel::new(64, 48), Reel::new(64, 48));
    let frames: Vec<f64> = (0..)
        .map(|k| f64::from(k) * FRAME_S)
        .take_while(|t| *t < seconds)
        .collect();
    let updates: Vec<f64> = (0..)
        .map(|k| f64::from(k) * UPDATE_S)
        .take_while(|t| *t < seconds)
        .collect();
    for t in frames.iter().filter(|_| direct) {
        world
            .push(&picture(0.8 * FAR_CELLS * out(*t), 0.12, false))
            .unwrap();
    }
    for t in &updates {
        let taken = t - LAG_S;
        let late = boxed
            && STARTS_S
                .iter()
                .skip(1)
                .step_by(2)
                .any(|s| (0.35..1.2).contains(&(taken - s)));
        shown
            .push_coarse(&picture(
                FAR_CELLS * out(taken),
                ground(taken, delay_s),
                late,
            ))
            .unwrap();
    }
    let view = |reel, at: Vec<f64>, step_s, span| View {
        reel,
        pictures: (0..at.len()).collect(),
        shown_s: at,
        step_s,
        span,
        instant_u_s: 0.001,
    };
    let mut screen = view(&mut shown, updates.clone(), UPDATE_S, 1);
    let mut beside = view(&mut world, frames, FRAME_S, 4);
    let seen = if direct {
        OnsetSeen::Direct
    } else {
        OnsetSeen::Screen
    };
    let timed = if direct { &mut beside } else { &mut screen };
    let moved = shifts(timed).unwrap();
    let mut swings = swing_stimuli(&moved, timed, seen);
    assert_eq!(swings.len(), STARTS_S.len());
    tell_sides(&mut swings, &mut screen, AREA, direct).unwrap();
    let direct = direct.then_some(Direct {
        view: &beside,
        shifts: &moved,
        lag_s: Some(LAG_S),
    });
    far_onsets(&mut swings, &mut screen, AREA, direct).unwrap();
    let far = swings
        .iter()
        .enumerate()
        .filter(|(_, s)| s.side == Some(Side::Far));
    let out: Vec<(OnsetSeen, f64)> = far
        .map(|(k, s)| {
            let truth = match s.seen {
                OnsetSeen::Direct => clear_s(k),
                _ => updates[updates.partition_point(|t| t - LAG_S < clear_s(k))],
            };
            (s.seen, 1e3 * (s.onset_s - truth))
        })
        .collect();
    assert_eq!(out.len(), 3);
    out
}

/// From 80 ms after the area is clear the ground comes into focus, within 80 ms;
/// the card still moves. It stops 60 ms after it has left the area.
#[test]
fn the_far_side_begins_when_the_area_is_clear() {
    for (delay_s, boxed) in [(0.08, false), (0.03, false), (0.08, true)] {
        for (seen, e) in errors(true, delay_s, boxed) {
            assert!(
                seen == OnsetSeen::Direct && e.abs() < 6.0,
                "{delay_s} {boxed}: {seen:?} {e}"
            );
        }
        for (seen, e) in errors(false, delay_s, boxed) {
            assert!(
                seen == OnsetSeen::Screen && e.abs() < 1.1e3 * UPDATE_S,
                "{delay_s} {boxed}: {seen:?} {e}"
            );
        }
    }
}

/// Share of the area that a free pendulum covers, half a period `half_s`.
fn pendulum(half_s: f64) -> Vec<f64> {
    (0..600)
        .map(|k| 0.5 + 0.9 * (PI * f64::from(k) * UPDATE_S / half_s).sin())
        .map(|c| c.clamp(0.0, 1.0))
        .collect()
}

/// The swings of such a course.
fn covered(cover: &[f64]) -> Vec<Stimulus> {
    let mut none = Reel::new(1, 1);
    let view = View {
        reel: &mut none,
        pictures: Vec::new(),
        shown_s: (0..600).map(|k| f64::from(k) * UPDATE_S).collect(),
        step_s: UPDATE_S,
        span: 1,
        instant_u_s: 0.0,
    };
    cover_stimuli(cover, &view).stimuli
}

/// However short the pendulum stays: every pass over the area is a swing.
#[test]
fn a_quick_pendulum_swings_as_often_as_a_slow_one_in_its_time() {
    for half_s in [0.2, 0.35, 0.6, 1.5] {
        let cover = pendulum(half_s);
        let found = covered(&cover);
        // It begins half way in: the first state is none that was reached.
        let turns = (10.0 / half_s - 0.5).floor() as usize;
        assert!(
            found.len().abs_diff(turns) <= 1,
            "{half_s}: {} {turns}",
            found.len()
        );
        for s in &found {
            // sin = ± 0.4 ÷ 0.9 where nine tenths are covered or free.
            let phase = (s.onset_s / half_s).rem_euclid(1.0);
            let after = (phase - (0.4f64 / 0.9).asin() / PI) * half_s;
            assert!(
                (0.0..1.01 * UPDATE_S).contains(&after),
                "{half_s}: {s:?} {after}"
            );
        }
    }
}

/// What flickers about the edge of a state starts no swing of its own.
#[test]
fn noise_about_nine_tenths_is_one_swing() {
    let mut cover = pendulum(1.5);
    for (k, c) in cover.iter_mut().enumerate() {
        *c += 0.08 * f64::from(k as u32 * 7919 % 101) / 101.0 - 0.04;
    }
    let found = covered(&cover);
    assert!((5..=7).contains(&found.len()), "{found:?}");
    let turns = found.windows(2).all(|w| w[0].side != w[1].side);
    assert!(turns, "{found:?}");
}
