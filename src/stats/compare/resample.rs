//! The same differences from resampled clips.

use super::super::bootstrap::{FEWEST_CLIPS, draw, generator, limits, tail};
use super::super::difference::Arm;
use super::super::shift::{Clustered, weighted_shift};
use super::super::survival::Curve;
use super::group::{Group, SetupSample};
use super::pair::{common_limit, side_weights};
use super::{ByClip, CompareOptions, Interval};

/// How often each clip counts, resample by resample; empty with fewer than
/// five clips.
pub(super) struct Draws {
    clips: usize,
    /// Level of the intervals.
    confidence: f64,
    counts: Vec<Vec<u32>>,
}

pub(super) fn draws(sample: &SetupSample, options: &CompareOptions, confidence: f64) -> Draws {
    let clips: Vec<usize> = sample.clips.iter().copied().collect();
    let mut counts = Vec::new();
    if clips.len() >= FEWEST_CLIPS {
        let mut rng = generator(options.seed, &sample.identity);
        for _ in 0..options.resamples {
            let mut all = vec![0; sample.clip_count];
            for (&clip, times) in clips.iter().zip(draw(&mut rng, clips.len())) {
                all[clip] = times;
            }
            counts.push(all);
        }
    }
    Draws {
        clips: clips.len(),
        confidence,
        counts,
    }
}

/// A difference when clips of a and of b count so often.
type Resampled<'a> = &'a dyn Fn(&[u32], &[u32]) -> Option<f64>;

/// Intervals over the resamples; `None` with fewer than five clips in either.
pub(super) fn by_clip(
    strata: &[&(Group, Group)],
    (a, b): (&Draws, &Draws),
    shift: Option<f64>,
) -> Option<ByClip> {
    if a.counts.is_empty() || b.counts.is_empty() || strata.is_empty() {
        return None;
    }
    let tail = tail(a.confidence, a.clips.min(b.clips), a.clips + b.clips);
    let resampled = |one: Resampled| {
        let mut values: Vec<f64> = a
            .counts
            .iter()
            .zip(&b.counts)
            .filter_map(|(x, y)| one(x, y))
            .collect();
        // Resamples without a trial on some side tell nothing; where they are
        // many, neither does the interval.
        let enough = values.len() * 10 >= a.counts.len() * 9;
        let (low, high) = limits(&mut values, tail).filter(|_| enough)?;
        Some(Interval { low, high })
    };
    let weights = side_weights(strata);
    let limit = common_limit(strata);
    let hits: Vec<_> = strata.iter().map(|(x, y)| (&x.hits, &y.hits)).collect();
    let width = spread(&hits) / 10.0;
    Some(ByClip {
        clips: [a.clips as u64, b.clips as u64],
        hit_rate_difference: resampled(&|x, y| {
            weighted(strata, &weights, |s| Some(rate(&s.0, x)? - rate(&s.1, y)?))
        }),
        hit_latency_shift_ms: shift
            .and_then(|start| resampled(&|x, y| weighted_shift(&hits, x, y, start, width))),
        restricted_mean_difference_ms: resampled(&|x, y| {
            weighted(strata, &weights, |s| {
                Some(mean(&s.0, x, limit)? - mean(&s.1, y, limit)?)
            })
        }),
    })
}

fn weighted(
    strata: &[&(Group, Group)],
    weights: &[f64],
    one: impl Fn(&(Group, Group)) -> Option<f64>,
) -> Option<f64> {
    let mut sum = 0.0;
    for (stratum, w) in strata.iter().zip(weights) {
        sum += w * one(stratum)?;
    }
    Some(sum)
}

fn rate(group: &Group, counts: &[u32]) -> Option<f64> {
    let sum = group
        .per_clip
        .iter()
        .zip(counts)
        .fold(Arm::default(), |sum, (arm, &times)| Arm {
            hits: sum.hits + arm.hits * u64::from(times),
            n: sum.n + arm.n * u64::from(times),
        });
    (sum.n > 0).then(|| sum.hits as f64 / sum.n as f64)
}

fn mean(group: &Group, counts: &[u32], limit_ms: f64) -> Option<f64> {
    let times = |k: usize| counts[group.watched_clips[k]] as usize;
    let curve = Curve::counted(&group.watched, times)?;
    Some(curve.restricted_mean(limit_ms)?.mean)
}

/// Range of the middle half of the hits, as the scale of a first step.
fn spread(hits: &[(&Clustered, &Clustered)]) -> f64 {
    hits.iter()
        .flat_map(|(a, b)| [a, b])
        .filter(|c| !c.values.is_empty())
        .map(|c| c.values[c.values.len() * 3 / 4] - c.values[c.values.len() / 4])
        .fold(1.0, f64::max)
}
