//! The screen in the film: which pixels, and how often it changes.
//!
//! In: corners or `feed` and areas in screen fractions; or frames, in which
//! [`mod@find`] looks for the corners. Out: [`Region`]s of stored pixels,
//! [`Thumb`]s (small pictures for motion) kept on a [`Reel`], and the rate of
//! [`refresh`] measured from how the picture changes from frame to frame.

mod color;
pub mod even;
pub mod find;
mod reel;
pub mod refresh;
mod region;
mod spool;
pub mod steady;
mod thumb;

pub use color::Paint;
pub use reel::Reel;
pub use region::Region;
pub use spool::Spool;
pub use thumb::{Thumb, ThumbMap};
