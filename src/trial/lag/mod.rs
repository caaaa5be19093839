//! The live-view lag: how much later a change in the world first appears on
//! the camera's screen, from a target that the clip shows both directly and
//! on the screen.
//!
//! In: both [`View`]s, instants in seconds as shot (on the screen those at
//! which an update is first seen, so that holding a picture adds nothing).
//! Out: the lag in seconds with its standard uncertainty (k = 1), or why there
//! is none. Method: places that two swings in a row both pass (see `fold`);
//! the middles of the two passings are later on the screen by the lag. Turning
//! points carry no timing, so places count by speed squared. What reads early
//! at one turn, because the camera is in other focus on the way back, reads
//! late at the other; the spread between turns is part of the uncertainty
//! (type A with Student's factor, JCGM 100:2008, 4.2 and G.3). All turns can err
//! together; so the lag is read a second time, coarsely, from when the two views
//! change. Where the two readings differ much there is no lag; else the truth may
//! lie anywhere between them (a rectangle, JCGM 100:2008, 4.3.7).

mod fold;
mod pace;

#[cfg(test)]
mod tests;

use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, StudentsT};
use std::io;

use super::curve::median;
use super::motion::{cell_noise, smoothed};
use super::swing::View;
use fold::{Fold, Strip, folds};
use pace::Pace;

/// A lag as measured.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Lag {
    /// First appearance on the screen less the change in the world, seconds.
    pub lag_s: f64,
    /// Standard uncertainty, seconds (k = 1).
    pub u_s: f64,
    /// Pairs of swings it rests on.
    pub pairs: usize,
}

impl Lag {
    /// Of what is not seen through a screen.
    pub const NONE: Self = Self {
        lag_s: 0.0,
        u_s: 0.0,
        pairs: 0,
    };
}

/// Why there is no lag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoLag {
    /// Too few swings: so many.
    FewSwings(usize),
    /// The two views do not change together.
    Unlike,
    /// The target is not found again at one place in both views.
    NoPlaces,
    /// The pairs of swings disagree: standard uncertainty in seconds.
    Spread(f64),
    /// The lag by places and the lag by how much changes when differ: by so
    /// many seconds.
    Apart(f64),
}

/// What is known of the clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// Seconds from frame to frame.
    pub frame_s: f64,
    /// Distance of the two views' middle rows, ÷ rows of the frame.
    pub rows_apart: f64,
}

/// Fewest swings: half periods of a pendulum, or ways in and out.
pub const FEWEST_SWINGS: usize = 3;
/// Pairs looked at, evenly over the clip: more would say little more.
const MOST_PAIRS: usize = 12;
/// Shortest step of a direct view, seconds.
const STEP_S: f64 = 1.0 / 60.0;
/// Share of a swing that is followed from its turn: beyond, errors add up.
const NEAR: f64 = 0.7;
/// Seconds at the turn, where the target creeps to its rest, read with a swing.
const TURN_S: f64 = 0.15;
/// Fewest places of a pair.
const FEWEST_PLACES: usize = 5;
/// Least certain lag, seconds (k = 1).
const MOST_U_S: f64 = 0.012;
/// How far a lag may be from the rough one, seconds.
const OFF_S: f64 = 0.06;
/// How far the two readings of the lag may differ, seconds.
const MOST_APART_S: f64 = 0.012;

/// Measures the lag of `screen` behind `direct`.
///
/// # Errors
/// When kept pictures cannot be read back.
pub fn live_view_lag(
    screen: &mut View<'_>,
    direct: &mut View<'_>,
    terms: Terms,
) -> io::Result<Result<Lag, NoLag>> {
    let pace = Pace::of(direct)?;
    let swings = pace.swings();
    if swings.len() < FEWEST_SWINGS {
        return Ok(Err(NoLag::FewSwings(swings.len())));
    }
    let Some(rough) = pace.rough_lag(&Pace::of(screen)?) else {
        return Ok(Err(NoLag::Unlike));
    };
    let noise = [noise(direct)?, noise(screen)?];
    let mut found = Vec::new();
    for k in turns(swings.len() - 1) {
        let [a, b] = [swings[k], swings[k + 1]];
        let turn = f64::midpoint(a[1], b[0]);
        let far = |s: [f64; 2]| (1.0 - NEAR) * (s[1] - s[0]);
        let first = [a[0] + far(a), (a[1] + TURN_S).min(turn)];
        let second = [(b[0] - TURN_S).max(turn), b[1] - far(b)];
        let late = |s: [f64; 2]| s.map(|t| t + rough);
        let seen = [
            Strip::read(direct, first, STEP_S, false)?,
            Strip::read(direct, second, STEP_S, true)?,
            Strip::read(screen, late(first), 0.0, false)?,
            Strip::read(screen, late(second), 0.0, true)?,
        ];
        let found_folds: Vec<Vec<Fold>> = [(0, 1, 0), (2, 3, 1)]
            .into_par_iter()
            .map(|(there, back, n)| folds(&seen[there], &seen[back], &noise[n]))
            .collect();
        found.extend(pair_lag(&found_folds[0], &found_folds[1], rough));
    }
    Ok(combine(&found, terms).and_then(|lag| held_against(lag, rough)))
}

/// Which turns to look at: neighbours together, so that both kinds count alike.
fn turns(all: usize) -> impl Iterator<Item = usize> {
    let groups = all.div_ceil(2);
    let step = groups.div_ceil(MOST_PAIRS / 2).max(1);
    let looked_at = (0..groups).step_by(step).flat_map(|g| [2 * g, 2 * g + 1]);
    looked_at.filter(move |k| *k < all)
}

/// Noise of a view's cells.
fn noise(view: &mut View<'_>) -> io::Result<Vec<f32>> {
    const PAIRS: usize = 60;
    let n = view.pictures.len();
    let mut pairs = Vec::with_capacity(PAIRS);
    for k in (1..n).step_by((n / PAIRS).max(1)) {
        let mut picture = |i: usize| view.reel.get(view.pictures[i]).map(|t| smoothed(&t));
        pairs.push((picture(k - 1)?, picture(k)?));
    }
    Ok(cell_noise(&pairs))
}

/// What one pair of swings says: lag in seconds and weight.
fn pair_lag(direct: &[Fold], screen: &[Fold], rough: f64) -> Option<(f64, f64)> {
    let direct = plain(direct);
    let mut each: Vec<(f64, f64)> = plain(screen)
        .iter()
        .filter_map(|s| Some((s.middle_s - middle_at(&direct, s.span_s)?, s.weight)))
        .filter(|(lag, _)| (lag - rough).abs() < OFF_S)
        .collect();
    let usual = median(each.iter().map(|e| e.0).collect())?;
    let spread = median(each.iter().map(|e| (e.0 - usual).abs()).collect())?;
    each.retain(|e| (e.0 - usual).abs() <= 4.0 * spread + 5e-4);
    if each.len() < FEWEST_PLACES {
        return None;
    }
    let weight: f64 = each.iter().map(|e| e.1).sum();
    let sum: f64 = each.iter().map(|e| e.0 * e.1).sum();
    Some((sum / weight, weight))
}

/// Without the places whose middle is out of line with those around them.
fn plain(folds: &[Fold]) -> Vec<Fold> {
    const REACH: usize = 3;
    (0..folds.len())
        .filter(|i| {
            let from = i.saturating_sub(REACH);
            let near = &folds[from..(i + REACH + 1).min(folds.len())];
            let usual = median(near.iter().map(|f| f.middle_s).collect());
            usual.is_some_and(|m| (folds[*i].middle_s - m).abs() < 0.02)
        })
        .map(|i| folds[i])
        .collect()
}

/// The middle that belongs to a span, on the line between its neighbours.
fn middle_at(folds: &[Fold], span: f64) -> Option<f64> {
    let i = folds.partition_point(|f| f.span_s <= span);
    let (a, b) = (folds.get(i.checked_sub(1)?)?, folds.get(i)?);
    let share = (span - a.span_s) / (b.span_s - a.span_s).max(1e-9);
    Some(a.middle_s + share * (b.middle_s - a.middle_s))
}

/// All pairs together.
fn combine(pairs: &[(f64, f64)], terms: Terms) -> Result<Lag, NoLag> {
    if pairs.len() < FEWEST_SWINGS - 1 {
        return Err(NoLag::NoPlaces);
    }
    let weight: f64 = pairs.iter().map(|p| p.1).sum();
    let lag_s = pairs.iter().map(|p| p.0 * p.1).sum::<f64>() / weight;
    let n = pairs.len() as f64;
    let apart: f64 = pairs.iter().map(|p| (p.0 - lag_s).powi(2)).sum();
    // Student's factor for few pairs, brought to k = 1 of a normal.
    let own = (apart / (n - 1.0) / n).sqrt() * student(pairs.len() - 1);
    let u_s = (own.powi(2) + terms.variance()).sqrt();
    if u_s > MOST_U_S {
        return Err(NoLag::Spread(u_s));
    }
    Ok(Lag {
        lag_s,
        u_s,
        pairs: pairs.len(),
    })
}

/// A lag held against a coarse reading of it.
fn held_against(lag: Lag, rough_s: f64) -> Result<Lag, NoLag> {
    let apart = (lag.lag_s - rough_s).abs();
    if apart > MOST_APART_S {
        return Err(NoLag::Apart(apart));
    }
    Ok(Lag {
        u_s: (lag.u_s.powi(2) + apart * apart / 12.0).sqrt(),
        ..lag
    })
}

impl Terms {
    /// What all pairs share: where in a frame the updates fall, and rows that
    /// the filming camera reads out one after the other.
    fn variance(self) -> f64 {
        let rows = self.rows_apart * self.frame_s;
        (self.frame_s.powi(2) + rows.powi(2)) / 12.0
    }
}

/// t(0.975, degrees of freedom) ÷ 1.96.
fn student(freedom: usize) -> f64 {
    StudentsT::new(0.0, 1.0, freedom as f64).map_or(7.0, |t| t.inverse_cdf(0.975) / 1.959_964)
}
