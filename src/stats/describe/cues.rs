//! Cues against the truth: a cue is a claim.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::store::schema::{Rate, Trial, Verdict};

use super::super::quantile;
use super::super::summary::rate;

/// A cue against the truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CueRecord {
    /// Judged trials in which the cue was looked for.
    pub judged: u64,
    /// Share of them in which it was shown.
    pub shown: Option<Rate>,
    /// Median latency where shown, ms.
    pub median_latency_ms: Option<f64>,
    /// Shown although the trial was soft or lost.
    pub claimed_not_sharp: u64,
    /// Shown before focus settled, among hits.
    pub claimed_early: u64,
}

pub(super) fn cues(trials: &[&Trial], confidence: f64) -> BTreeMap<String, CueRecord> {
    let mut records = BTreeMap::new();
    let judged: Vec<_> = trials
        .iter()
        .filter(|t| t.verdict != Verdict::Void)
        .collect();
    let names: BTreeSet<&String> = judged.iter().flat_map(|t| t.cues.keys()).collect();
    for name in names {
        let seen: Vec<_> = judged
            .iter()
            .filter_map(|t| t.cues.get(name).map(|c| (t, c)))
            .collect();
        let shown: Vec<_> = seen.iter().filter(|(_, c)| c.shown_s.is_some()).collect();
        let mut latencies: Vec<f64> = shown.iter().filter_map(|(_, c)| c.latency_ms).collect();
        latencies.sort_by(f64::total_cmp);
        let count = |test: &dyn Fn(&Trial, f64) -> bool| {
            shown
                .iter()
                .filter(|(t, c)| c.shown_s.is_some_and(|s| test(t, s)))
                .count() as u64
        };
        let record = CueRecord {
            judged: seen.len() as u64,
            shown: rate(shown.len() as u64, seen.len() as u64, confidence),
            median_latency_ms: quantile::type_8(&latencies, 0.5),
            claimed_not_sharp: count(&|t, _| t.verdict != Verdict::Hit),
            claimed_early: count(&|t, shown| {
                t.verdict == Verdict::Hit && t.settle_s.is_some_and(|settle| shown < settle)
            }),
        };
        records.insert(name.clone(), record);
    }
    records
}
