//! The rows of the setups.

use crate::store::schema::{Clip, Side};

use super::super::describe::describe;
use super::super::histogram::{HistogramError, LatencyHistogram};
use super::super::sample::{self, Latencies, Observation};
use super::super::summary::{Counts, latency_quantiles, rate, time_to_focus, two_yardsticks};
use super::group::SetupSample;
use super::{Named, Row, SetupRow};

pub(super) fn rows(
    named: &[Named],
    samples: &[SetupSample],
    latencies: Latencies,
    confidence: f64,
) -> Result<Vec<SetupRow>, HistogramError> {
    let window_ms = samples
        .iter()
        .filter_map(SetupSample::window_ms)
        .fold(f64::INFINITY, f64::min);
    let limit_ms = samples
        .iter()
        .flat_map(|s| &s.judged)
        .map(|o| o.horizon_ms(window_ms))
        .fold(f64::INFINITY, f64::min);
    named
        .iter()
        .zip(samples)
        .map(|(named, sample)| row(named, sample, latencies, confidence, limit_ms))
        .collect()
}

fn row(
    named: &Named,
    sample: &SetupSample,
    latencies: Latencies,
    confidence: f64,
    limit_ms: f64,
) -> Result<SetupRow, HistogramError> {
    let clips = &named.timing.clips;
    let one = |side: Option<Side>| {
        let part: Vec<Observation> = sample
            .judged
            .iter()
            .filter(|o| side.is_none() || o.side == side)
            .copied()
            .collect();
        group_row(clips, side, &part, confidence, limit_ms)
    };
    let mut all = one(None);
    if two_yardsticks(clips) {
        all.hit_rate = None;
    }
    let hits = sample::sorted_hits(&sample.judged);
    Ok(SetupRow {
        name: named.timing.setup.name.clone(),
        label: sample.label.clone(),
        file: named.file.to_owned(),
        tags: named.timing.setup.tags.clone(),
        all,
        by_side: sample.sides.iter().map(|&s| (s, one(Some(s)))).collect(),
        clips: sample.clips.len() as u64,
        window_ms: sample.window_ms(),
        detail: describe(clips, latencies, confidence),
        hit_latency_us_histogram_v2: LatencyHistogram::of_ms(&hits)?.to_text()?,
    })
}

fn group_row(
    clips: &[Clip],
    side: Option<Side>,
    part: &[Observation],
    confidence: f64,
    limit_ms: f64,
) -> Row {
    let counts = Counts::of(clips, side);
    Row {
        judged: counts.judged(),
        hit: counts.hit,
        soft: counts.soft,
        lost: counts.lost,
        void: counts.void,
        hit_rate: rate(counts.hit, counts.judged(), confidence),
        latency_ms: latency_quantiles(&sample::sorted_hits(part)),
        time_to_focus_ms: time_to_focus(part, Some(limit_ms), confidence),
    }
}
