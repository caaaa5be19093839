//! Two setups looked at more than once: what this look shows, and how many
//! more trials.

use serde::Serialize;

use super::super::looks::{Boundaries, FUTILE, Spending};
use super::super::normal::two_sided_z;
use super::group::SetupSample;
use super::look_plan::{self, LookPlan};
use super::pair::MIN_JUDGED;
use super::{ByClip, CompareError, CompareOptions, Higher, Interval, Pair, Sooner};

/// Power that the planned number of trials is taken to have.
const POWER: f64 = 0.8;

/// A look.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Look {
    /// Which look this is, from 1.
    pub look: u32,
    /// Looks planned.
    pub of: u32,
    /// Judged trials planned, of each setup and side.
    pub planned: u64,
    /// Judged trials now, of each setup and side.
    pub judged: f64,
    /// Judged ÷ planned.
    pub share: f64,
    /// Whether no further look is planned.
    pub last: bool,
    /// Two-sided level over all looks.
    pub confidence: f64,
    /// When the chance to be misled is spent.
    pub spending: Spending,
    /// p-value below which this look shows a difference; null where there are
    /// too few trials for a look.
    pub p_below: Option<f64>,
    /// In hit rate.
    pub hit_rate: Answer,
    /// In time to focus.
    pub time_to_focus: Answer,
    /// Further judged trials of each setup and side until the next look; null
    /// where there is none.
    pub more_to_next_look: Option<u64>,
    /// Further ones until the planned end.
    pub more_at_most: Option<u64>,
    /// Judged trials at each look up to this one, for the next.
    pub looked: Vec<u64>,
    /// In plain words.
    pub sentence: String,
}

/// What a look says to one question.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// The verdict.
    pub verdict: LookVerdict,
    /// Chance that the planned end still shows a difference, if it is as large
    /// as the planned trials would show four times out of five; null where it
    /// is no longer asked.
    pub chance_left: Option<f64>,
}

/// Verdict of a look.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LookVerdict {
    /// A difference is shown.
    Shown,
    /// None was shown by the last look.
    NotShown,
    /// The trials left would seldom show one.
    NotWorthGoingOn,
    /// Not decided.
    GoOn,
    /// Too few trials for a look.
    TooFewTrials,
}

/// A look before the comparison has spoken.
pub(super) struct Standing {
    look: Look,
    design: Option<Boundaries>,
}

impl Standing {
    /// # Errors
    /// Other than two setups; a plan that cannot be, or that these trials do
    /// not fit.
    pub fn new(
        plan: &LookPlan,
        samples: &[SetupSample],
        confidence: f64,
    ) -> Result<Self, CompareError> {
        let [a, b] = samples else {
            return Err(look_plan::wrong(
                "files",
                format!("a look is at two setups; {} are given", samples.len()),
            ));
        };
        look_plan::sound(plan)?;
        let judged = look_plan::judged_of_each(a, b);
        let counted = judged.round() as u64;
        let earlier = plan.looked.last().copied().unwrap_or(0);
        if counted < MIN_JUDGED {
            return Ok(Self {
                look: blank(plan, judged, confidence),
                design: None,
            });
        }
        if counted <= earlier {
            return Err(look_plan::wrong(
                "looked",
                format!(
                    "{counted} judged trials of each setup and side now, no more than the {earlier} \
                     of an earlier look: name timing files of all clips so far, or leave out the \
                     look at these trials"
                ),
            ));
        }
        let mut look = blank(plan, judged, confidence);
        look.last = look.look == plan.looks || counted >= plan.planned;
        look.looked.push(counted);
        let design = Boundaries::new(
            &look_plan::shares(plan, &look),
            1.0 - confidence,
            plan.spending,
        );
        look.p_below = Some(design.p_below(plan.looked.len()));
        if !look.last {
            let left = plan.planned as f64 - judged;
            let looks = f64::from(plan.looks - look.look);
            look.more_to_next_look = Some(up(left / looks));
            look.more_at_most = Some(up(left));
        }
        Ok(Self {
            look,
            design: Some(design),
        })
    }

    /// Options for the comparison at this look: its level is the look's own.
    pub fn options(&self, options: &CompareOptions) -> CompareOptions {
        let confidence = self.look.p_below.map_or(options.confidence, |p| 1.0 - p);
        CompareOptions {
            confidence,
            ..options.clone()
        }
    }

    /// The look, from what the comparison found on all sides together.
    pub fn seen(mut self, pairs: &[Pair]) -> Look {
        let Some((pair, design)) = pairs.iter().find(|p| p.side == "all").zip(self.design) else {
            self.look.sentence = super::look_words::too_few(&self.look);
            return self.look;
        };
        let k = self.look.looked.len() - 1;
        let drift = design.drift(POWER);
        // By whole clips too, where they count.
        let by_clip = |pick: fn(&ByClip) -> Option<Interval>| {
            let held = |c: &ByClip| pick(c).is_some_and(|i| !i.holds_zero());
            pair.by_clip.as_ref().is_none_or(held)
        };
        let answer = |shown: bool, few: bool, p: Option<f64>| {
            let z = p.map_or(0.0, |p| two_sided_z(1.0 - p.clamp(1e-15, 1.0)));
            let left = design.chance_left(k, z, drift);
            let verdict = match (few, shown, self.look.last) {
                (true, ..) => LookVerdict::TooFewTrials,
                (_, true, _) => LookVerdict::Shown,
                (_, _, true) => LookVerdict::NotShown,
                _ if left < FUTILE => LookVerdict::NotWorthGoingOn,
                _ => LookVerdict::GoOn,
            };
            let open = matches!(verdict, LookVerdict::NotWorthGoingOn | LookVerdict::GoOn);
            Answer {
                verdict,
                chance_left: open.then_some(left),
            }
        };
        self.look.hit_rate = answer(
            matches!(pair.hit_rate_verdict, Higher::AHigher | Higher::BHigher)
                && by_clip(|c| c.hit_rate_difference),
            pair.hit_rate_verdict == Higher::TooFewTrials,
            pair.hit_rate_difference.fisher_p,
        );
        self.look.time_to_focus = answer(
            matches!(pair.verdict, Sooner::ASooner | Sooner::BSooner)
                && by_clip(|c| c.restricted_mean_difference_ms),
            pair.verdict == Sooner::TooFewTrials,
            pair.time_to_focus.log_rank_p,
        );
        self.look.sentence = super::look_words::sentence(&self.look, pair);
        self.look
    }
}

fn blank(plan: &LookPlan, judged: f64, confidence: f64) -> Look {
    let none = Answer {
        verdict: LookVerdict::TooFewTrials,
        chance_left: None,
    };
    Look {
        look: plan.looked.len() as u32 + 1,
        of: plan.looks,
        planned: plan.planned,
        judged,
        share: judged / plan.planned as f64,
        last: false,
        confidence,
        spending: plan.spending,
        p_below: None,
        hit_rate: none,
        time_to_focus: none,
        more_to_next_look: None,
        more_at_most: None,
        looked: plan.looked.clone(),
        sentence: String::new(),
    }
}

fn up(trials: f64) -> u64 {
    (trials.ceil() as u64).max(1)
}

#[cfg(test)]
#[path = "look_tests.rs"]
mod tests;
