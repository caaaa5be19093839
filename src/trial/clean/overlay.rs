//! Graphics drawn over the focus area: boxes, icons, digits.
//!
//! Two signs. A tile's sharpness and its light jump from one update to the next
//! and stay, while the others do not follow: something appeared, went or changed
//! its colour. Sharpness alone also jumps where compression repaints a picture or
//! a photograph's parts come into focus one by one; neither changes how bright a
//! tile is. Or a tile stays sharp while all others are blurred: something is
//! drawn there all the time. Such tiles are left out for the whole clip, so
//! that the same tiles count at onset and in the plateau.

use super::super::curve::median;
use super::tiles::Stretch;
use crate::sharpness::{COLUMNS, Places, ROWS, TILES};

/// A jump of a tile, ÷ the area's usual sharpness, that is no focusing.
const JUMP: f32 = 0.35;
/// What a line drawn into a tile changes of its light at least, ÷ the area's,
/// beyond what the middle tile changes.
const LIGHT: f32 = 0.01;
/// As [`JUMP`], beside a tile that jumps, ÷ the mean sharpness of the tiles that
/// do not: less does not show in the whole.
const BESIDE: f32 = 0.15;
/// Updates on either side of a jump in which the tile rests.
const REST: usize = 3;
/// Unrest there, ÷ jump.
const UNREST: f32 = 0.35;
/// Largest change of focus, ÷ plateau, while a jump can be told.
const FOCUSING: f32 = 0.12;
/// Largest change of the tiles that do not jump, ÷ their own plateau, while a
/// jump can be told: content is uneven, so where focus moves some tiles always
/// run ahead of the others.
const ASTIR: f32 = 0.06;
/// Smallest jump of all tiles together, ÷ the area's sharpness.
const LEAST: f32 = 0.01;
/// Largest share of tiles: more is no overlay.
const MOST: f64 = 0.6;

/// A tile's least and greatest sharpness over a clip.
#[derive(Clone, Debug)]
pub struct Range {
    low: [f32; TILES],
    high: [f32; TILES],
    trials: usize,
}

impl Default for Range {
    fn default() -> Self {
        Self {
            low: [f32::MAX; TILES],
            high: [0.0; TILES],
            trials: 0,
        }
    }
}

/// A trial's tiles relative to the area's own light and plateau.
pub struct Relative {
    /// Per update: sharpness of each tile, 1 = the area's usual plateau.
    pub tiles: Vec<[f32; TILES]>,
    /// Per update: light of each tile, 1 = the area's.
    light: Vec<[f32; TILES]>,
    /// Each tile's own plateau.
    plateau: [f32; TILES],
    /// Per update: how focused the middle tile is, 1 = plateau.
    pub focus: Vec<f32>,
}

impl Relative {
    /// From a trial's updates, onset to end; the last `hold` are the plateau.
    #[must_use]
    pub fn of(stretch: &Stretch, places: &Places, hold: usize) -> Option<Self> {
        let n = stretch.len();
        let from = n.checked_sub(hold.max(REST))?;
        let pixels: f32 = places.mean.iter().sum();
        let mut tiles: Vec<[f32; TILES]> = Vec::with_capacity(n);
        let mut lit: Vec<[f32; TILES]> = Vec::with_capacity(n);
        for (energy, mean) in stretch.energy.iter().zip(&stretch.mean) {
            let light: f32 = (0..TILES).map(|i| mean[i] * places.mean[i]).sum::<f32>() / pixels;
            lit.push(std::array::from_fn(|i| mean[i] / light.max(1e-3)));
            let light = (light * light).max(1e-6);
            tiles.push(std::array::from_fn(|i| {
                energy[i] / places.energy[i].max(1.0) / light
            }));
        }
        let used = |i: &usize| places.energy[*i] > 0.0;
        let mut plateau: [f32; TILES] = std::array::from_fn(|i| middle(&tiles[from..], i));
        let usual = median(
            (0..TILES)
                .filter(used)
                .map(|i| f64::from(plateau[i]))
                .collect(),
        )?;
        #[allow(clippy::cast_possible_truncation)]
        let usual = usual as f32;
        if usual <= 0.0 {
            return None;
        }
        plateau.iter_mut().for_each(|p| *p /= usual);
        for t in &mut tiles {
            t.iter_mut().for_each(|v| *v /= usual);
        }
        let focus = tiles
            .iter()
            .map(|t| {
                let shares = (0..TILES).filter(used);
                let shares = shares.map(|i| f64::from(t[i] / plateau[i].max(0.2)));
                #[allow(clippy::cast_possible_truncation)]
                let middle = median(shares.collect()).unwrap_or(0.0) as f32;
                middle
            })
            .collect();
        Some(Self {
            tiles,
            light: lit,
            plateau,
            focus,
        })
    }

    /// Mean plateau of the tiles but some, at least 1.
    fn mean_without(&self, some: &[bool; TILES]) -> f32 {
        let rest = self.plateau.iter().zip(some).filter(|(_, s)| !**s);
        let (sum, n) = rest.fold((0.0, 0.0f32), |(sum, n), (p, _)| (sum + p, n + 1.0));
        (sum / n.max(1.0)).max(1.0)
    }
}

/// The middle of a tile's values over a few updates.
fn middle(updates: &[[f32; TILES]], i: usize) -> f32 {
    middle_of(updates.iter().map(|t| t[i]))
}

fn middle_of(values: impl IntoIterator<Item = f32>) -> f32 {
    let mut v: Vec<f32> = values.into_iter().collect();
    v.sort_by(f32::total_cmp);
    v.get(v.len() / 2).copied().unwrap_or(0.0)
}

/// Marks the tiles that jump and returns the updates at which they do.
pub fn jumps(trial: &Relative, left_out: &mut [bool; TILES]) -> Vec<usize> {
    let mut at = Vec::new();
    let n = trial.tiles.len();
    for k in REST..n.saturating_sub(REST) {
        let focusing = trial.focus[k] - trial.focus[k - 1];
        if focusing.abs() > FOCUSING {
            continue;
        }
        if astir(trial, k) > ASTIR {
            continue;
        }
        let jump: [f32; TILES] = std::array::from_fn(|i| jump(trial, k, i, focusing));
        let lit: [f32; TILES] = std::array::from_fn(|i| lit(trial, k, i));
        let all = middle_of(lit);
        let sure: [bool; TILES] =
            std::array::from_fn(|i| jump[i].abs() > JUMP && (lit[i] - all).abs() > LIGHT);
        let count = sure.iter().filter(|s| **s).count();
        let of_sure = jump.iter().zip(&sure).filter(|(_, s)| **s);
        #[allow(clippy::cast_precision_loss)]
        let effect = of_sure.map(|(j, _)| j.abs()).sum::<f32>() / TILES as f32;
        #[allow(clippy::cast_precision_loss)]
        if count == 0 || effect < LEAST || count as f64 > MOST * TILES as f64 {
            continue;
        }
        let rest = trial.mean_without(&sure);
        for i in 0..TILES {
            let beside = jump[i].abs() > BESIDE * rest && near(i).any(|j| sure[j]);
            left_out[i] |= sure[i] || beside;
        }
        at.push(k);
    }
    at
}

/// How much the quieter half of the tiles changes around update `k`, ÷
/// their own plateaus: the largest of them.
fn astir(trial: &Relative, k: usize) -> f32 {
    let mut changes: Vec<f32> = (0..TILES)
        .filter(|i| trial.plateau[*i] > 0.0)
        .map(|i| {
            let before = middle(&trial.tiles[k - REST..k], i);
            let after = middle(&trial.tiles[k..k + REST], i);
            (after - before).abs() / trial.plateau[i].max(0.2)
        })
        .collect();
    changes.sort_by(f32::total_cmp);
    changes.get(changes.len() / 2).copied().unwrap_or(0.0)
}

/// The jump of a tile between updates `k − 1` and `k` beyond what focusing
/// explains; 0 where the tile does not rest on both sides.
fn jump(trial: &Relative, k: usize, i: usize, focusing: f32) -> f32 {
    let t = |n: usize| trial.tiles[n][i];
    let (before, after) = (
        middle(&trial.tiles[k - REST..k], i),
        middle(&trial.tiles[k..k + REST], i),
    );
    let jump = after - before;
    let spread = |from: usize| {
        let v: [f32; REST] = std::array::from_fn(|d| t(from + d));
        v.iter().copied().fold(f32::MIN, f32::max) - v.iter().copied().fold(f32::MAX, f32::min)
    };
    let unrest = spread(k - REST).max(spread(k));
    let own = trial.plateau[i].min(3.0) * focusing;
    if unrest > UNREST * jump.abs() {
        return 0.0;
    }
    jump - own
}

/// How much a tile's light changes between updates `k − 1` and `k`.
fn lit(trial: &Relative, k: usize, i: usize) -> f32 {
    middle(&trial.light[k..k + REST], i) - middle(&trial.light[k - REST..k], i)
}

/// The tiles around one.
fn near(i: usize) -> impl Iterator<Item = usize> {
    let (row, column) = (i / COLUMNS, i % COLUMNS);
    let rows = row.saturating_sub(1)..(row + 2).min(ROWS);
    rows.flat_map(move |r| {
        (column.saturating_sub(1)..(column + 2).min(COLUMNS)).map(move |c| r * COLUMNS + c)
    })
}

/// A tile that never falls below this share of its greatest sharpness…
const NEVER_BELOW: f32 = 0.5;
/// …though the others fall below this…
const OTHERS_BELOW: f32 = 0.2;
/// …and is at least this sharp then, of the area's usual.
const LEAST_SHARP: f32 = 0.25;
/// Least sharpness of what a line spills into the tile beside.
const SPILL: f32 = 0.05;
/// Trials needed to tell.
const FEWEST_TRIALS: usize = 3;

impl Range {
    /// Adds a trial.
    pub fn add(&mut self, trial: &Relative) {
        self.trials += 1;
        for w in trial.tiles.windows(REST) {
            for i in 0..TILES {
                let v = middle(w, i);
                self.low[i] = self.low[i].min(v);
                self.high[i] = self.high[i].max(v);
            }
        }
    }

    /// Marks the tiles that stay sharp while the others are blurred.
    pub fn always_sharp(&self, places: &Places, left_out: &mut [bool; TILES]) {
        let used = |i: &usize| places.energy[*i] > 0.0;
        let ratio = |i: usize| self.low[i] / self.high[i].max(1e-6);
        let ratios = (0..TILES).filter(used).map(|i| f64::from(ratio(i)));
        let others = median(ratios.collect()).unwrap_or(1.0);
        if self.trials < FEWEST_TRIALS || others > f64::from(OTHERS_BELOW) {
            return;
        }
        let sharp = |i: usize| ratio(i) > NEVER_BELOW && self.low[i] > LEAST_SHARP && used(&i);
        let sure: Vec<usize> = (0..TILES).filter(|i| sharp(*i)).collect();
        for i in &sure {
            left_out[*i] = true;
        }
        // The lines reach a little into the tiles beside.
        for i in sure.iter().flat_map(|i| near(*i)) {
            left_out[i] |= self.low[i] > SPILL && f64::from(ratio(i)) > others + 0.15;
        }
    }
}
