//! The summary of a setup: counts, hit rate, quantiles, time-to-focus.
//!
//! Voids are counted but never part of a rate. A soft or lost trial is
//! right-censored at the end of its window. Latencies here are as seen;
//! quantiles over hits follow [`super::quantile::type_8`] (null rather than
//! beyond the extremes), time-to-focus [`super::survival`].

use std::collections::{BTreeMap, BTreeSet};

use crate::store::schema::{
    Clip, LatencyQuantiles, Rate, ReferenceFrom, Side, Summary, Tally, TimeToFocus, Verdict,
};

use super::binomial::wilson;
use super::histogram::{HistogramError, LatencyHistogram};
use super::normal::two_sided_z;
use super::quantile::type_8;
use super::sample::{self, Latencies, Observation, SAME_MS};
use super::survival::Curve;

/// Limits of `in_focus_by`, ms.
const IN_FOCUS_BY_MS: [f64; 3] = [250.0, 500.0, 1000.0];

/// Everything the timing file says about its own trials, two-sided intervals
/// at `confidence` (0..1).
///
/// # Errors
/// Only where the histogram cannot be written.
pub fn summarise(clips: &[Clip], confidence: f64) -> Result<Summary, HistogramError> {
    let judged = sample::judged(clips, Latencies::AsSeen);
    let sides: BTreeSet<Side> = clips
        .iter()
        .flat_map(|c| &c.trials)
        .filter_map(|t| t.side)
        .collect();
    let limit_ms = sample::shortest_window_ms(&judged);
    let by_side = sides
        .into_iter()
        .map(|side| {
            let part: Vec<_> = judged
                .iter()
                .filter(|o| o.side == Some(side))
                .copied()
                .collect();
            let counts = Counts::of(clips, Some(side));
            (side, tally(counts, &part, limit_ms, confidence))
        })
        .collect();
    let mut all = tally(Counts::of(clips, None), &judged, limit_ms, confidence);
    if two_yardsticks(clips) {
        all.hit_rate = None;
        all.in_focus_by.values_mut().for_each(|share| *share = None);
    }
    Ok(Summary {
        all,
        by_side,
        hit_latency_us_histogram_v2: LatencyHistogram::of_ms(&sample::sorted_hits(&judged))?
            .to_text()?,
    })
}

/// Whether some judged trials are held against focus by hand and some against
/// the setup's own best: their rates are never put together.
pub(super) fn two_yardsticks(clips: &[Clip]) -> bool {
    let judged = clips.iter().flat_map(|c| &c.trials);
    let mut judged = judged
        .filter(|t| t.verdict != Verdict::Void)
        .map(|t| t.reference_from == Some(ReferenceFrom::Hand));
    let first = judged.next();
    judged.any(|by_hand| Some(by_hand) != first)
}

/// Trials by verdict.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Hits.
    pub hit: u64,
    /// Settled on the wrong plane.
    pub soft: u64,
    /// Did not settle.
    pub lost: u64,
    /// Could not be judged.
    pub void: u64,
}

impl Counts {
    /// Counts of one side, or of all trials.
    pub fn of(clips: &[Clip], side: Option<Side>) -> Self {
        let mut counts = Self::default();
        for trial in clips.iter().flat_map(|c| &c.trials) {
            if side.is_some() && trial.side != side {
                continue;
            }
            match trial.verdict {
                Verdict::Hit => counts.hit += 1,
                Verdict::Soft => counts.soft += 1,
                Verdict::Lost => counts.lost += 1,
                Verdict::Void => counts.void += 1,
            }
        }
        counts
    }

    /// Hit + soft + lost.
    pub fn judged(self) -> u64 {
        self.hit + self.soft + self.lost
    }
}

fn tally(counts: Counts, judged: &[Observation], limit_ms: Option<f64>, confidence: f64) -> Tally {
    Tally {
        trials: counts.judged() + counts.void,
        judged: counts.judged(),
        hit: counts.hit,
        soft: counts.soft,
        lost: counts.lost,
        void: counts.void,
        hit_rate: rate(counts.hit, counts.judged(), confidence),
        in_focus_by: IN_FOCUS_BY_MS
            .into_iter()
            .map(|ms| (format!("{ms:.0}_ms"), in_focus_by(judged, ms)))
            .collect::<BTreeMap<_, _>>(),
        latency_ms: latency_quantiles(&sample::sorted_hits(judged)),
        time_to_focus_ms: time_to_focus(judged, limit_ms, confidence),
    }
}

/// A share with its score interval; `None` for nothing tried.
pub fn rate(hits: u64, n: u64, confidence: f64) -> Option<Rate> {
    let (low, high) = wilson(hits, n, confidence)?;
    Some(Rate {
        value: hits as f64 / n as f64,
        low,
        high,
        confidence,
    })
}

/// Share of judged trials that hit within `ms`; `None` where some trial was
/// not watched that long, or nothing was judged.
pub fn in_focus_by(judged: &[Observation], ms: f64) -> Option<f64> {
    let shortest = sample::shortest_window_ms(judged)?;
    if shortest < ms - SAME_MS {
        return None;
    }
    let hits = judged
        .iter()
        .filter(|o| o.hit_ms.is_some_and(|hit| hit <= ms))
        .count();
    Some(hits as f64 / judged.len() as f64)
}

/// Quantiles over sorted hit latencies.
pub fn latency_quantiles(sorted: &[f64]) -> LatencyQuantiles {
    LatencyQuantiles {
        n: sorted.len() as u64,
        p10: type_8(sorted, 0.10),
        p50: type_8(sorted, 0.50),
        p90: type_8(sorted, 0.90),
        p95: type_8(sorted, 0.95),
        max: sorted.last().copied(),
    }
}

/// Median with interval and restricted mean, counted to `limit_ms`.
pub fn time_to_focus(
    judged: &[Observation],
    limit_ms: Option<f64>,
    confidence: f64,
) -> TimeToFocus {
    let watched: Vec<_> = judged.iter().map(|o| o.watched(f64::INFINITY)).collect();
    let Some(curve) = Curve::new(&watched) else {
        return TimeToFocus::default();
    };
    let (median_low, median_high) = curve.quantile_interval(0.5, two_sided_z(confidence));
    TimeToFocus {
        median: curve.quantile(0.5),
        median_low,
        median_high,
        restricted_mean: limit_ms
            .and_then(|ms| curve.restricted_mean(ms))
            .map(|m| m.mean),
    }
}

#[cfg(test)]
#[path = "summary_tests.rs"]
mod tests;
