//! Two yes-or-no judgements of the same trials: what the screen says, and what
//! the photograph says that was taken in the trial.
//!
//! In: for every trial that has both, whether it is a hit on the screen and
//! whether its photograph is good ([`Judged`]); and for the threshold the end
//! blur on the screen in ‰ of the screen's height ([`Shown`]). Voids and trials
//! without a photograph stay outside. Out: counts, how often the two agree
//! ([`Agreement`]), and from which blur on the screen photographs go bad
//! ([`Parting`]).
//!
//! The photograph is taken as the truth where a share is "of the screen's
//! hits"; agreement and kappa treat both alike. Intervals and p-values take
//! trials as independent. Trials of one clip are not quite, so with few clips
//! these intervals are rather too narrow; the threshold's interval comes from
//! whole clips where there are enough.
//!
//! One family per file, with its source.

mod auc;
mod counts;
mod kappa;
mod mcnemar;
mod resample;
mod threshold;
mod trust;

pub(crate) use counts::{Counts, Judged};
pub(crate) use kappa::Kappa;
pub(crate) use mcnemar::McNemar;
pub(crate) use threshold::{Ask, FEWEST_EACH, NotParted, Parting, Shown, part};
pub(crate) use trust::Trust;

use crate::store::schema::Rate;

/// How far screen and photographs say the same.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Agreement {
    /// The four counts.
    pub counts: Counts,
    /// Share of trials in which both say the same, with its Wilson interval.
    pub agreed: Rate,
    /// Whether one of the two is the stricter judge; `None` where they never
    /// differ.
    pub mcnemar: Option<McNemar>,
    /// Agreement beyond chance; `None` where it is not defined.
    pub kappa: Option<Kappa>,
    /// How far the screen's verdicts may be trusted.
    pub trust: Trust,
}

/// Holds the two judgements against each other, intervals at `confidence`
/// (0..1); `None` without a trial.
pub(crate) fn agreement(judged: &[Judged], confidence: f64) -> Option<Agreement> {
    let counts = Counts::of(judged);
    Some(Agreement {
        agreed: super::summary::rate(counts.same(), counts.all(), confidence)?,
        mcnemar: mcnemar::test(&counts),
        kappa: kappa::cohen(&counts.table(), confidence),
        trust: trust::trust(&counts, confidence),
        counts,
    })
}

#[cfg(test)]
mod tests;
