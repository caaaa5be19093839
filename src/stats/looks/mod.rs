//! Looking more than once: how far apart two setups must be at each look, so
//! that all looks together mislead no more often than one would.
//!
//! In: the share of the planned trials that each look has (0..1, rising), the
//! chance to be misled over all looks, how it is [spent](Spending). Out: the
//! [`Boundaries`] of the standardised difference, and what they lead to. The
//! statistics at the looks are those of a Brownian motion watched at these
//! shares: hit rates and the log-rank test both are, for large numbers.
//!
//! Sources: Lan & DeMets 1983, Biometrika 70:659 (spending); Armitage,
//! McPherson & Rowe 1969, J. R. Stat. Soc. A 132:235 (recursive integration);
//! Jennison & Turnbull 2000, *Group Sequential Methods* (power, chapter 2;
//! repeated confidence intervals, chapter 9; stopping by the chance that is
//! left, chapter 10). Cited from memory.

mod boundaries;
mod spending;
mod walk;

pub use boundaries::{Boundaries, even_shares};
pub use spending::Spending;

/// Chance to show a difference of the planned size below which going on is not
/// worth it: common practice, no source.
pub const FUTILE: f64 = 0.1;
