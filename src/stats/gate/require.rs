//! Requirements: the candidate alone, within its own window.

use super::super::binomial::wilson;
use super::super::normal::two_sided_z;
use super::super::sample::SAME_MS;
use super::super::survival::Curve;
use super::Check;
use super::exact::earliest;
use super::figure::{Bad, Figure, Limit};
use super::world::{View, mixed};

impl View<'_> {
    pub(super) fn required_hit_rate(&self, limit: f64) -> Check {
        let candidate = &self.world.candidate;
        let (hits, n) = self.places.iter().fold((0, 0), |(h, n), &k| {
            (h + candidate.own[k].arm.hits, n + candidate.own[k].arm.n)
        });
        let mut method = "Wilson".to_owned();
        let mut figure = wilson(hits, n, self.world.confidence).map(|(low, high)| Figure {
            value: Some(hits as f64 / n as f64),
            low,
            high,
        });
        if let Some(draws) = &candidate.own_draws {
            let sizes: Vec<f64> = self
                .places
                .iter()
                .map(|&k| candidate.own[k].arm.n as f64 / n.max(1) as f64)
                .collect();
            let values = (0..draws.len()).map(|r| {
                let mut sum = 0.0;
                for (&k, share) in self.places.iter().zip(&sizes) {
                    if *share > 0.0 {
                        sum += share * draws.hit_rate(r, k, &candidate.own[k])?;
                    }
                }
                Some((sum, sum))
            });
            figure = figure.map(|f| f.widened(self.between(values, draws.units, draws.units + 1)));
            method.push_str(", widened to the interval from resampled clips");
        }
        let mut check = self.check(bound("hit_rate", limit, Bad::Below), figure, method);
        check.candidate = check.value;
        check
    }

    pub(super) fn required_p90(&self, limit: f64) -> Check {
        let candidate = &self.world.candidate;
        let sizes: Vec<f64> = self
            .places
            .iter()
            .map(|&k| candidate.own[k].arm.n as f64)
            .collect();
        let total: f64 = sizes.iter().sum();
        let used: Vec<(usize, f64)> = self
            .places
            .iter()
            .zip(&sizes)
            .filter(|(_, n)| **n > 0.0)
            .map(|(&k, n)| (k, n / total))
            .collect();
        let value = |curve: &dyn Fn(usize) -> Option<Curve>| -> Option<Option<f64>> {
            let curves: Option<Vec<Curve>> = used.iter().map(|&(k, _)| curve(k)).collect();
            let weights: Vec<f64> = used.iter().map(|u| u.1).collect();
            Some(mixed(&curves?, &weights, 0.9))
        };
        let found = value(&|k| candidate.own[k].curve()).flatten();
        // Not reached within the window: after it, at the earliest.
        let watched_ms = match candidate.watched_ms[1] {
            // A window is a difference of stamps, and a limit may be meant as it.
            window if (window - limit).abs() <= SAME_MS => limit,
            window => window,
        };
        let later = watched_ms.next_up();
        let (interval, method) = match (&candidate.own_draws, used.as_slice()) {
            (None, [(only, _)]) => {
                let z = two_sided_z(self.world.confidence);
                let curve = candidate.own[*only].curve();
                let (low, high) = curve.map_or((None, None), |c| c.quantile_interval(0.9, z));
                let interval = (low.unwrap_or(later), high.unwrap_or(f64::INFINITY));
                (interval, "Brookmeyer–Crowley, log–log")
            }
            (draws, _) => {
                let draws = draws.as_ref().unwrap_or(&candidate.draws);
                let values = (0..draws.len()).map(|r| {
                    let drawn = value(&|k| draws.curve(r, k, &candidate.own[k]))?;
                    Some(drawn.map_or((later, f64::INFINITY), |v| (v, v)))
                });
                let interval = self.between(values, draws.units, draws.units + 1);
                (interval, draws.words())
            }
        };
        let watched = used
            .iter()
            .map(|&(k, _)| candidate.own[k].watched.as_slice());
        let tail = (1.0 - self.world.confidence) / 2.0;
        let exact = earliest(&watched.collect::<Vec<_>>(), 0.9, tail).unwrap_or(later);
        let figure = (!used.is_empty()).then_some(Figure {
            value: found,
            low: interval.0.min(exact).min(later),
            high: interval.1,
        });
        let method = format!("{method}; its low end no later than the order statistics allow");
        let mut check = self.check(bound("p90_ms", limit, Bad::Above), figure, method);
        check.candidate = check.value;
        check.not_reached_by_ms = (found.is_none() && !used.is_empty()).then_some(watched_ms);
        // One step beyond the window is how it counts, not what anybody reads.
        check.low = check.low.map(|low| low.min(watched_ms));
        check
    }
}

fn bound(name: &str, value: f64, bad: Bad) -> Limit<'_> {
    Limit {
        table: "require",
        name,
        value,
        bad,
    }
}
