//! Setups against each other.
//!
//! In: two or more timing files. Out: a [`Comparison`] that serialises to the
//! fixed shape of `compare --json` (more keys stand beside it). Differences
//! are a − b. Sides are strata: each has a pair of its own, and `all` sums the
//! evidence within sides, never across. Windows are cut to the shorter of the
//! two, latencies are corrected only where every clip's are.
//!
//! Estimators: Newcombe and Fisher for hit rates, Hodges–Lehmann and
//! Mann–Whitney over hits, log-rank and restricted mean over all judged
//! trials, Holm over the pairs of setups for each test and side; from five
//! clips per setup on, intervals also by resampling clips.

mod agree;
mod error;
mod group;
mod labels;
mod look_plan;
mod look_words;
mod looks;
mod more;
mod pair;
mod resample;
mod result;
mod sentence;
mod setup;
mod warnings;

use crate::store::schema::Timing;

pub(in crate::stats) use agree::{check as check_all, check_two, lag_words, latencies};
pub(crate) use error::CompareError;
pub use look_plan::{LookPlan, MOST_LOOKS};
pub use looks::{Answer, Look, LookVerdict};
pub(crate) use pair::MIN_JUDGED;
pub use result::{
    ByClip, Comparison, FocusDifference, Higher, Interval, LatencyShift, Pair, RateDifference, Row,
    SetupRow, Sooner,
};
pub(crate) use warnings::{MOST_CLOSE, UNJUDGED};

/// What differs in how these files were filmed and judged.
pub(in crate::stats) fn filmed_otherwise(named: &[Named]) -> Vec<String> {
    warnings::filmed_otherwise(named, &labels::labels(named))
}

/// What must be said of these files, labels made for them.
pub(in crate::stats) fn settings_warnings(
    named: &[Named],
    latencies: super::sample::Latencies,
) -> Vec<String> {
    warnings::warnings(named, &labels::labels(named), latencies)
}

/// A timing file and what to call it in messages.
#[derive(Clone, Copy, Debug)]
pub struct Named<'a> {
    /// File name or path.
    pub file: &'a str,
    /// What it holds.
    pub timing: &'a Timing,
}

/// How to compare.
#[derive(Clone, Debug, PartialEq)]
pub struct CompareOptions {
    /// Two-sided level of tests and intervals, 0.5..1.
    pub confidence: f64,
    /// Seed of the resampling.
    pub seed: u64,
    /// Resamples of the clips.
    pub resamples: usize,
    /// Where setups are looked at more than once: the plan of the looks. The
    /// confidence then holds over all of them.
    pub looks: Option<LookPlan>,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            seed: 1,
            resamples: 999,
            looks: None,
        }
    }
}

/// Compares every pair of these setups.
///
/// # Errors
/// Fewer than two files, options out of range, different versions of blur or
/// another δ, a swing against a trigger, the same content twice, a look that
/// does not fit its plan.
pub fn compare(named: &[Named], options: &CompareOptions) -> Result<Comparison, CompareError> {
    agree::check(named, options)?;
    let labels = labels::labels(named);
    let latencies = agree::latencies(named);
    let samples: Vec<_> = named
        .iter()
        .zip(&labels)
        .map(|(n, label)| group::SetupSample::new(n, label, latencies))
        .collect();
    let mut warnings = warnings::warnings(named, &labels, latencies);
    warnings.extend(warnings::sessions(named, &labels));
    let standing = options
        .looks
        .as_ref()
        .map(|plan| looks::Standing::new(plan, &samples, options.confidence))
        .transpose()?;
    let whole = options.confidence;
    let options = &standing
        .as_ref()
        .map_or_else(|| options.clone(), |s| s.options(options));
    let pairs = pair::pairs(&samples, options, whole);
    Ok(Comparison {
        confidence: options.confidence,
        seed: options.seed,
        resamples: options.resamples,
        latencies: latencies.words().to_owned(),
        lag: agree::lag_words(named, latencies).to_owned(),
        setups: setup::rows(named, &samples, latencies, whole)?,
        look: standing.map(|s| s.seen(&pairs)),
        pairs,
        warnings,
    })
}

/// What each of several timing files is called, all different: its setup's
/// name, with a tag or the file where two share it.
pub fn labels(named: &[Named]) -> Vec<String> {
    labels::labels(named)
}

#[cfg(test)]
mod tests;
