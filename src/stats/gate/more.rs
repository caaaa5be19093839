//! How many further trials would turn inconclusive checks into verdicts.
//!
//! An interval narrows with the square root of the number of trials. If the
//! figure found stays, the arm of its interval that crosses the limit must
//! shrink to the distance between them. Where that arm has no end yet, as many
//! trials again are the next step.

use super::{Check, Verdict};

/// Beyond this many further trials no number is given.
const OUT_OF_REACH: f64 = 5000.0;

/// The largest number over the inconclusive checks, and the first check that
/// needs it; `None` if there is none, or if one of them no number of trials
/// would decide.
pub(super) fn more_trials(checks: &[Check], min_trials: u64) -> Option<(u64, &Check)> {
    let mut most: Option<(u64, &Check)> = None;
    for check in checks.iter().filter(|c| c.verdict == Verdict::Inconclusive) {
        let needed = one(check, min_trials)?;
        if most.is_none_or(|(n, _)| needed > n) {
            most = Some((needed, check));
        }
    }
    if checks.iter().any(|c| c.verdict == Verdict::Regression) {
        return None;
    }
    most
}

fn one(check: &Check, min_trials: u64) -> Option<u64> {
    let judged = check.judged.iter().flatten().copied().min()?;
    let lacking = min_trials.saturating_sub(judged);
    let narrower = narrower(check, judged as f64);
    match (lacking, narrower) {
        (0, narrower) => narrower,
        (lacking, narrower) => Some(lacking.max(narrower.unwrap_or(0))),
    }
}

fn narrower(check: &Check, judged: f64) -> Option<u64> {
    // What sessions differ by does not narrow with trials.
    if check.between_sessions.is_some_and(|sd| sd > 0.0) {
        return None;
    }
    let value = check.value?;
    let distance = (check.limit - value).abs();
    let arm = if value <= check.limit {
        check.high.map(|high| high - value)
    } else {
        check.low.map(|low| value - low)
    };
    let Some(arm) = arm else {
        return Some(judged.max(1.0) as u64);
    };
    let more = judged * ((arm / distance).powi(2) - 1.0);
    (more.is_finite() && more <= OUT_OF_REACH).then(|| more.ceil().max(1.0) as u64)
}
