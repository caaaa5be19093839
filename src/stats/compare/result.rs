//! What a comparison says, key by key of `compare --json`.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::store::schema::{LatencyQuantiles, Rate, Side, TimeToFocus};

use super::super::describe::Description;
use super::looks::Look;

/// All setups and all their pairs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Two-sided level of intervals; at a look, that of differences is the
    /// look's own, and this one: setups keep theirs.
    pub confidence: f64,
    /// Seed of the resampling.
    pub seed: u64,
    /// Resamples of the clips.
    pub resamples: usize,
    /// `as seen` or `corrected`.
    pub latencies: String,
    /// What that means for these files, in words.
    pub lag: String,
    /// Where setups are looked at more than once: this look.
    pub look: Option<Look>,
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
    /// Fewer than [`MIN_JUDGED`](super::MIN_JUDGED) judged on a side compared.
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
    /// Fewer than [`MIN_JUDGED`](super::MIN_JUDGED) judged on a side compared.
    TooFewTrials,
}
