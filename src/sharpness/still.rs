//! Mean pictures of the subject while it is sharp.
//!
//! As frames go by, the sharpest run of like frames since the picture was last
//! blurred is averaged; when the picture blurs again the mean is kept. So every
//! stretch of sharp film leaves one still, with the noise of one frame divided
//! by the number of frames. Stills wait in a temporary file.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

/// Frames averaged at most.
const MOST: u32 = 24;
/// Fewest frames that make a still.
const FEWEST: u32 = 6;
/// A frame sharper than the mean so far by this factor starts anew.
const SHARPER: f64 = 1.03;
/// A frame belongs to the run down to this share of its sharpness.
const ALIKE: f64 = 0.97;
/// Below this share the picture counts as blurred again.
const BLURRED: f64 = 0.6;
/// So many blurred frames end a run: one may be a stray.
const BLURRED_FRAMES: u32 = 3;
/// Luma range of a stored pixel; nominal luma is 0..=1.
const LOW: f32 = -0.25;
const SPAN: f32 = 1.5;

/// One still's place in the film.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Still {
    /// First frame averaged.
    pub first: usize,
    /// Last frame averaged.
    pub last: usize,
    /// Number of frames averaged.
    pub frames: u32,
}

/// Stills of a film, in order; pictures of one size, on disk.
#[derive(Default)]
pub struct Stills {
    list: Vec<Still>,
    pixels: usize,
    file: Option<File>,
}

impl Stills {
    /// What there is.
    #[must_use]
    pub fn list(&self) -> &[Still] {
        &self.list
    }

    fn bytes(&self) -> u64 {
        (self.list.len() * self.pixels * 2) as u64
    }

    fn push(&mut self, still: Still, picture: impl Iterator<Item = f32>) -> io::Result<()> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let bytes: Vec<u8> = picture
            .flat_map(|v| {
                let unit = ((v - LOW) / SPAN).clamp(0.0, 1.0);
                ((unit * f32::from(u16::MAX)).round() as u16).to_le_bytes()
            })
            .collect();
        self.pixels = bytes.len() / 2;
        let end = self.bytes();
        let file = opened(&mut self.file)?;
        file.seek(SeekFrom::Start(end))?;
        file.write_all(&bytes)?;
        self.list.push(still);
        Ok(())
    }

    /// Appends those of the next stretch, which begins at frame `at`.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, mut other: Self, at: usize) -> io::Result<()> {
        let Some(mut file) = other.file.take() else {
            return Ok(());
        };
        self.pixels = other.pixels;
        let end = self.bytes();
        file.seek(SeekFrom::Start(0))?;
        let mine = opened(&mut self.file)?;
        mine.seek(SeekFrom::Start(end))?;
        io::copy(&mut file, mine)?;
        self.list.extend(other.list.iter().map(|s| Still {
            first: s.first + at,
            last: s.last + at,
            ..*s
        }));
        Ok(())
    }

    /// The picture of still `k`, luma, row by row.
    ///
    /// # Errors
    /// When there is none or the temporary file cannot be read.
    pub fn picture(&mut self, k: usize) -> io::Result<Vec<f32>> {
        let each = self.pixels * 2;
        let (true, Some(file)) = (k < self.list.len(), &mut self.file) else {
            return Err(io::ErrorKind::UnexpectedEof.into());
        };
        let mut bytes = vec![0; each];
        file.seek(SeekFrom::Start((k * each) as u64))?;
        file.read_exact(&mut bytes)?;
        Ok(bytes
            .chunks_exact(2)
            .map(|b| f32::from(u16::from_le_bytes([b[0], b[1]])) / f32::from(u16::MAX) * SPAN + LOW)
            .collect())
    }
}

fn opened(file: &mut Option<File>) -> io::Result<&mut File> {
    if file.is_none() {
        *file = Some(tempfile::tempfile()?);
    }
    file.as_mut().ok_or_else(|| io::ErrorKind::NotFound.into())
}

/// Watches a stretch of film for stills.
#[derive(Default)]
pub struct Averager {
    sum: Vec<f32>,
    level: f64,
    still: Option<Still>,
    blurred: u32,
    kept: Stills,
}

impl Averager {
    /// Looks at frame `index` of sharpness `level` (any unit, above 0);
    /// `picture` fills the area's rows only if they are wanted.
    ///
    /// # Errors
    /// When the temporary file cannot be written.
    pub fn see(
        &mut self,
        index: usize,
        level: f64,
        picture: impl FnOnce(&mut Vec<f32>, bool),
    ) -> io::Result<()> {
        match &mut self.still {
            Some(still) if level <= SHARPER * self.level => {
                if level >= ALIKE * self.level {
                    self.blurred = 0;
                    if still.frames < MOST {
                        still.frames += 1;
                        still.last = index;
                        self.level += (level - self.level) / f64::from(still.frames);
                        picture(&mut self.sum, true);
                    }
                } else if level < BLURRED * self.level {
                    self.blurred += 1;
                    if self.blurred >= BLURRED_FRAMES {
                        self.keep()?;
                    }
                }
            }
            _ => {
                self.still = Some(Still {
                    first: index,
                    last: index,
                    frames: 1,
                });
                self.level = level;
                self.blurred = 0;
                picture(&mut self.sum, false);
            }
        }
        Ok(())
    }

    fn keep(&mut self) -> io::Result<()> {
        match self.still.take() {
            Some(still) if still.frames >= FEWEST => {
                #[allow(clippy::cast_precision_loss)]
                let share = 1.0 / still.frames as f32;
                self.kept.push(still, self.sum.iter().map(|v| v * share))
            }
            _ => Ok(()),
        }
    }

    /// The stills seen.
    ///
    /// # Errors
    /// When the temporary file cannot be written.
    pub fn finish(mut self) -> io::Result<Stills> {
        self.keep()?;
        Ok(self.kept)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(levels: &[f64]) -> Stills {
        let mut a = Averager::default();
        for (k, level) in levels.iter().enumerate() {
            a.see(k, *level, |sum, add| {
                let v = k as f32 / 1000.0;
                if add {
                    sum.iter_mut().for_each(|s| *s += v);
                } else {
                    *sum = vec![v; 4];
                }
            })
            .unwrap();
        }
        a.finish().unwrap()
    }

    #[test]
    fn the_sharpest_run_of_every_stretch_is_averaged() {
        let mut levels = vec![0.1; 10];
        levels.extend([0.3, 0.5, 0.8, 0.95]);
        levels.extend([1.0; 10]);
        levels.extend([0.2; 10]);
        levels.extend([0.5; 10]);
        let mut stills = run(&levels);
        let [first, second] = stills.list() else {
            panic!("{:?}", stills.list());
        };
        assert_eq!((first.first, first.last, first.frames), (14, 23, 10));
        assert_eq!((second.first, second.last), (34, 43));
        let mean = stills.picture(0).unwrap();
        assert!((mean[0] - 0.0185).abs() < 1e-4, "{mean:?}");
        assert!(stills.picture(2).is_err());
    }

    #[test]
    fn stretches_join_as_one() {
        let (a, b) = (run(&[1.0; 8]), run(&[1.0; 9]));
        let mut whole = Stills::default();
        whole.append(a, 0).unwrap();
        whole.append(b, 8).unwrap();
        assert_eq!(whole.list()[1].first, 8);
        let mean = whole.picture(1).unwrap();
        assert!((mean[3] - 0.004).abs() < 1e-4, "{mean:?}");
    }
}
