//! From trials to numbers: rates, quantiles, intervals, comparisons.
//!
//! In: the trials of timing files ([`crate::store::schema`]), latencies in ms,
//! seconds as shot, confidence levels in 0..1. Out: plain structs whose fields
//! carry their units. Nothing here reads a file, a clock or prints; resampling
//! is seeded and the seed is part of the result. Functions return `None` where
//! too few trials support a number, never a stand-in.
//!
//! One estimator family per file, each citing its published source.

pub mod binomial;
pub mod bootstrap;
pub mod compare;
pub mod describe;
pub mod difference;
pub mod fisher;
#[cfg(test)]
pub(crate) mod fixtures;
pub mod gate;
pub mod histogram;
pub mod holm;
pub mod logrank;
pub mod normal;
pub mod quantile;
pub mod ranks;
pub mod sample;
pub mod shift;
pub mod spread;
pub mod summary;
pub mod survival;
pub mod trend;
