//! The tiles of a stretch of the curve, one set an update of the screen.

use std::io;
use std::ops::Range;

use super::super::curve::Curve;
use crate::screen::even::lit_mean;
use crate::sharpness::clean::Flicker;
use crate::sharpness::{COLUMNS, Places, ROWS, Reading, TILES, TileReel, Tiles, UpdateTiles};

/// All that a clip's frames said.
pub struct Frames<'a> {
    /// Readings of the whole area, as the curve has them.
    pub readings: &'a [Reading],
    /// The same tile by tile, as filmed: one set a sample of the curve.
    pub reel: &'a mut UpdateTiles,
    /// Pixels behind the tiles.
    pub places: &'a Places,
    /// Numbers of the frames that were coded as key frames, rising.
    pub keys: &'a [usize],
    /// Flicker that was taken out of the readings.
    pub flicker: Option<&'a Flicker>,
}

/// A row with less than this share of its light while lit is black.
const BLACK: f64 = 0.5;
/// Share of the light before that is remembered from update to update.
const REMEMBERED: f64 = 0.95;

/// The mean tiles of every sample of a curve, from those of every frame.
/// `black`: rows go black now and then, and are taken from the frames that
/// show them; one that none shows stays as it was. The second value: the share
/// of rows and updates that none shows.
///
/// # Errors
/// When temporary files cannot be read or written.
pub fn update_tiles(
    curve: &Curve,
    reel: &mut TileReel,
    black: bool,
) -> io::Result<(UpdateTiles, f64)> {
    let mut out = UpdateTiles::default();
    let mut before = ([0.0f32; TILES], [0.0f32; TILES]);
    let mut usual = [0.0f64; ROWS];
    let mut hidden = 0;
    for s in &curve.samples {
        let frames: Vec<Tiles> = s
            .clean_frames()
            .map(|k| reel.get(k))
            .collect::<Result<_, _>>()?;
        let (mut energy, mut mean) = ([0.0f32; TILES], [0.0f32; TILES]);
        for (r, usual) in usual.iter_mut().enumerate() {
            let row = r * COLUMNS..(r + 1) * COLUMNS;
            let light = |t: &Tiles| f64::from(t.mean[row.clone()].iter().sum::<f32>());
            let lit = lit_mean(frames.iter().map(light));
            if black && lit < BLACK * *usual {
                *usual *= REMEMBERED;
                hidden += 1;
                energy[row.clone()].copy_from_slice(&before.0[row.clone()]);
                mean[row.clone()].copy_from_slice(&before.1[row]);
                continue;
            }
            *usual = lit.max(REMEMBERED * *usual);
            let seen = |t: &&Tiles| !black || light(t) >= BLACK.sqrt() * lit;
            let shown: Vec<&Tiles> = frames.iter().filter(seen).collect();
            #[allow(clippy::cast_precision_loss)]
            let n = shown.len() as f32;
            for (t, i) in shown.iter().flat_map(|t| row.clone().map(move |i| (t, i))) {
                energy[i] += t.energy[i] / n;
                mean[i] += t.mean[i] / n;
            }
        }
        out.push(&energy, &mean)?;
        before = (energy, mean);
    }
    #[allow(clippy::cast_precision_loss)]
    let hidden = hidden as f64 / (ROWS * curve.samples.len()).max(1) as f64;
    Ok((out, hidden))
}

/// Tiles of some updates.
pub struct Stretch {
    /// Per update and tile: mean squared output without noise, luma², times
    /// the tile's places.
    pub energy: Vec<[f32; TILES]>,
    /// Per update and tile: mean luma.
    pub mean: Vec<[f32; TILES]>,
}

impl Stretch {
    /// The tiles of the curve's samples `range`.
    ///
    /// # Errors
    /// When the tiles cannot be read back.
    pub fn load(curve: &Curve, range: Range<usize>, frames: &mut Frames<'_>) -> io::Result<Self> {
        let mut out = Self {
            energy: Vec::with_capacity(range.len()),
            mean: Vec::with_capacity(range.len()),
        };
        let all: f32 = frames.places.energy.iter().sum();
        for k in range {
            let s = &curve.samples[k];
            let (mut energy, mean) = frames.reel.get(k)?;
            let whole: f32 = energy.iter().sum();
            let shown = &frames.readings[s.clean_frames()];
            #[allow(clippy::cast_precision_loss)]
            let n = shown.len() as f64;
            let read: f64 = shown.iter().map(|r| r.energy / n).sum();
            // What the curve took for noise, by the tiles' share of places.
            let noise = (read - s.value * s.mean * s.mean).max(0.0);
            let share = if read > 0.0 {
                (noise / read).min(1.0) as f32
            } else {
                0.0
            };
            for (e, places) in energy.iter_mut().zip(&frames.places.energy) {
                let part = places / all.max(1.0);
                *e = (*e - share * whole * part).max(0.0);
            }
            out.energy.push(energy);
            out.mean.push(mean);
        }
        if let Some(f) = frames.flicker {
            out.steady(curve, f);
        }
        Ok(out)
    }

    /// Takes what is left of flicker out: rows of tiles brought to their mean
    /// light over some updates.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn steady(&mut self, curve: &Curve, flicker: &Flicker) {
        #[allow(clippy::cast_precision_loss)]
        let half = (flicker.half as f64 * curve.frame_s / curve.period_s).ceil() as usize;
        let rows: Vec<[f32; ROWS]> = self
            .mean
            .iter()
            .map(|m| std::array::from_fn(|r| m[r * COLUMNS..(r + 1) * COLUMNS].iter().sum()))
            .collect();
        for n in 0..rows.len() {
            let near = &rows[n.saturating_sub(half)..(n + half + 1).min(rows.len())];
            for r in 0..ROWS {
                #[allow(clippy::cast_precision_loss)]
                let usual = if flicker.goes_black() {
                    lit_mean(near.iter().map(|m| f64::from(m[r]))) as f32
                } else {
                    near.iter().map(|m| m[r]).sum::<f32>() / near.len() as f32
                };
                if rows[n][r] <= 0.0 || usual <= 0.0 {
                    continue;
                }
                let gain = (usual / rows[n][r]).clamp(0.3, 3.0);
                let more = gain.powf(flicker.exponent as f32);
                for i in r * COLUMNS..(r + 1) * COLUMNS {
                    self.energy[n][i] *= more;
                    self.mean[n][i] *= gain;
                }
            }
        }
    }

    /// Number of updates.
    #[must_use]
    pub fn len(&self) -> usize {
        self.energy.len()
    }
}

/// Which tiles count, and what stands behind them.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// Tiles that count.
    pub tiles: [bool; TILES],
    energy_places: f32,
    mean_places: f32,
    all_places: f32,
}

impl Chosen {
    /// All tiles but those `left_out`.
    #[must_use]
    pub fn without(left_out: &[bool; TILES], places: &Places) -> Self {
        let tiles = left_out.map(|l| !l);
        let sum = |of: &[f32; TILES]| {
            let chosen = of.iter().zip(&tiles).filter(|(_, c)| **c);
            chosen.map(|(n, _)| *n).sum::<f32>()
        };
        Self {
            energy_places: sum(&places.energy),
            mean_places: sum(&places.mean),
            all_places: places.energy.iter().sum(),
            tiles,
        }
    }

    /// Share of the measure's places that count, 0..=1.
    #[must_use]
    pub fn share(&self) -> f64 {
        f64::from(self.energy_places / self.all_places.max(1.0))
    }

    /// Mean luma over the chosen tiles.
    #[must_use]
    pub fn light(&self, mean: &[f32; TILES], places: &Places) -> f64 {
        let sum: f32 = (0..TILES)
            .filter(|i| self.tiles[*i])
            .map(|i| mean[i] * places.mean[i])
            .sum();
        f64::from(sum / self.mean_places.max(1.0))
    }

    /// Σ of an update's energies over the chosen tiles, as if over the whole
    /// area.
    #[must_use]
    pub fn energy(&self, energy: impl Fn(usize) -> f32) -> f64 {
        let sum: f32 = (0..TILES).filter(|i| self.tiles[*i]).map(energy).sum();
        f64::from(sum * self.all_places / self.energy_places.max(1.0))
    }
}
