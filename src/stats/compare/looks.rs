//! Two setups looked at more than once: what this look shows, and how many
//! more trials.
//!
//! Every trial is watched to its end before a look, so evidence in hit rate and
//! in time to focus grows with the judged trials. They are counted as trials of
//! each setup and side: the harmonic mean of both, averaged over the sides.

use serde::Serialize;

use super::super::looks::{Boundaries, FUTILE, Spending};
use super::super::normal::two_sided_z;
use super::group::SetupSample;
use super::pair::MIN_JUDGED;
use super::{ByClip, CompareError, CompareOptions, Higher, Interval, Pair, Sooner};

/// Power that the planned number of trials is taken to have.
const POWER: f64 = 0.8;
/// Most looks.
pub const MOST_LOOKS: u32 = 50;
/// Most trials of a plan.
const MOST_TRIALS: u64 = 1_000_000;

/// What was planned, and when it was looked.
#[derive(Clone, Debug, PartialEq)]
pub struct LookPlan {
    /// Looks planned, 2..=50.
    pub looks: u32,
    /// Judged trials planned, of each setup and side.
    pub planned: u64,
    /// How many of them there were at each earlier look, rising.
    pub looked: Vec<u64>,
    /// When the chance to be misled is spent.
    pub spending: Spending,
}

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
            return Err(wrong(
                "files",
                format!("a look is at two setups; {} are given", samples.len()),
            ));
        };
        sound(plan)?;
        let judged = judged_of_each(a, b);
        let counted = judged.round() as u64;
        let earlier = plan.looked.last().copied().unwrap_or(0);
        if counted < MIN_JUDGED {
            return Ok(Self {
                look: blank(plan, judged, confidence),
                design: None,
            });
        }
        if counted <= earlier {
            return Err(wrong(
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
        let design = Boundaries::new(&shares(plan, &look), 1.0 - confidence, plan.spending);
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

/// Shares of all looks: those made, this one, and even steps to the end.
fn shares(plan: &LookPlan, look: &Look) -> Vec<f64> {
    let planned = plan.planned as f64;
    let mut shares: Vec<f64> = plan.looked.iter().map(|&n| n as f64 / planned).collect();
    shares.push(look.share);
    if !look.last {
        let left = plan.looks - look.look;
        let step = (1.0 - look.share) / f64::from(left);
        shares.extend((1..=left).map(|k| look.share + step * f64::from(k)));
    }
    shares
}

fn up(trials: f64) -> u64 {
    (trials.ceil() as u64).max(1)
}

/// Judged trials as if every setup had as many on every side that either has.
fn judged_of_each(a: &SetupSample, b: &SetupSample) -> f64 {
    let count = |s: &SetupSample, side| s.judged.iter().filter(|o| o.side == side).count() as f64;
    let mut sides: Vec<_> = a.sides.union(&b.sides).map(|&s| Some(s)).collect();
    if sides.is_empty() {
        sides.push(None);
    }
    let harmonic = sides.iter().map(|&side| {
        let (x, y) = (count(a, side), count(b, side));
        if x + y > 0.0 {
            2.0 * x * y / (x + y)
        } else {
            0.0
        }
    });
    harmonic.sum::<f64>() / sides.len() as f64
}

/// Refuses a plan that cannot be.
fn sound(plan: &LookPlan) -> Result<(), CompareError> {
    let LookPlan {
        looks,
        planned,
        looked,
        ..
    } = plan;
    if !(2..=MOST_LOOKS).contains(looks) {
        return Err(wrong(
            "looks",
            format!("{looks} is outside 2 to {MOST_LOOKS}"),
        ));
    }
    if !(MIN_JUDGED..=MOST_TRIALS).contains(planned) {
        return Err(wrong(
            "planned",
            format!("{planned} is outside {MIN_JUDGED} to {MOST_TRIALS}"),
        ));
    }
    if looked.len() >= *looks as usize {
        return Err(wrong(
            "looked",
            format!(
                "{} looks were made and {looks} are planned: no look is left. If one more was \
                 decided on without regard to what was seen, say --looks {}",
                looked.len(),
                looked.len() + 1
            ),
        ));
    }
    let before = std::iter::once(&0).chain(looked);
    if let Some((n, before)) = looked.iter().zip(before).find(|(n, before)| n <= before) {
        return Err(wrong(
            "looked",
            format!(
                "{n} after {before}: name the judged trials of each setup and side at each earlier \
                 look, in order, each more than the one before"
            ),
        ));
    }
    if let Some(n) = looked.iter().find(|n| *n >= planned) {
        return Err(wrong(
            "looked",
            format!(
                "all {planned} planned trials were there at the look at {n}: that was the last, and \
                 its verdict stands"
            ),
        ));
    }
    Ok(())
}

fn wrong(key: &'static str, message: String) -> CompareError {
    CompareError::Looks { key, message }
}

#[cfg(test)]
#[path = "look_tests.rs"]
mod tests;
