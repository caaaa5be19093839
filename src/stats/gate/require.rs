//! Requirements: the candidate alone, within its own window.

use super::super::binomial::wilson;
use super::super::normal::two_sided_z;
use super::super::survival::Curve;
use super::Check;
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
        let (interval, method) = match (&candidate.own_draws, used.as_slice()) {
            (None, [(only, _)]) => {
                let z = two_sided_z(self.world.confidence);
                let curve = candidate.own[*only].curve();
                let (low, high) = curve.map_or((None, None), |c| c.quantile_interval(0.9, z));
                let interval = (
                    low.unwrap_or(f64::NEG_INFINITY),
                    high.unwrap_or(f64::INFINITY),
                );
                (interval, "Brookmeyer–Crowley, log–log")
            }
            (draws, _) => {
                let draws = draws.as_ref().unwrap_or(&candidate.draws);
                let values = (0..draws.len()).map(|r| {
                    let drawn = value(&|k| draws.curve(r, k, &candidate.own[k]))?;
                    Some(drawn.map_or((f64::INFINITY, f64::INFINITY), |v| (v, v)))
                });
                let interval = self.between(values, draws.units, draws.units + 1);
                (interval, draws.words())
            }
        };
        let figure = (!used.is_empty()).then_some(Figure {
            value: found,
            low: interval.0,
            high: interval.1,
        });
        let method = method.to_owned();
        let mut check = self.check(bound("p90_ms", limit, Bad::Above), figure, method);
        check.candidate = check.value;
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
