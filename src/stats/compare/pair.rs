//! Two setups on one side, or over the sides they share.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::store::schema::Side;

use super::super::difference::{Arm, rate_difference, weight};
use super::super::fisher::exact_p;
use super::super::holm::holm;
use super::super::logrank::log_rank;
use super::super::normal::two_sided_z;
use super::super::ranks::{mann_whitney, smaller_probability};
use super::super::shift::hodges_lehmann;
use super::super::survival::Curve;
use super::group::{Group, SetupSample};
use super::resample::{self, Draws};
use super::{
    CompareOptions, FocusDifference, Higher, LatencyShift, Pair, RateDifference, Sooner, more,
    sentence,
};

/// Fewest judged trials on a side for a verdict.
pub const MIN_JUDGED: u64 = 6;

/// A pair before Holm has spoken.
pub(super) struct Draft {
    pub pair: Pair,
    /// Place of the two among the setups.
    pub who: (usize, usize),
    pub too_few: bool,
    /// Judged trials lacking for a verdict, summed over the sides.
    pub missing: u64,
    /// Log-rank statistic, above 0 when a is sooner.
    pub z: Option<f64>,
}

/// Every pair on every side, then on all; Holm over the pairs of each test.
/// Intervals by clip have a level of their own: resamples do not reach that of
/// an early look.
pub(super) fn pairs(samples: &[SetupSample], options: &CompareOptions, by_clip: f64) -> Vec<Pair> {
    let draws: Vec<Draws> = samples
        .iter()
        .map(|s| resample::draws(s, options, by_clip))
        .collect();
    let n = samples.len();
    let all: Vec<(usize, usize)> = (0..n)
        .flat_map(|i| (i + 1..n).map(move |j| (i, j)))
        .collect();
    let mut drafts: Vec<Draft> = all
        .into_par_iter()
        .flat_map_iter(|(i, j)| {
            let both = (&samples[i], &samples[j]);
            let drafts = two(both, (&draws[i], &draws[j]), options).into_iter();
            drafts.map(move |d| Draft { who: (i, j), ..d })
        })
        .collect();
    adjust(&mut drafts);
    drafts
        .into_par_iter()
        .map(|draft| finish(draft, samples, options))
        .collect()
}

fn two(
    (a, b): (&SetupSample, &SetupSample),
    draws: (&Draws, &Draws),
    options: &CompareOptions,
) -> Vec<Draft> {
    let window = match (a.window_ms(), b.window_ms()) {
        (Some(x), Some(y)) => x.min(y),
        (x, y) => x.or(y).unwrap_or(0.0),
    };
    let sides: BTreeSet<Option<Side>> = if a.sides.is_empty() && b.sides.is_empty() {
        [None].into()
    } else {
        a.sides.union(&b.sides).map(|&s| Some(s)).collect()
    };
    let groups: Vec<(Option<Side>, (Group, Group))> = sides
        .into_iter()
        .map(|side| (side, (a.group(side, window), b.group(side, window))))
        .collect();
    let mut drafts: Vec<Draft> = groups
        .iter()
        .filter_map(|(side, pair)| side.map(|s| (s, pair)))
        .map(|(side, pair)| draft((a, b), name(side), &[pair], window, draws, options))
        .collect();
    // Sides only one of them has cannot be compared, so they are not in `all`.
    let shared: Vec<_> = groups
        .iter()
        .map(|(_, pair)| pair)
        .filter(|(x, y)| x.arm.n > 0 && y.arm.n > 0)
        .collect();
    drafts.push(draft((a, b), "all", &shared, window, draws, options));
    drafts
}

fn name(side: Side) -> &'static str {
    match side {
        Side::Near => "near",
        Side::Far => "far",
    }
}

fn draft(
    (a, b): (&SetupSample, &SetupSample),
    side: &str,
    strata: &[&(Group, Group)],
    window: f64,
    draws: (&Draws, &Draws),
    options: &CompareOptions,
) -> Draft {
    let arms: Vec<(Arm, Arm)> = strata.iter().map(|(x, y)| (x.arm, y.arm)).collect();
    let judged = arms
        .iter()
        .fold([0, 0], |sum, (x, y)| [sum[0] + x.n, sum[1] + y.n]);
    let watched: Vec<_> = strata
        .iter()
        .map(|(x, y)| (x.watched.as_slice(), y.watched.as_slice()))
        .collect();
    let ranked: Vec<_> = strata
        .iter()
        .map(|(x, y)| (x.ranked.as_slice(), y.ranked.as_slice()))
        .collect();
    let too_few = arms.is_empty()
        || arms
            .iter()
            .any(|(x, y)| x.n < MIN_JUDGED || y.n < MIN_JUDGED);
    let test = log_rank(&watched);
    let shift = latency_shift(strata, options.confidence);
    Draft {
        pair: Pair {
            a: a.label.clone(),
            b: b.label.clone(),
            side: side.to_owned(),
            judged,
            window_ms: (!strata.is_empty()).then_some(window),
            hit_rate_difference: hit_rate(&arms, options.confidence),
            by_clip: resample::by_clip(strata, draws, shift.value),
            hit_latency_shift_ms: shift,
            time_to_focus: focus(strata, test.map(|t| t.p), options.confidence),
            a_sooner_probability: smaller_probability(&ranked),
            verdict: Sooner::NoDifferenceShown,
            hit_rate_verdict: Higher::NoDifferenceShown,
            sentence: String::new(),
            more_trials_per_setup: None,
        },
        who: (0, 0),
        too_few,
        missing: if arms.is_empty() {
            MIN_JUDGED
        } else {
            arms.iter()
                .map(|(x, y)| MIN_JUDGED.saturating_sub(x.n.min(y.n)))
                .sum()
        },
        z: test.map(|t| t.z()),
    }
}

fn hit_rate(arms: &[(Arm, Arm)], confidence: f64) -> RateDifference {
    let difference = rate_difference(arms, confidence);
    RateDifference {
        value: difference.map(|d| d.value),
        low: difference.map(|d| d.low),
        high: difference.map(|d| d.high),
        fisher_p: exact_p(arms),
        holm_p: None,
    }
}

fn latency_shift(strata: &[&(Group, Group)], confidence: f64) -> LatencyShift {
    let hits: Vec<_> = strata
        .iter()
        .map(|(x, y)| (x.hits.values.as_slice(), y.hits.values.as_slice()))
        .collect();
    let shift = hodges_lehmann(&hits, confidence);
    LatencyShift {
        value: shift.map(|s| s.value),
        low: shift.and_then(|s| s.low),
        high: shift.and_then(|s| s.high),
        mann_whitney_p: mann_whitney(&hits).map(|t| t.p),
        holm_p: None,
    }
}

/// Weights of the sides in a sum over them; they add up to 1.
pub(super) fn side_weights(strata: &[&(Group, Group)]) -> Vec<f64> {
    let raw: Vec<f64> = strata.iter().map(|(x, y)| weight(x.arm, y.arm)).collect();
    let total: f64 = raw.iter().sum();
    raw.into_iter().map(|w| w / total).collect()
}

/// Shortest time any trial of these was watched, ms.
pub(super) fn common_limit(strata: &[&(Group, Group)]) -> f64 {
    strata
        .iter()
        .map(|(x, y)| x.horizon_ms.min(y.horizon_ms))
        .fold(f64::INFINITY, f64::min)
}

fn focus(strata: &[&(Group, Group)], p: Option<f64>, confidence: f64) -> FocusDifference {
    let limit = common_limit(strata);
    let mut sum = Some((0.0, 0.0));
    for ((x, y), w) in strata.iter().zip(side_weights(strata)) {
        let mean = |g: &Group| Curve::counted(&g.watched, |_| 1)?.restricted_mean(limit);
        sum = match (sum, mean(x), mean(y)) {
            (Some((value, variance)), Some(a), Some(b)) => Some((
                value + w * (a.mean - b.mean),
                variance + w * w * (a.standard_error.powi(2) + b.standard_error.powi(2)),
            )),
            _ => None,
        };
    }
    let found = sum.filter(|_| !strata.is_empty());
    let half = found.map(|(_, variance)| two_sided_z(confidence) * variance.sqrt());
    let value = found.map(|f| f.0);
    FocusDifference {
        log_rank_p: p,
        holm_p: None,
        restricted_mean_difference_ms: value,
        restricted_mean_difference_low_ms: value.zip(half).map(|(v, h)| v - h),
        restricted_mean_difference_high_ms: value.zip(half).map(|(v, h)| v + h),
        restricted_to_ms: value.map(|_| limit),
    }
}

/// Holm over the pairs of setups, for each test on each side.
fn adjust(drafts: &mut [Draft]) {
    for side in ["near", "far", "all"] {
        let mut family: Vec<&mut Pair> = drafts
            .iter_mut()
            .map(|d| &mut d.pair)
            .filter(|p| p.side == side)
            .collect();
        let collect = |pick: &dyn Fn(&Pair) -> Option<f64>| {
            let p: Vec<_> = family.iter().map(|pair| pick(pair)).collect();
            holm(&p)
        };
        let fisher = collect(&|p| p.hit_rate_difference.fisher_p);
        let ranks = collect(&|p| p.hit_latency_shift_ms.mann_whitney_p);
        let curves = collect(&|p| p.time_to_focus.log_rank_p);
        for (k, pair) in family.iter_mut().enumerate() {
            pair.hit_rate_difference.holm_p = fisher[k];
            pair.hit_latency_shift_ms.holm_p = ranks[k];
            pair.time_to_focus.holm_p = curves[k];
        }
    }
}

fn finish(mut draft: Draft, samples: &[SetupSample], options: &CompareOptions) -> Pair {
    let alpha = 1.0 - options.confidence;
    let below = |p: Option<f64>| p.is_some_and(|p| p < alpha);
    let pair = &mut draft.pair;
    let mean = pair.time_to_focus.restricted_mean_difference_ms;
    pair.verdict = match mean {
        _ if draft.too_few => Sooner::TooFewTrials,
        Some(d) if below(pair.time_to_focus.holm_p) && d < 0.0 => Sooner::ASooner,
        Some(d) if below(pair.time_to_focus.holm_p) && d > 0.0 => Sooner::BSooner,
        _ => Sooner::NoDifferenceShown,
    };
    pair.hit_rate_verdict = match pair.hit_rate_difference.value {
        _ if draft.too_few => Higher::TooFewTrials,
        Some(d) if below(pair.hit_rate_difference.holm_p) && d > 0.0 => Higher::AHigher,
        Some(d) if below(pair.hit_rate_difference.holm_p) && d < 0.0 => Higher::BHigher,
        _ => Higher::NoDifferenceShown,
    };
    let others = samples.len() * (samples.len() - 1) / 2;
    // A look says itself how many more.
    let later = options.looks.is_some() && !draft.too_few;
    draft.pair.more_trials_per_setup =
        more::more_trials(&draft, options.confidence, others).filter(|_| !later);
    draft.pair.sentence = sentence::sentence(&draft, samples, options.confidence);
    draft.pair
}
