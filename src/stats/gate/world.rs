//! Baseline and candidate, split into sides and resampled.

use std::collections::BTreeSet;

use crate::store::schema::Side;

use super::super::bootstrap::{limits, tail};
use super::super::compare::Named;
use super::super::difference::weight;
use super::super::sample::{self, Latencies, Observation};
use super::super::survival::{Curve, mixed_quantile};
use super::sides::{Draws, SideSample, enough_clips};
use super::{GateOptions, Policy};

/// Both setups on the sides of one check.
pub(super) struct View<'a> {
    pub side: &'static str,
    pub places: Vec<usize>,
    pub world: &'a World,
}

/// All sides of both setups, with their resamples.
pub(super) struct World {
    pub sides: Vec<Option<Side>>,
    pub baseline: Option<Setup>,
    /// The baseline session by session, within the shared window.
    pub sessions: Vec<Vec<SideSample>>,
    pub candidate: Setup,
    pub confidence: f64,
    pub min_trials: u64,
    /// Who asks for so many, in words.
    pub asked: String,
}

pub(super) struct Setup {
    /// Within the window both share, for changes.
    pub shared: Vec<SideSample>,
    pub draws: Draws,
    /// Within its own window, for requirements.
    pub own: Vec<SideSample>,
    /// By clip, where its own clips are enough.
    pub own_draws: Option<Draws>,
    /// Shortest time any of its trials was watched, ms: within the shared
    /// window, and within its own.
    pub watched_ms: [f64; 2],
}

impl World {
    pub(super) fn new(
        (baseline, sessions): (Option<&Named>, &[Named]),
        candidate: &Named,
        policy: &Policy,
        latencies: Latencies,
        options: &GateOptions,
    ) -> Self {
        let trials = |n: &Named| sample::judged(&n.timing.clips, latencies);
        let judged: Vec<Vec<Observation>> = baseline
            .into_iter()
            .chain([candidate])
            .map(trials)
            .collect();
        let sides: BTreeSet<Option<Side>> = baseline
            .into_iter()
            .chain([candidate])
            .flat_map(|n| n.timing.clips.iter().flat_map(|c| &c.trials))
            .map(|t| t.side)
            .collect();
        let sides: Vec<_> = sides.into_iter().collect();
        let window_ms = judged
            .iter()
            .filter_map(|j| sample::shortest_window_ms(j))
            .fold(f64::INFINITY, f64::min);
        let split = |judged: &[Observation], window_ms: f64| -> Vec<SideSample> {
            sides
                .iter()
                .map(|&side| SideSample::new(judged.iter().filter(|o| o.side == side), window_ms))
                .collect()
        };
        let shared: Vec<_> = judged.iter().map(|j| split(j, window_ms)).collect();
        let sessions = sessions
            .iter()
            .map(|n| split(&trials(n), window_ms))
            .collect();
        let by_clip = shared.iter().all(|s| enough_clips(s));
        let mut setups: Vec<Setup> = baseline
            .into_iter()
            .chain([candidate])
            .zip(shared.into_iter().zip(&judged))
            .map(|(named, (shared, judged))| {
                let identity = identity(named);
                let own = split(judged, f64::INFINITY);
                let by_own_clips = enough_clips(&own);
                let draw = |sides: &[SideSample], by_clip: bool| {
                    Draws::new(sides, by_clip, &identity, options.seed, options.resamples)
                };
                Setup {
                    draws: draw(&shared, by_clip),
                    own_draws: by_own_clips.then(|| draw(&own, true)),
                    shared,
                    own,
                    watched_ms: [window_ms, f64::INFINITY].map(|window| shortest(judged, window)),
                }
            })
            .collect();
        let candidate = setups.pop().unwrap_or_else(Setup::empty);
        Self {
            sides,
            baseline: setups.pop(),
            sessions,
            candidate,
            confidence: policy.test.confidence,
            min_trials: policy.test.min_trials,
            asked: policy.asked(),
        }
    }

    pub(super) fn views(&self) -> Vec<View<'_>> {
        let mut views: Vec<View> = self
            .sides
            .iter()
            .enumerate()
            .filter_map(|(k, side)| {
                Some(View {
                    side: match (*side)? {
                        Side::Near => "near",
                        Side::Far => "far",
                    },
                    places: vec![k],
                    world: self,
                })
            })
            .collect();
        views.push(View {
            side: "all",
            places: (0..self.sides.len()).collect(),
            world: self,
        });
        views
    }
}

impl Setup {
    pub(super) fn empty() -> Self {
        let draws = Draws::new(&[], false, "", 0, 0);
        Self {
            shared: Vec::new(),
            draws,
            own: Vec::new(),
            own_draws: None,
            watched_ms: [0.0; 2],
        }
    }
}

fn shortest(judged: &[Observation], window_ms: f64) -> f64 {
    let watched = judged.iter().map(|o| o.horizon_ms(window_ms));
    watched.reduce(f64::min).unwrap_or(0.0)
}

fn identity(named: &Named) -> String {
    let mut text = format!("gate\n{}", named.timing.setup.name);
    for clip in &named.timing.clips {
        text.push('\n');
        text.push_str(&clip.sha256);
    }
    text
}

impl View<'_> {
    /// Weights of this view's sides, the same in both setups; `None` where a
    /// side lacks trials in either.
    pub(super) fn weights(&self, baseline: &Setup) -> Option<Vec<f64>> {
        let raw: Vec<f64> = self
            .places
            .iter()
            .map(|&k| weight(baseline.shared[k].arm, self.world.candidate.shared[k].arm))
            .collect();
        let total: f64 = raw.iter().sum();
        raw.iter()
            .all(|&w| w > 0.0)
            .then(|| raw.iter().map(|w| w / total).collect())
    }

    pub(super) fn judged(&self, setup: &Setup) -> u64 {
        self.places.iter().map(|&k| setup.shared[k].arm.n).sum()
    }

    pub(super) fn with_baseline(&self) -> Option<(&Setup, Vec<f64>)> {
        let baseline = self.world.baseline.as_ref()?;
        Some((baseline, self.weights(baseline)?))
    }

    /// Interval over the resamples of baseline and candidate, by number.
    pub(super) fn interval(
        &self,
        baseline: &Setup,
        one: impl Fn(usize) -> Option<(f64, f64)>,
    ) -> (f64, f64) {
        let candidate = &self.world.candidate;
        let units = (baseline.draws.units, candidate.draws.units);
        let values = (0..baseline.draws.len()).map(one);
        self.between(values, units.0.min(units.1), units.0 + units.1)
    }

    /// Limits over resampled values, each given as its lowest and highest
    /// reading; unbounded where resamples tell too little.
    pub(super) fn between(
        &self,
        values: impl Iterator<Item = Option<(f64, f64)>>,
        smaller: usize,
        total: usize,
    ) -> (f64, f64) {
        let all: Vec<_> = values.collect();
        let known: Vec<(f64, f64)> = all.iter().flatten().copied().collect();
        if known.len() * 10 < all.len() * 9 {
            return (f64::NEG_INFINITY, f64::INFINITY);
        }
        let tail = tail(self.world.confidence, smaller, total);
        let mut lows: Vec<f64> = known.iter().map(|v| v.0).collect();
        let mut highs: Vec<f64> = known.iter().map(|v| v.1).collect();
        let low = limits(&mut lows, tail).map_or(f64::NEG_INFINITY, |l| l.0);
        let high = limits(&mut highs, tail).map_or(f64::INFINITY, |l| l.1);
        (low, high)
    }
}

/// Quantile of these curves, each counting by its weight.
pub(super) fn mixed(curves: &[Curve], weights: &[f64], p: f64) -> Option<f64> {
    let weighed: Vec<_> = weights.iter().copied().zip(curves).collect();
    mixed_quantile(&weighed, p)
}
