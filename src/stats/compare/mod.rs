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

mod group;
mod labels;
mod more;
mod pair;
mod resample;
mod sentence;
mod settings;
mod setup;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::store::schema::{LatencyQuantiles, Rate, Side, TimeToFocus, Timing};

use super::describe::Description;
use super::histogram::HistogramError;

pub use pair::MIN_JUDGED;
pub(in crate::stats) use settings::{check_two, latencies};

/// What must be said of these files, labels made for them.
pub(in crate::stats) fn settings_warnings(
    named: &[Named],
    latencies: super::sample::Latencies,
) -> Vec<String> {
    settings::warnings(named, &labels::labels(named), latencies)
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
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CompareOptions {
    /// Two-sided level of intervals, 0.5..1.
    pub confidence: f64,
    /// Seed of the resampling.
    pub seed: u64,
    /// Resamples of the clips.
    pub resamples: usize,
}

impl Default for CompareOptions {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            seed: 1,
            resamples: 999,
        }
    }
}

/// Why setups cannot be compared: the request is wrong.
#[derive(Debug, thiserror::Error)]
pub enum CompareError {
    /// Fewer than two files.
    #[error("a comparison needs at least two timing files, {0} given")]
    TooFew(usize),
    /// A level outside its range.
    #[error("the confidence must lie above 0.5 and below 1 (0.95, say); {0} does not")]
    Confidence(f64),
    /// Resamples outside their range.
    #[error("the number of resamples must lie between 199 and 100000; {0} does not")]
    Resamples(usize),
    /// Files judged by different measures.
    #[error(
        "{a} and {b} were judged by different measures ({what}); their numbers do not compare: \
         time both with the same measure"
    )]
    Measure {
        /// One file.
        a: String,
        /// The other.
        b: String,
        /// What differs.
        what: String,
    },
    /// A swing against a trigger light or tone.
    #[error(
        "{a} holds trials with near and far sides, {b} without: a swing and a trigger answer \
         different questions and are not compared"
    )]
    Sides {
        /// The file with sides.
        a: String,
        /// The file without.
        b: String,
    },
    /// The same content twice.
    #[error(
        "{a} and {b} hold the same trials of the same clips: a setup is not compared to itself"
    )]
    Same {
        /// One file.
        a: String,
        /// The other.
        b: String,
    },
    /// The histogram could not be written.
    #[error(transparent)]
    Histogram(#[from] HistogramError),
}

/// All setups and all their pairs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Two-sided level of intervals.
    pub confidence: f64,
    /// Seed of the resampling.
    pub seed: u64,
    /// Resamples of the clips.
    pub resamples: usize,
    /// `as seen` or `corrected`.
    pub latencies: String,
    /// Setups in the order given.
    pub setups: Vec<SetupRow>,
    /// Pairs of setups, for each side and for all.
    pub pairs: Vec<Pair>,
    /// What a reader must know before believing a difference.
    pub warnings: Vec<String>,
}

/// One setup of a comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetupRow {
    /// The setup's name.
    pub name: String,
    /// The name, made different from its namesakes by a tag or the file.
    pub label: String,
    /// The file it came from.
    pub file: String,
    /// Its tags.
    pub tags: BTreeMap<String, String>,
    /// Counts, rates and quantiles of all sides.
    #[serde(flatten)]
    pub all: Row,
    /// The same per side.
    pub by_side: BTreeMap<Side, Row>,
    /// Number of clips with judged trials.
    pub clips: u64,
    /// Shortest window of its judged trials, ms.
    pub window_ms: Option<f64>,
    /// The setup in depth.
    pub detail: Description,
    /// HdrHistogram V2 of its hits' latencies (as this comparison uses them).
    pub hit_latency_us_histogram_v2: String,
}

/// Counts, rates and quantiles of one group of trials.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Hit + soft + lost.
    pub judged: u64,
    /// Hits.
    pub hit: u64,
    /// Settled on the wrong plane.
    pub soft: u64,
    /// Did not settle.
    pub lost: u64,
    /// Could not be judged.
    pub void: u64,
    /// Hit ÷ judged.
    pub hit_rate: Option<Rate>,
    /// Quantiles over hits.
    pub latency_ms: LatencyQuantiles,
    /// Kaplan–Meier over judged trials, restricted mean to the shortest
    /// window compared.
    pub time_to_focus_ms: TimeToFocus,
}

/// Two setups on one side, or on all.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// Label of the first.
    pub a: String,
    /// Label of the second.
    pub b: String,
    /// `near`, `far` or `all`.
    pub side: String,
    /// Judged trials of a and of b that went in.
    pub judged: [u64; 2],
    /// Window both were cut to, ms.
    pub window_ms: Option<f64>,
    /// Hit rate of a less that of b.
    pub hit_rate_difference: RateDifference,
    /// Latency of a's hits less that of b's.
    pub hit_latency_shift_ms: LatencyShift,
    /// All judged trials.
    pub time_to_focus: FocusDifference,
    /// Probability that a trial of a focuses sooner than one of b.
    pub a_sooner_probability: Option<f64>,
    /// The same intervals from resampled clips; null with fewer than five
    /// clips in either.
    pub by_clip: Option<ByClip>,
    /// Who focuses sooner.
    pub verdict: Sooner,
    /// Who hits more often.
    pub hit_rate_verdict: Higher,
    /// In plain words.
    pub sentence: String,
    /// Further trials each setup needs; null where decided or out of reach.
    pub more_trials_per_setup: Option<u64>,
}

/// Hit rate of a less that of b.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct RateDifference {
    /// a − b.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Fisher's exact test.
    pub fisher_p: Option<f64>,
    /// After Holm.
    pub holm_p: Option<f64>,
}

/// Latency of a's hits less that of b's, ms.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct LatencyShift {
    /// a − b.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Mann–Whitney test.
    pub mann_whitney_p: Option<f64>,
    /// After Holm.
    pub holm_p: Option<f64>,
}

/// Time-to-focus over all judged trials.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct FocusDifference {
    /// Log-rank test.
    pub log_rank_p: Option<f64>,
    /// After Holm.
    pub holm_p: Option<f64>,
    /// Restricted mean of a less that of b, ms.
    pub restricted_mean_difference_ms: Option<f64>,
    /// Lower limit, ms.
    pub restricted_mean_difference_low_ms: Option<f64>,
    /// Upper limit, ms.
    pub restricted_mean_difference_high_ms: Option<f64>,
    /// Limit the means run to, ms.
    pub restricted_to_ms: Option<f64>,
}

/// Intervals from resampled clips.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ByClip {
    /// Clips of a and of b.
    pub clips: [u64; 2],
    /// Of the hit-rate difference.
    pub hit_rate_difference: Option<Interval>,
    /// Of the shift of hit latency.
    pub hit_latency_shift_ms: Option<Interval>,
    /// Of the restricted-mean difference.
    pub restricted_mean_difference_ms: Option<Interval>,
}

/// A two-sided interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl Interval {
    /// Whether no difference (0) lies inside.
    #[must_use]
    pub fn holds_zero(self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }
}

/// Verdict on time-to-focus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sooner {
    /// The first focuses sooner.
    ASooner,
    /// The second focuses sooner.
    BSooner,
    /// Chance alone could have done it.
    NoDifferenceShown,
    /// Fewer than [`MIN_JUDGED`] judged on a side compared.
    TooFewTrials,
}

/// Verdict on the hit rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Higher {
    /// The first hits more often.
    AHigher,
    /// The second hits more often.
    BHigher,
    /// Chance alone could have done it.
    NoDifferenceShown,
    /// Fewer than [`MIN_JUDGED`] judged on a side compared.
    TooFewTrials,
}

/// Compares every pair of these setups.
///
/// # Errors
/// Fewer than two files, options out of range, different measures, a swing
/// against a trigger, the same content twice.
pub fn compare(named: &[Named], options: &CompareOptions) -> Result<Comparison, CompareError> {
    settings::check(named, options)?;
    let labels = labels::labels(named);
    let latencies = settings::latencies(named);
    let samples: Vec<_> = named
        .iter()
        .zip(&labels)
        .map(|(n, label)| group::SetupSample::new(n, label, latencies))
        .collect();
    let warnings = settings::warnings(named, &labels, latencies);
    Ok(Comparison {
        confidence: options.confidence,
        seed: options.seed,
        resamples: options.resamples,
        latencies: latencies.words().to_owned(),
        setups: setup::rows(named, &samples, latencies, options.confidence)?,
        pairs: pair::pairs(&samples, options),
        warnings,
    })
}

#[cfg(test)]
mod tests;
