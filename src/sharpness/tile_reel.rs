//! The tiles of a whole clip, kept on disk.

use std::io;

use super::grid::{ROWS, TILES, Tiles};
use crate::screen::Spool;

/// Bytes of one frame.
const EACH: usize = 4 * (3 * TILES + 2 * ROWS) + TILES;

/// The [`Tiles`] of every frame, in order: some 1.8 kB a frame.
pub struct TileReel {
    spool: Spool,
}

impl Default for TileReel {
    fn default() -> Self {
        Self {
            spool: Spool::new(EACH),
        }
    }
}

impl TileReel {
    /// Number of frames.
    pub fn len(&self) -> usize {
        self.spool.len()
    }

    /// Appends a frame.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push(&mut self, tiles: &Tiles) -> io::Result<()> {
        let wide = [&tiles.energy, &tiles.along, &tiles.mean];
        let short = [&tiles.compared, &tiles.change];
        let floats = wide
            .into_iter()
            .flatten()
            .chain(short.into_iter().flatten());
        self.spool
            .push(floats.flat_map(|v| v.to_le_bytes()).chain(tiles.white))
    }

    /// Appends all frames of another reel.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, other: Self) -> io::Result<()> {
        self.spool.append(other.spool)
    }

    /// Reads the frame at `index`.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn get(&mut self, index: usize) -> io::Result<Tiles> {
        let bytes = self.spool.get(index)?;
        let mut tiles = Tiles::empty();
        let mut floats = bytes
            .chunks_exact(4)
            .map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
        let mut fill = |out: &mut [f32]| {
            for (o, v) in out.iter_mut().zip(&mut floats) {
                *o = v;
            }
        };
        fill(&mut tiles.energy);
        fill(&mut tiles.along);
        fill(&mut tiles.mean);
        fill(&mut tiles.compared);
        fill(&mut tiles.change);
        tiles.white.copy_from_slice(&bytes[EACH - TILES..]);
        Ok(tiles)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_come_back_as_they_were() {
        let mut reel = TileReel::default();
        let tiles = |k: usize| {
            let mut t = Tiles::empty();
            for i in 0..TILES {
                t.energy[i] = (i * k) as f32;
                t.along[i] = (i + k) as f32 * 0.5;
                t.mean[i] = i as f32 / 128.0;
                t.white[i] = (i + k) as u8;
            }
            t.compared[ROWS - 1] = 7.0;
            t.change[0] = 0.25;
            t
        };
        for k in 0..5 {
            reel.push(&tiles(k)).unwrap();
        }
        let mut more = TileReel::default();
        more.push(&tiles(5)).unwrap();
        reel.append(more).unwrap();
        for k in 0..6 {
            assert_eq!(reel.get(k).unwrap(), tiles(k));
        }
        assert!(reel.get(6).is_err());
    }
}
