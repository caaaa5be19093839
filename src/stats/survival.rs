//! Time-to-focus with right-censoring: the product-limit estimate.
//!
//! Sources: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457; Greenwood 1926;
//! log–log limits and restricted mean as in Klein & Moeschberger, *Survival
//! Analysis*, chapter 4; interval of a quantile by Brookmeyer & Crowley 1982,
//! Biometrics 38:29.

/// One judged trial on the time axis, ms from onset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watched {
    /// When focus settled, or how long it was watched without settling.
    pub ms: f64,
    /// Whether focus settled (a hit).
    pub hit: bool,
}

/// The curve at one instant where focus settled in some trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// ms from onset.
    pub ms: f64,
    /// Trials still unsettled and watched just before.
    pub at_risk: usize,
    /// Hits at this instant.
    pub hits: usize,
    /// Share not yet in focus after this instant, 0..=1.
    pub waiting: f64,
    /// Greenwood's sum up to here; infinite once the curve is 0.
    pub greenwood: f64,
}

impl Step {
    /// Log–log limits for a critical value; `None` once the curve is 0.
    pub fn log_log(&self, z: f64) -> Option<(f64, f64)> {
        if !self.greenwood.is_finite() || self.waiting <= 0.0 || self.waiting >= 1.0 {
            return None;
        }
        let spread = (z * self.greenwood.sqrt() / self.waiting.ln()).abs();
        Some((
            self.waiting.powf(spread.exp()),
            self.waiting.powf((-spread).exp()),
        ))
    }
}

/// A mean up to a limit, with its standard error, ms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RestrictedMean {
    /// Mean of min(time-to-focus, limit).
    pub mean: f64,
    /// Greenwood-type standard error.
    pub standard_error: f64,
}

/// Share of trials not yet in focus, as a function of time.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    steps: Vec<Step>,
    last_ms: f64,
}

/// Two shares are the same when they differ by less (rounding of products).
const SAME_SHARE: f64 = 1e-9;

impl Curve {
    /// The curve of these trials; `None` without any.
    ///
    /// A trial censored at the instant of another's hit was still at risk.
    pub fn new(trials: &[Watched]) -> Option<Self> {
        let mut sorted = trials.to_vec();
        sorted.sort_by(|a, b| a.ms.total_cmp(&b.ms));
        Self::counted(&sorted, |_| 1)
    }

    /// The curve of trials sorted by time, the k-th counted `times(k)` times;
    /// `None` if none counts.
    pub fn counted(sorted: &[Watched], times: impl Fn(usize) -> usize) -> Option<Self> {
        let mut at_risk: usize = (0..sorted.len()).map(&times).sum();
        if at_risk == 0 {
            return None;
        }
        let mut steps = Vec::new();
        let (mut waiting, mut greenwood, mut last_ms) = (1.0, 0.0, 0.0);
        let mut k = 0;
        while k < sorted.len() {
            let ms = sorted[k].ms;
            let (mut hits, mut leaving) = (0, 0);
            while k < sorted.len() && sorted[k].ms == ms {
                let count = times(k);
                leaving += count;
                hits += if sorted[k].hit { count } else { 0 };
                k += 1;
            }
            if hits > 0 {
                let (n, d) = (at_risk as f64, hits as f64);
                waiting *= (n - d) / n;
                greenwood += d / (n * (n - d));
                steps.push(Step {
                    ms,
                    at_risk,
                    hits,
                    waiting,
                    greenwood,
                });
            }
            if leaving > 0 {
                last_ms = ms;
            }
            at_risk -= leaving;
        }
        Some(Self { steps, last_ms })
    }

    /// The instants at which it falls, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Time by which a share `p` of all judged trials is in focus, ms.
    ///
    /// Where the curve lies flat at exactly 1 − p, the midpoint of the flat
    /// piece (which ends at the last instant watched, if nothing follows).
    /// `None` where the share is not reached.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let falls = self.steps.iter().map(|s| (s.ms, s.waiting));
        first_at(falls, self.last_ms, 1.0 - p)
    }

    /// Interval of that time: where each log–log limit of the curve first
    /// reaches 1 − p. A limit that is never reached is `None`, not the last
    /// instant watched.
    pub fn quantile_interval(&self, p: f64, z: f64) -> (Option<f64>, Option<f64>) {
        let level = 1.0 - p + SAME_SHARE;
        let first = |pick: fn((f64, f64)) -> f64| {
            self.steps
                .iter()
                .find(|s| s.log_log(z).map(pick).is_some_and(|limit| limit <= level))
                .map(|s| s.ms)
        };
        (first(|band| band.0), first(|band| band.1))
    }

    /// Mean time-to-focus counted no further than `limit_ms`; `None` where
    /// trials were not watched that long.
    pub fn restricted_mean(&self, limit_ms: f64) -> Option<RestrictedMean> {
        let end = self.steps.last().map_or(1.0, |s| s.waiting);
        if limit_ms <= 0.0 || (limit_ms > self.last_ms + 1e-6 && end > 0.0) {
            return None;
        }
        let inside = &self.steps[..self.steps.partition_point(|s| s.ms < limit_ms)];
        let (mut area, mut variance, mut right) = (0.0, 0.0, limit_ms);
        for step in inside.iter().rev() {
            area += step.waiting * (right - step.ms);
            right = step.ms;
            let (n, d) = (step.at_risk as f64, step.hits as f64);
            if n > d {
                variance += area * area * d / (n * (n - d));
            }
        }
        Some(RestrictedMean {
            mean: area + right,
            standard_error: variance.sqrt(),
        })
    }
}

/// The same quantile of a weighted mean of curves (weights add up to 1): each
/// side counts by its weight, whatever its share of the trials.
pub fn mixed_quantile(curves: &[(f64, &Curve)], p: f64) -> Option<f64> {
    let mut falls: Vec<(f64, f64)> = curves
        .iter()
        .flat_map(|(weight, curve)| {
            let before = std::iter::once(1.0).chain(curve.steps.iter().map(|s| s.waiting));
            curve
                .steps
                .iter()
                .zip(before)
                .map(move |(s, before)| (s.ms, weight * (before - s.waiting)))
        })
        .collect();
    falls.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut waiting = 1.0;
    for fall in &mut falls {
        waiting -= fall.1;
        fall.1 = waiting;
    }
    let last_ms = curves.iter().map(|c| c.1.last_ms).fold(0.0, f64::max);
    first_at(falls.into_iter(), last_ms, 1.0 - p)
}

/// First instant at which a falling curve, given where it falls and to what,
/// reaches `level`; the midpoint if it lies flat there.
fn first_at(falls: impl Iterator<Item = (f64, f64)>, last_ms: f64, level: f64) -> Option<f64> {
    let mut falls = falls.skip_while(|f| f.1 > level + SAME_SHARE);
    let (ms, waiting) = falls.next()?;
    if (waiting - level).abs() > SAME_SHARE {
        return Some(ms);
    }
    let end = falls
        .find(|f| f.1 < level - SAME_SHARE)
        .map_or(last_ms, |f| f.0);
    Some(f64::midpoint(ms, end))
}

#[cfg(test)]
#[path = "survival_tests.rs"]
pub(crate) mod tests;
