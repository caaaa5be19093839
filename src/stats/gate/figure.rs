//! A figure with its interval, held against a limit.

use super::world::View;
use super::{Check, Verdict};

/// A figure with its interval; infinite where unbounded.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figure {
    pub value: Option<f64>,
    pub low: f64,
    pub high: f64,
}

/// Which way is bad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Bad {
    Above,
    Below,
}

/// A limit of the policy.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limit<'a> {
    /// `change` or `require`.
    pub table: &'a str,
    /// The policy's key.
    pub name: &'a str,
    /// Its value.
    pub value: f64,
    /// Which way is bad.
    pub bad: Bad,
}

impl View<'_> {
    pub(super) fn check(&self, limit: Limit, figure: Option<Figure>, method: String) -> Check {
        let world = self.world;
        let uses_baseline = limit.table == "change";
        let judged = [
            world
                .baseline
                .as_ref()
                .filter(|_| uses_baseline)
                .map(|b| self.judged(b)),
            Some(self.judged(&world.candidate)),
        ];
        let fewest = judged.iter().flatten().copied().min().unwrap_or(0);
        let (verdict, why) = if fewest < world.min_trials {
            let why = format!("{fewest} judged trials, {}", world.asked);
            (Verdict::Inconclusive, Some(why))
        } else {
            judge(figure, limit.value, limit.bad)
        };
        let bounded = |x: f64| x.is_finite().then_some(x);
        Check {
            name: limit.name.to_owned(),
            side: self.side.to_owned(),
            table: limit.table.to_owned(),
            limit: limit.value,
            value: figure.and_then(|f| f.value),
            low: figure.and_then(|f| bounded(f.low)),
            high: figure.and_then(|f| bounded(f.high)),
            verdict,
            baseline: None,
            candidate: None,
            judged,
            between_sessions: None,
            method,
            why,
            few: fewest < world.min_trials,
            not_reached_by_ms: None,
        }
    }
}

impl Figure {
    pub(super) fn widened(self, (low, high): (f64, f64)) -> Self {
        Self {
            value: self.value,
            low: self.low.min(low),
            high: self.high.max(high),
        }
    }
}

/// By the whole interval. A quantile that is not reached never passes; it is a
/// regression where the low end of its interval already is.
fn judge(figure: Option<Figure>, limit: f64, bad: Bad) -> (Verdict, Option<String>) {
    let Some(Figure { value, low, high }) = figure else {
        let why = "no judged trials to compare on this side";
        return (Verdict::Inconclusive, Some(why.to_owned()));
    };
    let (inside, beyond) = match bad {
        Bad::Above => (high <= limit, low > limit),
        Bad::Below => (low >= limit, high < limit),
    };
    match (inside && value.is_some(), beyond) {
        (true, _) => (Verdict::Pass, None),
        (_, true) => (Verdict::Regression, None),
        _ if value.is_none() => {
            let why = "the quantile is not reached within the window";
            (Verdict::Inconclusive, Some(why.to_owned()))
        }
        _ => {
            let why = "the interval reaches to both sides of the limit";
            (Verdict::Inconclusive, Some(why.to_owned()))
        }
    }
}
