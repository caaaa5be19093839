//! What was planned of the looks, and whether the trials there are fit it.
//!
//! Every trial is watched to its end before a look, so evidence in hit rate and
//! in time to focus grows with the judged trials. They are counted as trials of
//! each setup and side: the harmonic mean of both, averaged over the sides.

use super::super::looks::Spending;
use super::CompareError;
use super::group::SetupSample;
use super::looks::Look;
use super::pair::MIN_JUDGED;

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

/// Shares of all looks: those made, this one, and even steps to the end.
pub(super) fn shares(plan: &LookPlan, look: &Look) -> Vec<f64> {
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

/// Judged trials as if every setup had as many on every side that either has.
pub(super) fn judged_of_each(a: &SetupSample, b: &SetupSample) -> f64 {
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
pub(super) fn sound(plan: &LookPlan) -> Result<(), CompareError> {
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

pub(super) fn wrong(key: &'static str, message: String) -> CompareError {
    CompareError::Looks { key, message }
}
