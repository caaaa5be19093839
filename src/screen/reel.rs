//! Small pictures of a whole clip, kept on disk so that memory stays bounded
//! however long the clip.

use std::io;

use super::{Spool, Thumb};

/// Luma range that a cell can hold; nominal luma is 0..=1.
const LOW: f32 = -0.25;
const SPAN: f32 = 1.5;

/// A sequence of [`Thumb`]s of one size, appended at the end, read anywhere.
///
/// A cell is kept to 1/43690 of full luma.
pub struct Reel {
    width: usize,
    height: usize,
    spool: Spool,
}

impl Reel {
    /// An empty reel of `width` × `height` cells.
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            spool: Spool::new(2 * width * height),
        }
    }

    /// Number of pictures.
    pub fn len(&self) -> usize {
        self.spool.len()
    }

    /// Appends a picture.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push(&mut self, thumb: &Thumb) -> io::Result<()> {
        self.spool.push(thumb.cells.iter().flat_map(|v| {
            let unit = ((v - LOW) / SPAN).clamp(0.0, 1.0);
            let code = (unit * f32::from(u16::MAX)).round() as u16;
            code.to_le_bytes()
        }))
    }

    /// Appends a picture whose cells are kept to 1/170 of full luma: a byte
    /// each, for pictures that are to be kept for long.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push_coarse(&mut self, thumb: &Thumb) -> io::Result<()> {
        self.push_codes(thumb.cells.iter().map(|v| {
            let unit = ((v - LOW) / SPAN).clamp(0.0, 1.0);
            (unit * f32::from(u8::MAX)).round() as u8
        }))
    }

    /// Appends a coarse picture as [`Self::codes`] gave it.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push_codes(&mut self, codes: impl IntoIterator<Item = u8>) -> io::Result<()> {
        // 65535 = 255 × 257: a coarse step is a whole number of fine ones.
        self.spool.push(codes.into_iter().flat_map(|c| [c, c]))
    }

    /// The coarse picture at `index`, a byte a cell: (luma + 0.25) ÷ 1.5 × 255.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn codes(&mut self, index: usize) -> io::Result<Vec<u8>> {
        let bytes = self.spool.get(index)?;
        Ok(bytes.chunks_exact(2).map(|b| b[1]).collect())
    }

    /// Luma that one coarse step stands for.
    pub const COARSE_STEP: f32 = SPAN / 255.0;

    /// Appends all pictures of another reel of the same size.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, other: Self) -> io::Result<()> {
        self.spool.append(other.spool)
    }

    /// Reads the picture at `index`.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn get(&mut self, index: usize) -> io::Result<Thumb> {
        let cells = self
            .spool
            .get(index)?
            .chunks_exact(2)
            .map(|b| f32::from(u16::from_le_bytes([b[0], b[1]])) / f32::from(u16::MAX) * SPAN + LOW)
            .collect();
        Ok(Thumb {
            width: self.width,
            height: self.height,
            cells,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_come_back_in_order_across_spills_and_joins() {
        let thumb = |i: usize| Thumb {
            width: 64,
            height: 48,
            cells: vec![(i % 97) as f32 / 97.0; 64 * 48],
        };
        let mut whole = Reel::new(64, 48);
        let mut at = 0;
        for part in [3, 700, 10, 400] {
            let mut reel = Reel::new(64, 48);
            for _ in 0..part {
                reel.push(&thumb(at)).unwrap();
                at += 1;
            }
            whole.append(reel).unwrap();
        }
        assert_eq!(whole.len(), 1113);
        for i in [0, 2, 3, 400, 702, 703, 712, 713, 1112] {
            let got = whole.get(i).unwrap();
            assert!((got.cells[5] - thumb(i).cells[5]).abs() < 1e-4, "{i}");
        }
        assert!(whole.get(1113).is_err());
    }
}
