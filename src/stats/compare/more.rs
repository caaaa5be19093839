//! How many further trials would decide a pair.
//!
//! The log-rank statistic grows with the square root of the number of trials
//! (Schoenfeld 1981, Biometrika 68:316). If the difference seen is the true
//! one, the number at which it would be shown with 80 % power follows from the
//! statistic seen. A difference close to none would need more trials than
//! anybody films: then no number is given.

use super::super::normal::{quantile, two_sided_z};
use super::Sooner;
use super::pair::Draft;

/// Power asked for.
const POWER: f64 = 0.8;
/// Beyond this many further trials no number is given.
const OUT_OF_REACH: f64 = 2000.0;

/// Further trials each setup needs on this side (on all sides together, for
/// `all`); `None` where decided or out of reach.
pub(super) fn more_trials(draft: &Draft, confidence: f64, pairs: usize) -> Option<u64> {
    let judged = draft.pair.judged[0].min(draft.pair.judged[1]);
    match draft.pair.verdict {
        Sooner::ASooner | Sooner::BSooner => None,
        Sooner::TooFewTrials => Some(draft.missing.max(1)),
        Sooner::NoDifferenceShown => {
            // Bonferroni's share of the level: what Holm asks of the first pair.
            let level = 1.0 - (1.0 - confidence) / pairs.max(1) as f64;
            let wanted = two_sided_z(level) + quantile(POWER);
            let more = judged as f64 * ((wanted / draft.z?).powi(2) - 1.0);
            (more.is_finite() && more <= OUT_OF_REACH).then(|| (more.ceil() as u64).max(1))
        }
    }
}
