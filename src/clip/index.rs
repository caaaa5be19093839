//! What a clip's headers and packet stamps tell before anything is decoded.

use std::path::PathBuf;

use crate::geometry::{Point, StoredPx, UprightPx};

/// How the stored picture is turned and mirrored for display.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Orientation {
    /// Quarter turns clockwise that make the stored picture upright, 0..=3,
    /// applied after the mirroring.
    pub quarter_turns: u8,
    /// Whether the stored picture is mirrored left–right first.
    pub mirrored: bool,
    /// Visible size of the stored picture, px.
    pub stored: (usize, usize),
}

impl Orientation {
    /// Size of the upright frame, px.
    #[must_use]
    pub fn upright_size(self) -> (usize, usize) {
        let (w, h) = self.stored;
        if self.quarter_turns % 2 == 1 {
            (h, w)
        } else {
            (w, h)
        }
    }

    /// Where a point of the upright frame lies in the stored picture.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn to_stored(self, p: Point<UprightPx>) -> Point<StoredPx> {
        let (w, h) = (self.stored.0 as f64, self.stored.1 as f64);
        let (x, y) = match self.quarter_turns % 4 {
            0 => (p.x, p.y),
            1 => (p.y, h - p.x),
            2 => (w - p.x, h - p.y),
            _ => (w - p.y, p.x),
        };
        Point::new(if self.mirrored { w - x } else { x }, y)
    }
}

/// What is known of a clip without decoding it.
#[derive(Clone, Debug)]
pub struct ClipIndex {
    /// The file as given.
    pub path: PathBuf,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    /// Turn, mirroring and size.
    pub orientation: Orientation,
    /// Presentation stamps of the frames to be shown, seconds from the first
    /// shown one, ascending.
    pub stamps: Vec<f64>,
    /// Median distance of the stamps as a rate, frames per stored second.
    pub stored_fps: f64,
    /// A capture rate stated by the container's metadata, if any.
    pub stated_fps: Option<f64>,
    /// Length of the shown part in stored seconds, last frame included.
    pub duration_s: f64,
    /// Frames that an edit list hides.
    pub hidden_frames: usize,
    /// Oddities worth a person's attention, in plain words.
    pub warnings: Vec<String>,
}
