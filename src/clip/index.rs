//! What a clip's headers and packet stamps tell before anything is decoded.

use std::path::PathBuf;

use ffmpeg_next::Rational;
use ffmpeg_next::format::Pixel;

use super::Still;
use super::open::ProbeOptions;
use super::stretch::Stretch;
use super::watch;
use crate::geometry::{Point, StoredPx, UprightPx};
use crate::units::StoredTime;

/// How the stored picture is turned and mirrored for display.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
    pub fn upright_size(self) -> (usize, usize) {
        let (w, h) = self.stored;
        if self.quarter_turns % 2 == 1 {
            (h, w)
        } else {
            (w, h)
        }
    }

    /// Where a point of the upright frame lies in the stored picture.
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

    /// Where a point of the stored picture lies in the upright frame.
    pub fn to_upright(self, p: Point<StoredPx>) -> Point<UprightPx> {
        let (w, h) = (self.stored.0 as f64, self.stored.1 as f64);
        let (x, y) = (if self.mirrored { w - p.x } else { p.x }, p.y);
        match self.quarter_turns % 4 {
            0 => Point::new(x, y),
            1 => Point::new(h - y, x),
            2 => Point::new(w - x, h - y),
            _ => Point::new(y, w - x),
        }
    }
}

/// What is known of a clip without decoding it.
///
/// Made by [`super::probe()`]; a default one has no file behind it and is good
/// for trying out what only looks at stamps.
#[derive(Clone, Debug, Default)]
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
    /// Median distance of the stamps as a rate, frames per stored second, the
    /// rounding of the container's tick averaged out; 0 where a single frame
    /// tells none.
    pub stored_fps: f64,
    /// A capture rate stated by the container's metadata, if any.
    pub stated_fps: Option<f64>,
    /// Length of the shown part in stored seconds, last frame included.
    pub duration_s: f64,
    /// Frames that an edit list hides.
    pub hidden_frames: usize,
    /// Steps between stamps that are longer than 1.5 frames.
    pub gaps: usize,
    /// FFmpeg's name of the transfer curve (`bt709`, `arib-std-b67` for HLG,
    /// `smpte2084` for PQ, `unspecified`).
    pub transfer: String,
    /// Oddities worth a person's attention, in plain words.
    pub warnings: Vec<String>,
    /// The first frame; take it out when done with it, it is large.
    pub first: Option<Still>,
    /// What decoding needs to know.
    pub(super) plan: DecodePlan,
}

/// Where the frames are and how to get at them.
#[derive(Clone, Debug)]
pub(super) struct DecodePlan {
    /// Number of the video track.
    pub track: usize,
    /// Length of a tick in seconds.
    pub time_base: Rational,
    /// Stamp of the first shown frame, ticks.
    pub origin: i64,
    /// Ticks from frame to frame where the container keeps no presentation
    /// stamps and the step is constant (AVI).
    pub step: Option<i64>,
    /// Pixel format of the first frame.
    pub pixel: Pixel,
    /// The stretches, in order.
    pub stretches: Vec<Stretch>,
    /// Frames that should be shown, where the container says.
    pub promised: Option<usize>,
    /// Packets to be shown that are in the file.
    pub present: usize,
    /// Packets after which nothing is read; `None`: to the file's end.
    pub only: Option<usize>,
    /// Whether the decoder is to refuse what it can only guess at.
    pub strict: bool,
    /// How the file was opened.
    pub options: ProbeOptions,
    /// Length of the file in bytes.
    pub length: u64,
}

impl ClipIndex {
    /// Frames per stored second of some of the stamps (by number), the
    /// rounding of the container's tick averaged out; `None` for fewer than
    /// two.
    pub fn stored_rate(&self, frames: std::ops::Range<usize>) -> Option<f64> {
        let base = self.plan.time_base;
        // A clip without a file has no tick of its own.
        let tick = if base == Rational(1, 1) {
            1e-6
        } else {
            f64::from(base)
        };
        let stamps = self.stamps.get(frames)?;
        let ticks: Vec<i64> = stamps.iter().map(|s| (s / tick).round() as i64).collect();
        super::rate::beat(&ticks, tick).map(|b| b.fps)
    }

    /// Threads of FFmpeg's own that each stretch should have: one each would leave
    /// cores idle where stretches are fewer than workers, or not many more, so that
    /// their second round has few.
    #[must_use]
    pub fn threads(&self, workers: usize) -> usize {
        let workers = watch::workers(workers, self.orientation.stored);
        let stretches = self.plan.stretches.len().max(1);
        match stretches {
            few if few <= workers => workers.div_ceil(few),
            some if some < 2 * workers => 2,
            _ => 1,
        }
    }

    /// The beginning of the clip, as long as `frames` frames need: whole
    /// stretches, at least one. For a look; what is missing is not reported.
    pub fn head(&self, frames: usize) -> Self {
        let mut head = self.clone();
        head.first = None;
        let stretches = &mut head.plan.stretches;
        let keep = stretches.iter().take_while(|s| s.first < frames).count();
        if keep.max(1) >= stretches.len() {
            return head;
        }
        stretches.truncate(keep.max(1));
        let Some(last) = stretches.last().copied() else {
            return head;
        };
        let until = head.plan.time(last.to).0;
        head.stamps.retain(|t| *t < until - 1e-9);
        head.plan.only = Some(last.tail_end);
        head.plan.promised = None;
        head
    }
}

impl DecodePlan {
    /// Time of a stamp.
    pub(super) fn time(&self, stamp: i64) -> StoredTime {
        StoredTime(stamp.saturating_sub(self.origin) as f64 * f64::from(self.time_base))
    }
}

impl Default for DecodePlan {
    fn default() -> Self {
        Self {
            track: 0,
            time_base: Rational(1, 1),
            origin: 0,
            step: None,
            pixel: Pixel::None,
            stretches: Vec::new(),
            promised: None,
            present: 0,
            only: None,
            strict: false,
            options: ProbeOptions::default(),
            length: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_comes_back_from_every_orientation() {
        for quarter_turns in 0..4 {
            for mirrored in [false, true] {
                let o = Orientation {
                    quarter_turns,
                    mirrored,
                    stored: (640, 360),
                };
                let p = Point::new(100.5, 33.25);
                assert_eq!(o.to_upright(o.to_stored(p)), p, "{o:?}");
            }
        }
    }
}
