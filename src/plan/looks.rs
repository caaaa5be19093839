//! Looking before all is filmed: how many trials then, when to look, and what
//! counts at each look.

use serde::Serialize;

use crate::stats::compare::MOST_LOOKS;
use crate::stats::looks::{Boundaries, Spending, even_shares};
use crate::stats::normal::two_sided_p;

use super::sizes::{Level, Trials};
use super::{PlanError, within};

/// How often, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LooksQuestion {
    /// Looks at even steps, the last one at the end, 2..=50.
    pub looks: u32,
    /// When the chance to be misled is spent.
    pub spending: Spending,
}

/// Looks at even steps.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Looks {
    /// Looks, the last one at the end.
    pub looks: u32,
    /// When the chance to be misled is spent.
    pub spending: Spending,
    /// How many times the trials of a single look are needed.
    pub times_the_trials: f64,
    /// Judged trials filmed on average, of each kit and side, where the kits
    /// differ as asked; null where no number of trials is known.
    pub average_if_different: Option<f64>,
    /// The same where they do not differ at all.
    pub average_if_equal: Option<f64>,
    /// The looks.
    pub schedule: Vec<Scheduled>,
}

/// One look of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Scheduled {
    /// Share of the planned trials.
    pub share: f64,
    /// Judged trials by then, of each kit and side; null where not known.
    pub judged: Option<u64>,
    /// Standard errors beyond which a difference is shown.
    pub critical: f64,
    /// p-value below which a difference is shown.
    pub p_below: f64,
    /// p-value above which going on is not worth it; null where it always is,
    /// and at the last look.
    pub stop_if_p_above: Option<f64>,
}

/// The looks, before numbers of trials are known.
pub(super) struct Design {
    question: LooksQuestion,
    boundaries: Boundaries,
    drift: f64,
    /// How many times the trials of a single look.
    pub times: f64,
}

impl Design {
    /// # Errors
    /// A number of looks outside 2..=50.
    pub fn new(question: LooksQuestion, level: Level) -> Result<Self, PlanError> {
        within(
            "looks",
            f64::from(question.looks),
            2.0,
            f64::from(MOST_LOOKS),
            "",
        )?;
        let shares = even_shares(question.looks);
        let boundaries = Boundaries::new(&shares, 1.0 - level.confidence, question.spending);
        Ok(Self {
            question,
            drift: boundaries.drift(level.power),
            times: boundaries.inflation(level.confidence, level.power),
            boundaries,
        })
    }

    /// A number of trials with these looks instead of one.
    pub fn looked_at(&self, mut trials: Trials) -> Trials {
        trials.exact *= self.times;
        trials.trials_per_setup = trials.trials_per_setup.max(trials.exact.ceil() as u64);
        trials
            .method
            .push_str(&format!(", for {} looks", self.question.looks));
        trials
    }

    /// The schedule for so many trials of each kit and side.
    pub fn schedule(&self, trials: Option<u64>) -> Looks {
        let futile = self.boundaries.futile(self.drift);
        let last = self.boundaries.shares.len() - 1;
        let planned = trials.map(|n| n as f64);
        let average = |drift| {
            let share = self.boundaries.average_share(drift, &futile);
            planned.map(|n| n * share)
        };
        let looks = self.boundaries.shares.iter().enumerate();
        Looks {
            looks: self.question.looks,
            spending: self.question.spending,
            times_the_trials: self.times,
            average_if_different: average(self.drift),
            average_if_equal: average(0.0),
            schedule: looks
                .map(|(k, &share)| Scheduled {
                    share,
                    judged: planned.map(|n| (n * share).ceil() as u64),
                    critical: self.boundaries.critical[k],
                    p_below: self.boundaries.p_below(k),
                    stop_if_p_above: (k < last && futile[k] > 0.0).then(|| two_sided_p(futile[k])),
                })
                .collect(),
        }
    }
}
