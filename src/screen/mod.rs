//! The screen in the film: which pixels, and how often it changes.
//!
//! In: corners or `feed` and areas in screen fractions; or frames, in which
//! [`mod@find`] looks for the corners. Out: [`Region`]s of stored pixels,
//! [`Thumb`]s (small pictures for motion) kept on a [`Reel`], and the rate of
//! [`refresh`] measured from how the picture changes from frame to frame.

mod color;
pub(crate) mod even;
pub(crate) mod find;
mod reel;
pub(crate) mod refresh;
mod region;
mod spool;
pub(crate) mod steady;
mod thumb;

pub(crate) use color::Paint;
pub(crate) use reel::Reel;
pub use region::Region;
pub(crate) use spool::Spool;
pub(crate) use thumb::{Thumb, ThumbMap};
