//! Where the screen is in every frame, against where it was in the first.
//!
//! In: the screen's quadrilateral in stored pixels, the clip's first frame,
//! then any frame. Out: a [`Place`]: how far the screen has moved in film
//! pixels (sub-pixel, right and down), the whole pixels by which regions
//! follow, and how wide its edges are, which tells the filming camera's focus.
//!
//! Short strips are read across the four sides, from the dark bezel into the
//! lit screen, and the edge in each is set against the same edge in the first
//! frame. The live picture behind the edge changes all the time, so a place is
//! the half-way crossing between the levels on either side (ISO 12233 locates
//! slanted edges in that spirit), the median over a side's strips, and a
//! translation fitted to the sides. Every place is told against the first
//! frame and never against the frame before, so errors do not add up and a
//! clip may be read in stretches.
//!
//! Pixels are never resampled: interpolation blurs by an amount that depends
//! on the fraction of a pixel, and the result would look like focus. Regions
//! move by whole pixels, with play, so that noise does not make them jitter.
//!
//! What can fail: [`Untracked`], where the first frame does not show enough of
//! the sides; then everything stays where the rig put it.

use serde::{Deserialize, Serialize};

mod edge;
mod review;
mod side;
mod strip;
#[cfg(test)]
mod tests;
mod track;

pub(crate) use review::{Review, review};
pub(crate) use track::{Place, Sight, Steady, Tracker};

/// Why a screen cannot be followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Untracked {
    /// The whole frame is the feed: there is no edge to follow.
    Feed,
    /// No first frame to measure against.
    NoFirstFrame,
    /// Too little of the sides stands out from the bezel in the first frame.
    Edges,
}

impl Untracked {
    /// In plain words, to follow "because".
    pub fn words(self) -> &'static str {
        match self {
            Self::Feed => "the whole frame is the feed",
            Self::NoFirstFrame => "the first frame could not be read",
            Self::Edges => {
                "in the first frame the screen's edges do not stand out from what surrounds them"
            }
        }
    }
}
