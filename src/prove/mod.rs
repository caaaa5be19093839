//! How far off a rig's own timing is: scenes with known truth are rendered at
//! its rates and geometry, timed like any clip, and held against the truth.
//!
//! In: a [`Bed`] (what a rig fixes: rates, geometry, stimulus, window), a
//! [`Trouble`], a [`Content`] and a seed. Out: a [`Case`] (a scene and the rig
//! that fits it), its [`Score`], and a [`Budget`] over many: wrong verdicts
//! with their interval, share of void trials, settle error outside the truth's
//! pair, onset error, how often the stated uncertainty (k = 2) covers the
//! truth. Fails where a rig leaves its rate open, a clip cannot be rendered,
//! or one cannot be timed. The same seed gives the same figures.
//!
//! The settle error is the distance outside the pair of the truth (see
//! `render`): 0 within it. Quantiles are nearest ranks of the error's size.

mod bed;
mod budget;
mod deck;
mod run;
mod score;
mod text;
mod trouble;

pub use bed::{Bed, BedError};
pub use budget::{Budget, Row};
pub use deck::{Case, Content, case};
pub use run::{ProveError, measure, play};
pub use score::Score;
pub use text::{HEAD, cells, text};
pub use trouble::Trouble;

#[cfg(test)]
mod tests;
