//! The boundaries, and what they lead to.

use super::super::normal::{below, quantile, two_sided_p, two_sided_z};
use super::walk::Walk;
use super::{FUTILE, Spending};

/// No difference so many standard errors wide is ever asked for: beyond it the
/// chance to be misled is no longer told from none.
const WIDEST: f64 = 8.0;

/// Boundaries of the standardised difference at each look.
#[derive(Clone, Debug, PartialEq)]
pub struct Boundaries {
    /// Share of the planned trials at each look, rising.
    pub shares: Vec<f64>,
    /// A difference of more standard errors than this, either way, is shown.
    pub critical: Vec<f64>,
}

/// Shares of `looks` looks at even steps.
pub fn even_shares(looks: u32) -> Vec<f64> {
    (1..=looks)
        .map(|k| f64::from(k) / f64::from(looks))
        .collect()
}

impl Boundaries {
    /// Boundaries for looks at these shares (above 0, rising) that mislead with
    /// a chance of `alpha` in all; the last look spends what is left.
    pub fn new(shares: &[f64], alpha: f64, spending: Spending) -> Self {
        let mut walk = Walk::new(0.0, shares);
        let (mut spent, mut critical) = (0.0, Vec::new());
        for (k, &share) in shares.iter().enumerate() {
            let last = k + 1 == shares.len();
            let by_now = if last {
                alpha
            } else {
                spending.spent(share, alpha)
            };
            let limit = limit(&walk, share, by_now - spent);
            walk.go_on(share, &[(-limit, limit)]);
            critical.push(limit);
            spent = by_now;
        }
        Self {
            shares: shares.to_vec(),
            critical,
        }
    }

    /// Two-sided p-value below which the k-th look shows a difference.
    pub fn p_below(&self, k: usize) -> f64 {
        two_sided_p(self.critical[k])
    }

    /// Chance of each look to be the one that shows a difference, in the wrong
    /// and in the right direction, for a true difference of `drift` standard
    /// errors at the planned end (0 or above); looks end as well where the
    /// difference is below `futile` standard errors (0: never).
    pub fn shown(&self, drift: f64, futile: &[f64]) -> Vec<[f64; 2]> {
        let mut walk = Walk::new(drift, &self.shares);
        let mut shown = Vec::new();
        for (k, (&share, &limit)) in self.shares.iter().zip(&self.critical).enumerate() {
            shown.push(walk.beyond(share, limit));
            match futile.get(k).copied().unwrap_or(0.0) {
                inner if inner > 0.0 => {
                    walk.go_on(share, &[(-limit, -inner), (inner, limit)]);
                }
                _ => walk.go_on(share, &[(-limit, limit)]),
            }
        }
        shown
    }

    /// True difference, in standard errors at the planned end, that is shown
    /// the right way round with a chance of `power`.
    pub fn drift(&self, power: f64) -> f64 {
        let chance = |drift: f64| self.shown(drift, &[]).iter().map(|c| c[1]).sum::<f64>();
        let wanted = quantile(power);
        let mut drift = self.critical.last().map_or(0.0, |end| end + wanted);
        // On this scale the chance rises nearly in step with the drift.
        for _ in 0..40 {
            let lacking = wanted - quantile(chance(drift));
            drift += lacking;
            if lacking.abs() < 1e-9 {
                break;
            }
        }
        drift
    }

    /// Chance that the planned end still shows a difference, seen at the k-th
    /// look with `z` standard errors (its sign does not matter), if it is one
    /// of `drift`, the same way round.
    pub fn chance_left(&self, k: usize, z: f64, drift: f64) -> f64 {
        let left = 1.0 - self.shares[k];
        let Some(&end) = self.critical.last().filter(|_| left > 0.0) else {
            return f64::from(z.abs() > self.critical[k]);
        };
        let expected = z.abs() * self.shares[k].sqrt() + drift * left;
        below((expected - end) / left.sqrt())
    }

    /// Standard errors at each look below which that chance is less than
    /// [`FUTILE`]; 0 where it never is. At the last look the boundary itself.
    pub fn futile(&self, drift: f64) -> Vec<f64> {
        let end = self.critical.last().copied().unwrap_or(WIDEST);
        let looks = self.shares.iter().zip(&self.critical);
        looks
            .map(|(&share, &limit)| {
                let left = 1.0 - share;
                if left <= 0.0 {
                    return limit;
                }
                let z = (end - drift * left + quantile(FUTILE) * left.sqrt()) / share.sqrt();
                z.clamp(0.0, limit)
            })
            .collect()
    }

    /// Share of the planned trials filmed on average, for such a difference.
    pub fn average_share(&self, drift: f64, futile: &[f64]) -> f64 {
        let mut walk = Walk::new(drift, &self.shares);
        let (mut going_on, mut before, mut sum) = (1.0, 0.0, 0.0);
        for (k, (&share, &limit)) in self.shares.iter().zip(&self.critical).enumerate() {
            sum += going_on * (share - before);
            let inner = futile.get(k).copied().unwrap_or(0.0);
            let chance = |limit: f64| walk.beyond(share, limit).iter().sum::<f64>();
            going_on = (chance(inner.min(limit)) - chance(limit)).max(0.0);
            walk.go_on(share, &[(-limit, -inner), (inner, limit)]);
            before = share;
        }
        sum
    }

    /// How many times the trials of a single look these looks need for the
    /// same `power`.
    pub fn inflation(&self, confidence: f64, power: f64) -> f64 {
        (self.drift(power) / (two_sided_z(confidence) + quantile(power))).powi(2)
    }
}

/// Standard errors beyond which, either way, `chance` is left.
fn limit(walk: &Walk, share: f64, chance: f64) -> f64 {
    let (mut low, mut high) = (0.0, WIDEST);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if walk.beyond(share, middle).iter().sum::<f64>() > chance {
            low = middle;
        } else {
            high = middle;
        }
    }
    high
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
