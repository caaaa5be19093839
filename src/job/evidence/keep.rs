//! Raw crops of the focus area, kept while a clip is decoded.

use std::io;

use crate::clip::{LumaFrame, Orientation};
use crate::geometry::Point;
use crate::screen::{Region, Spool};
use crate::store::evidence::Grey;

/// Largest crop, px of the upright film: a reduced picture would hide blur.
const LARGEST: (usize, usize) = (320, 240);
/// Crops a second of true time: one per update of a usual screen.
const A_SECOND: f64 = 60.0;

/// Where the crop lies and how often it is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Eye {
    region: Region,
    every: usize,
    orientation: Orientation,
}

impl Eye {
    /// A crop around the centre of the focus area of a stored picture.
    pub fn new(area: &Region, orientation: Orientation) -> Self {
        let turned = orientation.quarter_turns % 2 == 1;
        let most = if turned {
            (LARGEST.1, LARGEST.0)
        } else {
            LARGEST
        };
        let (width, height) = (area.width.min(most.0), area.height.min(most.1));
        Self {
            region: Region {
                x0: area.x0 + (area.width - width) / 2,
                y0: area.y0 + (area.height - height) / 2,
                width,
                height,
                inside: Vec::new(),
            },
            every: 1,
            orientation: Orientation {
                stored: (width, height),
                ..orientation
            },
        }
    }

    /// The same for a film of so many frames a second.
    pub fn at_rate(mut self, fps: f64) -> Self {
        let every = (fps / A_SECOND).round().max(1.0) as usize;
        self.every = every;
        self
    }

    /// A crop as the screen's user would see it.
    pub fn upright(&self, stored: &[u8]) -> Grey {
        let (width, height) = self.orientation.upright_size();
        let mut pixels = Vec::with_capacity(stored.len());
        for y in 0..height {
            for x in 0..width {
                let centre = Point::new(x as f64 + 0.5, y as f64 + 0.5);
                let at = self.orientation.to_stored(centre);
                let place = at.y as usize * self.region.width + at.x as usize;
                pixels.push(stored.get(place).copied().unwrap_or(0));
            }
        }
        Grey {
            width,
            height,
            pixels,
        }
    }
}

/// The crops of a stretch, or of a whole clip, on disk.
pub struct Kept {
    frames: Vec<usize>,
    spool: Spool,
}

impl Kept {
    /// None yet.
    pub fn new(eye: &Eye) -> Self {
        Self {
            frames: Vec::new(),
            spool: Spool::new(eye.region.width * eye.region.height),
        }
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.frames.is_empty()
    }

    /// Keeps the crop of frame `index` if it is its turn.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn see(
        &mut self,
        eye: &Eye,
        index: usize,
        frame: &LumaFrame<'_>,
        shift: (i16, i16),
        row: &mut Vec<f32>,
    ) -> io::Result<()> {
        let area = &eye.region;
        if !index.is_multiple_of(eye.every) || area.width * area.height == 0 {
            return Ok(());
        }
        let ((x0, y0), _) = area.moved(shift, frame.size);
        row.resize(area.width, 0.0);
        self.frames.push(index);
        self.spool.push((0..area.height).flat_map(|y| {
            frame.row(y0 + y, x0, row);
            let bytes: Vec<u8> = row.iter().map(|v| (v * 255.0 + 0.5) as u8).collect();
            bytes
        }))
    }

    /// Appends the crops of the next stretch, which begins at frame `before`.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, other: Self, before: usize) -> io::Result<()> {
        self.frames.extend(other.frames.iter().map(|k| before + k));
        self.spool.append(other.spool)
    }

    /// The crop nearest to an instant: its frame and its picture.
    ///
    /// # Errors
    /// When the temporary file cannot be read.
    pub fn nearest(
        &mut self,
        eye: &Eye,
        times: &[f64],
        t: f64,
    ) -> io::Result<Option<(usize, Grey)>> {
        let time = |place: usize| times.get(self.frames[place]).copied().unwrap_or(f64::MAX);
        let after = self
            .frames
            .partition_point(|k| times.get(*k).is_some_and(|s| *s < t));
        let near = [after.checked_sub(1), Some(after)]
            .into_iter()
            .flatten()
            .filter(|p| *p < self.frames.len())
            .min_by(|a, b| (time(*a) - t).abs().total_cmp(&(time(*b) - t).abs()));
        let Some(place) = near else {
            return Ok(None);
        };
        let picture = eye.upright(self.spool.get(place)?);
        Ok(Some((self.frames[place], picture)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::Depth;
    use crate::units::StoredTime;

    fn area() -> Region {
        Region {
            x0: 10,
            y0: 20,
            width: 400,
            height: 300,
            inside: Vec::new(),
        }
    }

    fn eye(quarter_turns: u8) -> Eye {
        Eye::new(
            &area(),
            Orientation {
                quarter_turns,
                mirrored: false,
                stored: (640, 480),
            },
        )
    }

    #[test]
    fn the_crop_is_the_middle_of_the_area_at_its_own_pixels() {
        let samples: Vec<u8> = (0..640 * 480).map(|k| (k % 640 / 4) as u8).collect();
        let frame = LumaFrame {
            time: StoredTime(0.0),
            size: (640, 480),
            samples: Depth::Eight(&samples),
            stride: 640,
            levels: (0.0, 255.0),
            key: true,
            chroma: None,
        };
        let eye = eye(0).at_rate(240.0);
        let mut kept = Kept::new(&eye);
        for k in 0..9 {
            kept.see(&eye, k, &frame, (0, 0), &mut Vec::new()).unwrap();
        }
        assert_eq!(kept.frames, [0, 4, 8]);
        let mut whole = Kept::new(&eye);
        whole.append(kept, 100).unwrap();
        assert_eq!(whole.frames, [100, 104, 108]);
        let times: Vec<f64> = (0..109).map(|k| f64::from(k) / 240.0).collect();
        let (at, grey) = whole.nearest(&eye, &times, 0.43).unwrap().unwrap();
        assert_eq!((at, grey.width, grey.height), (104, 320, 240));
        // The area's middle column is 210, the crop begins 160 to its left.
        assert_eq!(
            (grey.pixels[0], grey.pixels[319]),
            (50 / 4, (369 / 4) as u8)
        );
    }

    #[test]
    fn a_turned_film_is_set_upright() {
        let eye = eye(1);
        let stored: Vec<u8> = (0..240 * 300).map(|k| u8::from(k % 240 < 120)).collect();
        let grey = eye.upright(&stored);
        assert_eq!((grey.width, grey.height), (300, 240));
        // Left in the stored picture is above in the upright one.
        assert_eq!((grey.pixels[0], grey.pixels[300 * 239]), (1, 0));
    }
}
