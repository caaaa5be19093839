//! The error budget: many scores in a row.

use serde::Serialize;

use super::score::Score;
use crate::ranked::nearest_rank as quantile;
use crate::stats::binomial::wilson;

/// Two-sided level of the interval of wrong verdicts.
const CONFIDENCE: f64 = 0.95;

/// An error budget.
#[derive(Clone, Debug, Serialize)]
pub struct Budget {
    /// Seed of the first scene.
    pub seed: u64,
    /// One per disturbance.
    pub rows: Vec<Row>,
    /// All of them together.
    pub all: Row,
}

/// What a number of trials came to. Quantiles are of the error's size; `null`
/// where there was none to measure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    pub(super) name: String,
    /// True trials.
    pub(super) trials: usize,
    pub(super) missed: usize,
    /// Found where there was none.
    pub(super) extra: usize,
    /// Found and not void.
    pub(super) judged: usize,
    /// Of the judged: another verdict, reason or side than the true one.
    pub(super) wrong: usize,
    /// Share of the judged, and its Wilson interval (95 %).
    pub(super) wrong_share: Option<[f64; 3]>,
    /// Share of the judgeable that was called void.
    pub(super) void_share: Option<f64>,
    /// Share of the true hits that were called hits; void is wrong here.
    pub(super) hits_right: Option<f64>,
    /// Share of the true soft and lost trials with their own verdict.
    pub(super) misses_right: Option<f64>,
    /// Size of the settle error outside the truth's pair, of which half, 95 % and
    /// 99 % lie below, ms; the latter in units of (refresh + frame period) too.
    pub(super) settle_p50_ms: Option<f64>,
    pub(super) settle_p95_ms: Option<f64>,
    pub(super) settle_p99_ms: Option<f64>,
    pub(super) settle_p95_units: Option<f64>,
    pub(super) settle_p99_units: Option<f64>,
    /// Median width of the truth's pair, ms.
    pub(super) pair_p50_ms: Option<f64>,
    /// Mean of the signed error against the crossing of δ itself, ms.
    pub(super) settle_bias_ms: Option<f64>,
    /// Its median, ms.
    pub(super) crossing_p50_ms: Option<f64>,
    /// Median of the stated 2 u, ms.
    pub(super) two_u_p50_ms: Option<f64>,
    /// Median of the signed onset error, ms.
    pub(super) onset_bias_ms: Option<f64>,
    /// 95 % point of its size.
    pub(super) onset_p95_ms: Option<f64>,
    pub(super) onset_p95_frames: Option<f64>,
    /// Largest error of the live-view lag, ms.
    pub(super) lag_worst_ms: Option<f64>,
    /// Share of lags ± 2 u that hold the true one.
    pub(super) lag_covered: Option<f64>,
    /// Share of latencies ± 2 u that hold the crossing of δ.
    pub(super) covered: Option<f64>,
}

impl Row {
    /// Sums a score up.
    pub fn of(name: &str, s: &Score) -> Self {
        let size = |v: &[f64]| v.iter().map(|x| x.abs()).collect::<Vec<_>>();
        let (settle, onset) = (size(&s.settle_ms), size(&s.onset_ms));
        let share = |n: usize, of: usize| (of > 0).then(|| n as f64 / of as f64);
        let interval = wilson(s.wrong.min(s.judged) as u64, s.judged as u64, CONFIDENCE);
        Self {
            name: name.to_owned(),
            trials: s.trials,
            missed: s.missed,
            extra: s.extra,
            judged: s.judged,
            wrong: s.wrong,
            wrong_share: share(s.wrong, s.judged)
                .zip(interval)
                .map(|(p, (low, high))| [p, low, high]),
            void_share: share(s.void_by_mistake, s.judgeable),
            hits_right: share(s.hits[0], s.hits[1]),
            misses_right: share(s.misses[0], s.misses[1]),
            settle_p50_ms: quantile(&settle, 0.5),
            settle_p95_ms: quantile(&settle, 0.95),
            settle_p99_ms: quantile(&settle, 0.99),
            settle_p95_units: quantile(&s.units, 0.95),
            settle_p99_units: quantile(&s.units, 0.99),
            pair_p50_ms: quantile(&s.width_ms, 0.5),
            settle_bias_ms: mean(&s.crossing_ms),
            crossing_p50_ms: quantile(&s.crossing_ms, 0.5),
            two_u_p50_ms: quantile(&s.two_u_ms, 0.5),
            onset_bias_ms: quantile(&s.onset_ms, 0.5),
            onset_p95_ms: quantile(&onset, 0.95),
            onset_p95_frames: quantile(&size(&s.onset_frames), 0.95),
            lag_worst_ms: quantile(&size(&s.lag_ms), 1.0),
            lag_covered: share(lags_held(s), s.lag_ms.len()),
            covered: share(s.covered.iter().filter(|c| **c).count(), s.covered.len()),
        }
    }
}

fn lags_held(s: &Score) -> usize {
    let lags = s.lag_ms.iter().zip(&s.lag_u_ms);
    lags.filter(|(e, u)| e.abs() <= 2.0 * **u).count()
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
