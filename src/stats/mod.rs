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
#[cfg(test)]
pub(crate) mod fixtures;
pub mod histogram;
pub mod normal;
pub mod quantile;
pub mod sample;
pub mod summary;
pub mod survival;
