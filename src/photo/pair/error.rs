//! Why photographs could not be paired.

use std::fmt;

use super::times::NoTimes;
use super::{Shot, Slot};
use crate::store::schema::Side;

/// A trial as messages name it, counted from 0 within its clip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct NamedTrial {
    /// The clip.
    pub film: String,
    /// Its number there.
    pub trial: u32,
}

impl NamedTrial {
    pub(super) fn of(slot: &Slot) -> Self {
        Self {
            film: slot.film.clone(),
            trial: slot.trial,
        }
    }
}

impl fmt::Display for NamedTrial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, trial {} (counted from 0)", self.film, self.trial)
    }
}

/// A trial, or none.
fn or_none(trial: &Option<NamedTrial>) -> String {
    trial
        .as_ref()
        .map_or("to no trial".to_owned(), |t| format!("to {t}"))
}

fn word(side: Side) -> &'static str {
    match side {
        Side::Near => "near",
        Side::Far => "far",
    }
}

/// Photographs and trials do not go together.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub(crate) enum PairError {
    /// No photograph.
    #[error("there is no photograph to set beside the trials")]
    NoShot,
    /// No trial.
    #[error("there is no trial to set the photographs beside")]
    NoSlot,
    /// A trial that does not follow the one before it.
    #[error(
        "{trial}, has no time after that of the trial before it: the timing file is not as it was \
         written; time the clips again"
    )]
    Unordered {
        /// The first such.
        trial: NamedTrial,
    },
    /// The numbers do not fit, and the times tell nothing.
    #[error(
        "{pictures} photographs do not go evenly into {trials} trials, and by their times they \
         cannot be told: {why}. One is missing or too many: leave only the photographs of the \
         trials, as many for each, or give the times of the camera's clock with fractions of a second"
    )]
    Number {
        /// So many photographs.
        pictures: usize,
        /// So many trials.
        trials: usize,
        /// Why not by time.
        why: NoTimes,
    },
    /// The picture shows the other side.
    #[error(
        "{picture} shows the side {}, but falls to {trial}, which is {}: around there a photograph \
         is missing or one too many; look at those before it",
        word(*shows),
        word(*filmed)
    )]
    Side {
        /// The first such.
        picture: String,
        /// What it shows.
        shows: Side,
        /// The trial it falls to.
        trial: NamedTrial,
        /// The side of that trial.
        filmed: Side,
    },
    /// Order says one thing, time another.
    #[error(
        "{picture} belongs to {by_order}, by its place in the order, but by its time {}: around \
         there a photograph is missing and elsewhere one is too many; leave only the photographs of \
         the trials",
        or_none(by_time)
    )]
    Disagree {
        /// The first such.
        picture: String,
        /// Its trial by order.
        by_order: NamedTrial,
        /// Its trial by time.
        by_time: Option<NamedTrial>,
    },
    /// Two answers fit.
    #[error(
        "{picture} may belong {} as well as {}: by their times both fit about as well. Leave out the \
         photographs of no trial and the trials without a photograph, or say which side each \
         photograph shows",
        or_none(one),
        or_none(other)
    )]
    MoreThanOne {
        /// The first that is not sure.
        picture: String,
        /// One answer.
        one: Option<NamedTrial>,
        /// The other.
        other: Option<NamedTrial>,
    },
    /// A burst that goes on into the next trial.
    #[error(
        "the burst that begins with {first} is still going on with {picture} when {trial}, begins: \
         take out the photographs that are too late"
    )]
    SpansTwo {
        /// Where it begins.
        first: String,
        /// The first photograph in the next trial.
        picture: String,
        /// That trial.
        trial: NamedTrial,
    },
    /// Two photographs that may be of one trial or of two.
    #[error(
        "{second} was taken {by_ms} ms after {first}: too late for the same burst ({burst_ms} ms at \
         most), too soon for the next trial ({trial_ms} ms at least, half of the shortest time \
         between two stimuli). Leave one of them out"
    )]
    Loose {
        /// The first.
        first: String,
        /// The second.
        second: String,
        /// The time between them.
        by_ms: f64,
        /// So much may be in a burst.
        burst_ms: f64,
        /// So much must be between trials.
        trial_ms: f64,
    },
    /// Two photographs of one trial that are no burst.
    #[error(
        "{first} and {second} both fall to {trial}, and are too far apart for a burst: leave one of \
         them out"
    )]
    TwoInOne {
        /// The first.
        first: String,
        /// The second.
        second: String,
        /// The trial.
        trial: NamedTrial,
    },
    /// A photograph at the beginning or end of a clip that does not go with the
    /// others.
    #[error(
        "{picture} falls to {trial}, and comes too late or too soon after its stimulus to go with \
         the others: leave out those that are of no trial"
    )]
    Beside {
        /// The first such.
        picture: String,
        /// The trial it would fall to.
        trial: NamedTrial,
    },
    /// Photographs come too unevenly after their stimuli.
    #[error(
        "{late} was taken {by_ms} ms later after its stimulus than {early}: times tell which \
         photograph belongs to which trial where that differs by {most_ms} ms at most, half of the \
         shortest time between two stimuli. Is one of them of no trial?"
    )]
    Uneven {
        /// The earliest after its stimulus.
        early: String,
        /// The latest.
        late: String,
        /// By so much.
        by_ms: f64,
        /// So much may be.
        most_ms: f64,
    },
    /// Nothing fits.
    #[error(
        "the times of {pictures} photographs fit the {trials} trials nowhere: are they of these \
         clips, all of them, and the clips in the order they were filmed?"
    )]
    NoFit {
        /// So many photographs.
        pictures: usize,
        /// So many trials.
        trials: usize,
    },
}

impl PairError {
    pub(super) fn number(shots: &[Shot], slots: &[Slot], why: NoTimes) -> Self {
        Self::Number {
            pictures: shots.len(),
            trials: slots.len(),
            why,
        }
    }
}

/// Refuses nothing at all, and trials whose times do not rise.
pub(super) fn check(shots: &[Shot], slots: &[Slot]) -> Result<(), PairError> {
    if slots.is_empty() {
        return Err(PairError::NoSlot);
    }
    if shots.is_empty() {
        return Err(PairError::NoShot);
    }
    let follows = |a: &Slot, b: &Slot| match a.clip == b.clip {
        true => b.onset_s > a.onset_s,
        false => b.clip > a.clip,
    };
    let finite = |s: &Slot| s.onset_s.is_finite() && s.end_s.is_finite();
    let wrong = slots.windows(2).find(|pair| !follows(&pair[0], &pair[1]));
    let wrong = wrong.map(|pair| &pair[1]);
    match wrong.or_else(|| slots.iter().find(|slot| !finite(slot))) {
        Some(slot) => Err(PairError::Unordered {
            trial: NamedTrial::of(slot),
        }),
        None => Ok(()),
    }
}
