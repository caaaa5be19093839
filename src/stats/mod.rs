//! From trials to numbers: rates, quantiles, intervals, comparisons.
//!
//! In: the trials of timing files ([`crate::store::schema`]), latencies in ms,
//! seconds as shot, confidence levels in 0..1. Out: plain structs whose fields
//! carry their units. Nothing here reads a file, a clock or prints; resampling
//! is seeded and the seed is part of the result. Functions return `None` where
//! too few trials support a number, never a stand-in.
//!
//! One estimator family per file, each citing its published source.

pub(crate) mod agree;
pub mod binomial;
pub(crate) mod bootstrap;
pub mod compare;
pub mod describe;
pub(crate) mod difference;
pub(crate) mod fisher;
#[cfg(test)]
pub(crate) mod fixtures;
pub mod gate;
pub(crate) mod histogram;
pub(crate) mod holm;
pub(crate) mod logrank;
pub mod looks;
pub mod normal;
pub mod quantile;
pub(crate) mod ranks;
pub mod repeat;
pub mod sample;
pub(crate) mod shift;
pub(crate) mod spread;
pub mod summary;
pub(crate) mod survival;
pub(crate) mod trend;
