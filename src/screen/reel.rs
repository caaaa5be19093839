//! Small pictures of a whole clip, kept on disk so that memory stays bounded
//! however long the clip.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use super::Thumb;

/// Bytes held in memory before they go to a temporary file.
const IN_MEMORY: usize = 2 << 20;
/// Luma range that a cell can hold; nominal luma is 0..=1.
const LOW: f32 = -0.25;
const SPAN: f32 = 1.5;

/// A sequence of [`Thumb`]s of one size, appended at the end, read anywhere.
///
/// A cell is kept to 1/43690 of full luma. The temporary file has no name and
/// goes with the value.
pub struct Reel {
    width: usize,
    height: usize,
    len: usize,
    pending: Vec<u8>,
    spilled: u64,
    file: Option<File>,
}

impl Reel {
    /// An empty reel of `width` × `height` cells.
    #[must_use]
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            len: 0,
            pending: Vec::new(),
            spilled: 0,
            file: None,
        }
    }

    /// Number of pictures.
    #[must_use]
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    fn bytes_each(&self) -> usize {
        2 * self.width * self.height
    }

    /// Appends a picture.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push(&mut self, thumb: &Thumb) -> io::Result<()> {
        for v in &thumb.cells {
            let unit = ((v - LOW) / SPAN).clamp(0.0, 1.0);
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let code = (unit * f32::from(u16::MAX)).round() as u16;
            self.pending.extend_from_slice(&code.to_le_bytes());
        }
        self.len += 1;
        if self.pending.len() >= IN_MEMORY {
            self.spill()?;
        }
        Ok(())
    }

    fn spill(&mut self) -> io::Result<()> {
        let file = match &mut self.file {
            Some(f) => f,
            none => none.insert(tempfile::tempfile()?),
        };
        file.seek(SeekFrom::Start(self.spilled))?;
        file.write_all(&self.pending)?;
        self.spilled += self.pending.len() as u64;
        self.pending.clear();
        Ok(())
    }

    /// Appends all pictures of another reel of the same size.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, mut other: Self) -> io::Result<()> {
        if let Some(mut file) = other.file.take() {
            self.spill()?;
            file.seek(SeekFrom::Start(0))?;
            if let Some(mine) = &mut self.file {
                mine.seek(SeekFrom::Start(self.spilled))?;
                self.spilled += io::copy(&mut file.take(other.spilled), mine)?;
            }
        }
        self.pending.extend_from_slice(&other.pending);
        self.len += other.len;
        if self.pending.len() >= IN_MEMORY {
            self.spill()?;
        }
        Ok(())
    }

    /// Reads the picture at `index`.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn get(&mut self, index: usize) -> io::Result<Thumb> {
        let each = self.bytes_each();
        if index >= self.len {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let from = (index * each) as u64;
        let mut bytes = vec![0u8; each];
        if let Some(offset) = from.checked_sub(self.spilled) {
            #[allow(clippy::cast_possible_truncation)]
            let offset = offset as usize;
            bytes.copy_from_slice(&self.pending[offset..offset + each]);
        } else if let Some(file) = &mut self.file {
            file.seek(SeekFrom::Start(from))?;
            file.read_exact(&mut bytes)?;
        }
        let cells = bytes
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
            #[allow(clippy::cast_precision_loss)]
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
