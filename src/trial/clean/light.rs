//! Light that changes while the subject rests: exposure that drifts, a gain
//! that follows the target, a reflection that wanders.
//!
//! Focus does not change how bright a tile is, so what its mean does after
//! onset is light. How the sharpness follows it is learnt from the clip: while
//! focus rests, energies go with the light to some power β (2: pure gain; 0 or
//! below: light added to the picture). Every tile is then brought to the light
//! it has at the end of its trial.

use super::super::curve::median;
use super::overlay::Relative;
use super::tiles::{Chosen, Stretch};
use crate::sharpness::{Places, TILES};

/// Change of light (logarithm) within a trial that matters: of the whole area,
/// and of its tiles (root mean square).
const LEAST_WHOLE: f64 = 0.035;
const LEAST_TILES: f64 = 0.045;
/// A tile's light is compared only while the picture is this sharp: blur
/// spreads light over tiles.
const SHARP: f32 = 0.6;
/// Least change of a tile's light that tells the power, and the least
/// sharpness of the tile, ÷ usual.
const LEAST_STEP: f32 = 0.015;
const LEAST_SHARP: f32 = 0.2;
/// Pairs needed, and pairs that suffice.
const FEWEST: usize = 100;
const ENOUGH: usize = 40_000;
/// Powers beyond these are no light.
const POWERS: (f64, f64) = (-4.0, 4.0);

/// What one trial says of its light.
#[derive(Clone, Debug)]
pub struct TrialLight {
    /// Each tile's mean luma at the end of the trial.
    pub tiles: [f32; TILES],
    /// The area's.
    pub whole: f64,
    /// Largest change of the area's light after onset (logarithm).
    pub change: f64,
    /// Largest root mean square change of the tiles' light while sharp.
    pub uneven: f64,
}

impl TrialLight {
    /// From a trial's updates, onset to end.
    #[must_use]
    pub fn of(
        stretch: &Stretch,
        relative: &Relative,
        chosen: &Chosen,
        places: &Places,
        hold: usize,
    ) -> Option<Self> {
        let from = stretch.len().checked_sub(hold.max(3))?;
        let tiles: [f32; TILES] = std::array::from_fn(|i| {
            let v = stretch.mean[from..].iter().map(|m| f64::from(m[i]));
            #[allow(clippy::cast_possible_truncation)]
            let m = median(v.collect()).unwrap_or(0.0) as f32;
            m
        });
        let whole = chosen.light(&tiles, places);
        let mut out = Self {
            tiles,
            whole,
            change: 0.0,
            uneven: 0.0,
        };
        for (mean, focus) in stretch.mean.iter().zip(&relative.focus) {
            let now = (chosen.light(mean, places) / whole.max(1e-3)).max(1e-3);
            out.change = out.change.max(now.ln().abs());
            if *focus > SHARP {
                out.uneven = out.uneven.max(out.unevenness(mean, chosen, places));
            }
        }
        Some(out)
    }

    fn unevenness(&self, mean: &[f32; TILES], chosen: &Chosen, places: &Places) -> f64 {
        let (mut sum, mut n) = (0.0, 0.0);
        for i in (0..TILES).filter(|i| chosen.tiles[*i] && places.mean[*i] > 0.0) {
            let change = f64::from(mean[i].max(1e-3) / self.tiles[i].max(1e-3)).ln();
            sum += change * change;
            n += 1.0;
        }
        (sum / f64::max(n, 1.0)).sqrt()
    }

    /// Whether the light changed enough to matter.
    #[must_use]
    pub fn unsteady(&self) -> bool {
        self.change > LEAST_WHOLE || self.uneven > LEAST_TILES
    }

    /// A tile's energy brought to the light at the end of the trial.
    #[must_use]
    pub fn relit(&self, energy: f32, mean: f32, i: usize, power: f64) -> f32 {
        let gain = self.tiles[i].max(1e-3) / mean.max(1e-3);
        #[allow(clippy::cast_possible_truncation)]
        let power = power as f32;
        energy * gain.clamp(0.4, 2.5).powf(power)
    }
}

/// Learns how the sharpness follows the light.
#[derive(Clone, Debug, Default)]
pub struct Power {
    pairs: Vec<(f64, f64)>,
}

impl Power {
    /// Adds the second half of a trial, where focus rests.
    pub fn add(&mut self, stretch: &Stretch, relative: &Relative, chosen: &Chosen) {
        let n = stretch.len();
        let apart = (n / 6).max(2);
        for k in n / 2..n.saturating_sub(apart) {
            if self.pairs.len() >= ENOUGH {
                return;
            }
            let pairs = (0..TILES)
                .filter(|i| chosen.tiles[*i])
                .filter(|i| {
                    let sharp = |k: usize| relative.tiles[k][*i] > LEAST_SHARP;
                    sharp(k) && sharp(k + apart)
                })
                .filter_map(|i| {
                    let light = (stretch.mean[k + apart][i] / stretch.mean[k][i].max(1e-3)).ln();
                    let sharp = (stretch.energy[k + apart][i] / stretch.energy[k][i]).ln();
                    let told = light.abs() > LEAST_STEP && sharp.is_finite();
                    told.then(|| (f64::from(sharp / light), f64::from(light.abs())))
                });
            self.pairs.extend(pairs);
        }
    }

    /// The power, where enough was seen: the median, changes of light as
    /// weights.
    #[must_use]
    pub fn told(mut self) -> Option<f64> {
        if self.pairs.len() < FEWEST {
            return None;
        }
        self.pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let total: f64 = self.pairs.iter().map(|p| p.1).sum();
        let mut below = 0.0;
        let middle = self.pairs.iter().find(|p| {
            below += p.1;
            below >= total / 2.0
        })?;
        Some(middle.0.clamp(POWERS.0, POWERS.1))
    }
}
