//! One setup in depth: what the summary of a timing file has no room for.
//!
//! Order-statistic intervals of the latency quantiles, hunting (reversals,
//! relapses), cues against the truth, why trials were void, spread between the
//! clips and drift over the session.

mod clips;
mod cues;

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::store::schema::{Clip, ReferenceFrom, Side, Trial, Verdict};

pub(crate) use clips::BetweenClips;
pub(crate) use cues::CueRecord;

use super::sample::{self, Latencies, Observation};
use super::{quantile, trend};

/// A setup in depth.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Description {
    /// `as seen` or `corrected`.
    pub latencies: String,
    /// All sides together.
    pub all: Group,
    /// Per side; empty for light and tone.
    pub by_side: BTreeMap<Side, Group>,
    /// Voids by reason; exclusions count as `excluded`.
    pub void_reasons: BTreeMap<String, u64>,
    /// Voids `not displaced` whose trial before was soft or lost.
    pub not_displaced_after_miss: u64,
    /// Trials the user took out, as `CLIP:N` and the user's reason.
    pub excluded: Vec<Excluded>,
    /// Clips that could not be judged.
    pub clips_failed: u64,
    /// Clips with at least one judged trial.
    pub clips_judged: u64,
    /// Spread of hit latency between clips; null with too few.
    pub between_clips: Option<BetweenClips>,
    /// Drift over the session; null with fewer than 10 judged trials.
    pub drift: Option<Drift>,
    /// Cues by name.
    pub cues: BTreeMap<String, CueRecord>,
    /// The same per side; empty for light and tone.
    pub cues_by_side: BTreeMap<Side, BTreeMap<String, CueRecord>>,
    /// Lowest and highest standard uncertainty of a hit's latency, ms.
    pub uncertainty_ms: Option<[f64; 2]>,
    /// Whether some judged trial has no reference focused by hand: unverified.
    pub own_reference: bool,
    /// Judged trials that end within their uncertainty of the hit limit.
    pub close_calls: u64,
    /// Judged trials.
    pub judged: u64,
}

/// Latency and hunting of one group of trials.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Group {
    /// Quantiles over hits with their intervals, by name (`p50`).
    pub latency_ms: BTreeMap<String, Option<Estimate>>,
    /// Standard deviation of the hits' latencies, ms; null with fewer than two.
    pub hit_sd_ms: Option<f64>,
    /// Share of judged trials with at least one reversal; null if unknown.
    pub with_reversals: Option<f64>,
    /// Mean number of reversals; null if unknown.
    pub mean_reversals: Option<f64>,
    /// Share of judged trials that left focus and came back; null if unknown.
    pub with_relapses: Option<f64>,
}

/// A value with the interval the order statistics allow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Lower limit, null where none exists.
    pub low: Option<f64>,
    /// Upper limit, null where none exists.
    pub high: Option<f64>,
}

/// A trial the user took out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Excluded {
    /// `CLIP:N`.
    pub trial: String,
    /// The user's reason.
    pub reason: String,
}

impl Excluded {
    /// `amber-2.mp4, trial 3 (counted from 0)`.
    pub fn in_words(&self) -> String {
        let Some((path, index)) = self.trial.rsplit_once(':') else {
            return self.trial.clone();
        };
        let file = path.rsplit('/').next().unwrap_or(path);
        format!("{file}, trial {index} (counted from 0)")
    }
}

/// Drift of time-to-focus over the session.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Drift {
    /// Slope over hits, ms per 10 trials; null with too few hits.
    pub ms_per_10_trials: Option<f64>,
    /// p-value of no trend (misses count as later than every hit).
    pub p: f64,
}

/// Describes the trials of a setup, intervals at `confidence`.
pub fn describe(clips: &[Clip], latencies: Latencies, confidence: f64) -> Description {
    let judged = sample::judged(clips, latencies);
    let trials: Vec<&Trial> = clips.iter().flat_map(|c| &c.trials).collect();
    let sides: BTreeSet<Side> = trials.iter().filter_map(|t| t.side).collect();
    Description {
        latencies: latencies.words().to_owned(),
        all: group(&trials, &judged, None, confidence),
        by_side: sides
            .iter()
            .map(|&side| (side, group(&trials, &judged, Some(side), confidence)))
            .collect(),
        void_reasons: void_reasons(&trials),
        not_displaced_after_miss: after_miss(clips),
        excluded: excluded(clips),
        clips_failed: clips.iter().filter(|c| c.error.is_some()).count() as u64,
        clips_judged: judged.iter().map(|o| o.clip).collect::<BTreeSet<_>>().len() as u64,
        between_clips: clips::between_clips(&judged),
        drift: drift(&judged),
        cues: cues::cues(clips, None, confidence),
        cues_by_side: sides
            .iter()
            .map(|&side| (side, cues::cues(clips, Some(side), confidence)))
            .collect(),
        uncertainty_ms: uncertainty(&trials),
        own_reference: trials.iter().any(|t| own_reference(t)),
        close_calls: trials
            .iter()
            .filter(|t| t.verdict != Verdict::Void && t.close_call)
            .count() as u64,
        judged: judged.len() as u64,
    }
}

fn own_reference(trial: &Trial) -> bool {
    trial.verdict != Verdict::Void && trial.reference_from != Some(ReferenceFrom::Hand)
}

fn group(trials: &[&Trial], judged: &[Observation], side: Option<Side>, confidence: f64) -> Group {
    let part: Vec<_> = judged
        .iter()
        .filter(|o| side.is_none() || o.side == side)
        .copied()
        .collect();
    let sorted = sample::sorted_hits(&part);
    let own: Vec<_> = trials
        .iter()
        .filter(|t| t.verdict != Verdict::Void && (side.is_none() || t.side == side))
        .collect();
    let reversals: Vec<u32> = own.iter().filter_map(|t| t.reversals).collect();
    let relapses: Vec<u32> = own.iter().filter_map(|t| t.relapses).collect();
    Group {
        latency_ms: [("p10", 0.1), ("p50", 0.5), ("p90", 0.9), ("p95", 0.95)]
            .into_iter()
            .map(|(name, p)| (name.to_owned(), estimate(&sorted, p, confidence)))
            .collect(),
        hit_sd_ms: standard_deviation(&sorted),
        with_reversals: share_above_none(&reversals),
        mean_reversals: (!reversals.is_empty()).then(|| {
            reversals.iter().copied().map(f64::from).sum::<f64>() / reversals.len() as f64
        }),
        with_relapses: share_above_none(&relapses),
    }
}

fn estimate(sorted: &[f64], p: f64, confidence: f64) -> Option<Estimate> {
    let value = quantile::type_8(sorted, p)?;
    let limits = quantile::interval(sorted, p, confidence);
    Some(Estimate {
        value,
        low: limits.map(|l| l.0),
        high: limits.map(|l| l.1),
    })
}

/// With n − 1.
fn standard_deviation(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    (values.len() > 1).then(|| (squares / (n - 1.0)).sqrt())
}

fn share_above_none(counts: &[u32]) -> Option<f64> {
    let some = counts.iter().filter(|&&c| c > 0).count();
    (!counts.is_empty()).then(|| some as f64 / counts.len() as f64)
}

fn void_reasons(trials: &[&Trial]) -> BTreeMap<String, u64> {
    let mut counts = BTreeMap::new();
    for trial in trials.iter().filter(|t| t.verdict == Verdict::Void) {
        let reason = trial.reason.as_deref().unwrap_or("unknown");
        let short = reason.split(':').next().unwrap_or(reason);
        *counts.entry(short.to_owned()).or_insert(0) += 1;
    }
    counts
}

fn after_miss(clips: &[Clip]) -> u64 {
    let pairs = clips.iter().flat_map(|c| c.trials.windows(2));
    let held = |pair: &&[Trial]| {
        pair[1].verdict == Verdict::Void
            && pair[1].reason.as_deref() == Some("not displaced")
            && matches!(pair[0].verdict, Verdict::Soft | Verdict::Lost)
    };
    pairs.filter(held).count() as u64
}

fn excluded(clips: &[Clip]) -> Vec<Excluded> {
    let all = clips
        .iter()
        .flat_map(|c| c.trials.iter().map(move |t| (c, t)));
    all.filter_map(|(clip, trial)| {
        let reason = trial.reason.as_deref()?.strip_prefix("excluded: ")?;
        Some(Excluded {
            trial: format!("{}:{}", clip.path, trial.index),
            reason: reason.to_owned(),
        })
    })
    .collect()
}

fn drift(judged: &[Observation]) -> Option<Drift> {
    let mut sides: BTreeMap<Option<Side>, Vec<trend::Placed>> = BTreeMap::new();
    for observation in judged {
        sides
            .entry(observation.side)
            .or_default()
            .push(trend::Placed {
                order: observation.order as f64,
                value: observation.hit_ms.unwrap_or(f64::INFINITY),
            });
    }
    let sides: Vec<_> = sides.into_values().collect();
    trend::trend(&sides).map(|t| Drift {
        ms_per_10_trials: t.slope.map(|s| s * 10.0),
        p: t.p,
    })
}

fn uncertainty(trials: &[&Trial]) -> Option<[f64; 2]> {
    trials
        .iter()
        .filter(|t| t.verdict == Verdict::Hit)
        .filter_map(|t| t.uncertainty_ms)
        .fold(None, |range: Option<[f64; 2]>, u| {
            let [low, high] = range.unwrap_or([u, u]);
            Some([low.min(u), high.max(u)])
        })
}

#[cfg(test)]
mod tests;
