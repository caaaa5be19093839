//! Limits on change: candidate against baseline.

use super::super::difference::{Arm, rate_difference};
use super::super::survival::Curve;
use super::Check;
use super::figure::{Bad, Figure, Limit};
use super::sides::SideSample;
use super::world::{Setup, View, mixed};

impl View<'_> {
    pub(super) fn hit_rate_drop(&self, limit: f64) -> Check {
        let candidate = &self.world.candidate;
        let (mut figure, mut method) = (None, "Newcombe".to_owned());
        let (mut before, mut after, mut between) = (None, None, None);
        if let Some((baseline, weights)) = self.with_baseline() {
            let arms: Vec<_> = self
                .places
                .iter()
                .map(|&k| (baseline.shared[k].arm, candidate.shared[k].arm))
                .collect();
            figure = rate_difference(&arms, self.world.confidence).map(|d| Figure {
                value: Some(d.value),
                low: d.low,
                high: d.high,
            });
            let rate = |pick: &dyn Fn(usize) -> Arm| {
                let rates = self.places.iter().map(|&k| pick(k));
                rates
                    .zip(&weights)
                    .map(|(arm, w)| w * arm.hits as f64 / arm.n as f64)
                    .sum::<f64>()
            };
            before = Some(rate(&|k| baseline.shared[k].arm));
            after = Some(rate(&|k| candidate.shared[k].arm));
            if baseline.draws.by_clip {
                let one = |r: usize| {
                    let mut sum = 0.0;
                    for (&k, w) in self.places.iter().zip(&weights) {
                        let x = baseline.draws.hit_rate(r, k, &baseline.shared[k])?;
                        let y = candidate.draws.hit_rate(r, k, &candidate.shared[k])?;
                        sum += w * (x - y);
                    }
                    Some((sum, sum))
                };
                figure = figure.map(|f| f.widened(self.interval(baseline, one)));
                method.push_str(", widened to the interval from resampled clips");
            }
            let own = |sides: &[SideSample]| {
                let mut sum = 0.0;
                for (&k, w) in self.places.iter().zip(&weights) {
                    let Arm { hits, n } = sides[k].arm;
                    sum += w * (n > 0).then(|| hits as f64 / n as f64)?;
                }
                Some(Some(sum))
            };
            let widened = figure.map(|f| self.between_sessions(f, own));
            between = widened.as_ref().and_then(|w| w.spread);
            figure = widened.map(|w| Figure {
                low: w.figure.low.max(-1.0),
                high: w.figure.high.min(1.0),
                ..w.figure
            });
            method.push_str(&between_words(between));
        }
        let mut check = self.check(bound("hit_rate_drop", limit), figure, method);
        check.between_sessions = between.map(|b| b.0);
        (check.baseline, check.candidate) = (before, after);
        check
    }

    pub(super) fn slowdown(&self, name: &str, p: f64, limit: f64) -> Check {
        let candidate = &self.world.candidate;
        let mut method = String::new();
        let (mut figure, mut before, mut after) = (None, None, None);
        let (mut unreached, mut between) = (None, None);
        if let Some((baseline, weights)) = self.with_baseline() {
            let watched_ms = baseline.watched_ms[0].min(candidate.watched_ms[0]);
            let own = |setup: &Setup| {
                let curves: Option<Vec<Curve>> = self
                    .places
                    .iter()
                    .map(|&k| setup.shared[k].curve())
                    .collect();
                mixed(&curves?, &weights, p)
            };
            (before, after) = (own(baseline), own(candidate));
            let drawn = |setup: &Setup, r: usize| -> Option<Option<f64>> {
                let curves: Option<Vec<Curve>> = self
                    .places
                    .iter()
                    .map(|&k| setup.draws.curve(r, k, &setup.shared[k]))
                    .collect();
                Some(mixed(&curves?, &weights, p))
            };
            // A resample that does not reach the quantile reaches it after the
            // window at the earliest; where neither does, the difference could
            // be anything.
            let one = |r: usize| {
                Some(match (drawn(baseline, r)?, drawn(candidate, r)?) {
                    (Some(b), Some(c)) => (c - b, c - b),
                    (Some(b), None) => (watched_ms - b, f64::INFINITY),
                    (None, Some(c)) => (f64::NEG_INFINITY, c - watched_ms),
                    (None, None) => (f64::NEG_INFINITY, f64::INFINITY),
                })
            };
            let (low, high) = self.interval(baseline, one);
            let session = |sides: &[SideSample]| {
                let curves: Option<Vec<Curve>> =
                    self.places.iter().map(|&k| sides[k].curve()).collect();
                Some(mixed(&curves?, &weights, p))
            };
            let trials = Figure {
                value: before.zip(after).map(|(b, c)| c - b),
                low,
                high,
            };
            let widened = self.between_sessions(trials, session);
            between = widened.spread;
            figure = Some(widened.figure);
            unreached = (before.is_none() || after.is_none()).then_some(watched_ms);
            method = baseline.draws.words().to_owned() + &between_words(between);
        }
        let mut check = self.check(bound(name, limit), figure, method);
        (check.baseline, check.candidate) = (before, after);
        check.not_reached_by_ms = unreached;
        check.between_sessions = between.map(|b| b.0);
        check
    }
}

fn between_words(spread: Option<(f64, u64)>) -> String {
    spread.map_or(String::new(), |(_, k)| {
        format!(", widened by what {k} sessions of the baseline differ by")
    })
}

fn bound(name: &str, value: f64) -> Limit<'_> {
    Limit {
        table: "change",
        name,
        value,
        bad: Bad::Above,
    }
}
