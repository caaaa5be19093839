//! Tiles of a whole clip, one set an update of the screen, in few bytes.
//!
//! Energies are kept as logarithms, to 0.14 %: far below what noise does to a
//! tile. Means are kept to 1/8192 of full luma.

use std::io;

use super::grid::TILES;
use crate::screen::Spool;

/// Steps of an energy's code per doubling.
const PER_OCTAVE: f64 = 256.0;
/// Added to a logarithm, so that every energy an `f32` holds has a code.
const OCTAVES: f64 = 128.0;
/// Steps of a mean's code per unit of luma.
const PER_LUMA: f32 = 4096.0;

/// Energies and means of the tiles of every update, in order.
pub struct UpdateTiles {
    spool: Spool,
}

/// Codes of one update: the energies', then the means'.
pub type TileCodes = [u16; 2 * TILES];

impl Default for UpdateTiles {
    fn default() -> Self {
        Self {
            spool: Spool::new(4 * TILES),
        }
    }
}

impl UpdateTiles {
    /// Number of updates.
    #[must_use]
    pub fn len(&self) -> usize {
        self.spool.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.spool.is_empty()
    }

    /// Appends an update: mean over its frames of the tiles' Σ of squared
    /// output (luma²) and of their luma.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push(&mut self, energy: &[f32; TILES], mean: &[f32; TILES]) -> io::Result<()> {
        let mut codes = [0; 2 * TILES];
        for i in 0..TILES {
            codes[i] = energy_code(energy[i]);
            codes[TILES + i] = mean_code(mean[i]);
        }
        self.push_codes(&codes)
    }

    /// Appends an update as [`Self::codes`] gave it.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push_codes(&mut self, codes: &TileCodes) -> io::Result<()> {
        self.spool.push(codes.iter().flat_map(|c| c.to_le_bytes()))
    }

    /// The codes of an update. Energy: 2^(c ÷ 256 − 128), 0 for 0. Mean:
    /// c ÷ 4096 − 1.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn codes(&mut self, index: usize) -> io::Result<TileCodes> {
        let bytes = self.spool.get(index)?;
        Ok(std::array::from_fn(|i| {
            u16::from_le_bytes([bytes[2 * i], bytes[2 * i + 1]])
        }))
    }

    /// Energies and means of an update.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn get(&mut self, index: usize) -> io::Result<([f32; TILES], [f32; TILES])> {
        let codes = self.codes(index)?;
        Ok((
            std::array::from_fn(|i| energy_of(codes[i])),
            std::array::from_fn(|i| f32::from(codes[TILES + i]) / PER_LUMA - 1.0),
        ))
    }
}

// `libm` gives the same bits on every machine.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn energy_code(energy: f32) -> u16 {
    if !(energy > 0.0 && energy.is_finite()) {
        return 0;
    }
    let log = libm::log2(f64::from(energy)) + OCTAVES;
    (log * PER_OCTAVE).round().clamp(1.0, f64::from(u16::MAX)) as u16
}

#[allow(clippy::cast_possible_truncation)]
fn energy_of(code: u16) -> f32 {
    if code == 0 {
        return 0.0;
    }
    libm::exp2(f64::from(code) / PER_OCTAVE - OCTAVES) as f32
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn mean_code(mean: f32) -> u16 {
    ((mean + 1.0) * PER_LUMA)
        .round()
        .clamp(0.0, f32::from(u16::MAX)) as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_come_back_to_a_seventh_of_a_per_cent() {
        let mut kept = UpdateTiles::default();
        #[allow(clippy::cast_precision_loss)]
        let energy = |k: usize| std::array::from_fn(|i| 1e-9 * 1.7f32.powi((i % 60 + k) as i32));
        #[allow(clippy::cast_precision_loss)]
        let mean = |k: usize| std::array::from_fn(|i| (i + k) as f32 / 140.0);
        for k in 0..4 {
            kept.push(&energy(k), &mean(k)).unwrap();
        }
        kept.push(&[0.0; TILES], &[0.0; TILES]).unwrap();
        for k in 0..4 {
            let (e, m) = kept.get(k).unwrap();
            for i in 0..TILES {
                let want: [f32; TILES] = energy(k);
                assert!((e[i] / want[i] - 1.0).abs() < 0.0014, "{k} {i}");
                let want: [f32; TILES] = mean(k);
                assert!((m[i] - want[i]).abs() < 1.3e-4, "{k} {i}");
            }
        }
        assert_eq!(kept.get(4).unwrap(), ([0.0; TILES], [0.0; TILES]));
        assert!(kept.get(5).is_err());
    }

    #[test]
    fn codes_come_back_as_codes() {
        for code in 1..=u16::MAX {
            let energy = energy_of(code);
            if energy.is_normal() {
                assert_eq!(energy_code(energy), code);
            }
        }
    }
}
