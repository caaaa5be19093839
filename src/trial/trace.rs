//! The course of blur over a clip: one value per update of the screen.

use super::curve::Curve;
use crate::sharpness::{Blurred, disc};

/// The blur that one update shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// When it was first seen, seconds as shot.
    pub shown_s: f64,
    /// Blur against the side's reference: diameter of the disc, ‰ of the
    /// screen's height. Below nought where noise makes the picture sharper
    /// than its reference.
    pub permille: f64,
    /// Signed square of it with its standard uncertainty, ‰².
    pub blur: Blurred,
    /// Mean luma of the focus area, 0..=1.
    pub mean: f64,
    /// Share of white pixels.
    pub white: f64,
}

impl Update {
    /// Standard uncertainty of [`Self::permille`] by its own noise, ‰.
    pub fn permille_u(&self) -> f64 {
        root_u(self.permille, self.blur.square_u)
    }
}

/// How far two diameters are apart, ‰. What is sharper than its reference has
/// no blur: below nought there is only noise, and what a film gives back.
pub fn apart(a: f64, b: f64) -> f64 {
    (a.max(0.0) - b.max(0.0)).abs()
}

/// Uncertainty of a root from that of its square. Near nought the root's slope
/// is no guide, and the root of the square's uncertainty stands.
pub fn root_u(root: f64, square_u: f64) -> f64 {
    square_u
        / (2.0 * root.abs())
            .max(square_u.sqrt())
            .max(f64::MIN_POSITIVE)
}

/// Updates with `less` taken off the squares of their blur, ‰².
pub fn lowered(updates: &[Update], less: f64) -> Vec<Update> {
    let of = |u: &Update| {
        let square = u.blur.square - less;
        Update {
            permille: disc::diameter(square),
            blur: Blurred { square, ..u.blur },
            ..*u
        }
    };
    updates.iter().map(of).collect()
}

/// The course of one side's blur.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// In order of time.
    pub updates: Vec<Update>,
    /// Seconds from one update to the next.
    pub period_s: f64,
    /// Median seconds from one frame to the next.
    pub frame_s: f64,
    /// Whether every frame is an update of its own.
    pub every_frame: bool,
}

impl Trace {
    /// The updates of a curve with their blur.
    pub fn new(curve: &Curve, mut blur: impl FnMut(usize) -> Blurred) -> Self {
        let updates = curve.samples.iter().enumerate().map(|(k, s)| {
            let blur = blur(k);
            Update {
                shown_s: s.shown_s,
                permille: disc::diameter(blur.square),
                blur,
                mean: s.mean,
                white: s.white,
            }
        });
        Self {
            updates: updates.collect(),
            period_s: curve.period_s,
            frame_s: curve.frame_s,
            every_frame: curve.every_frame,
        }
    }

    /// The same course with `less` taken off the squares, ‰².
    pub fn lowered(&self, less: f64) -> Self {
        Self {
            updates: lowered(&self.updates, less),
            ..*self
        }
    }

    /// Index of the first update shown at or after `t`.
    pub fn at_or_after(&self, t: f64) -> usize {
        self.updates.partition_point(|u| u.shown_s < t - 1e-9)
    }

    /// Updates shown in `from..to` seconds.
    pub fn between(&self, from: f64, to: f64) -> &[Update] {
        let first = self.at_or_after(from);
        &self.updates[first..self.at_or_after(to).max(first)]
    }
}
