//! Which photograph belongs to which trial.
//!
//! In: the photographs in shooting order ([`Shot`]: name, time and side where
//! they are known) and all trials of a timing file, voids included ([`Slot`]:
//! seconds from the clip's first frame), clips in the order they were filmed.
//! Out: the slot of every photograph, or why it has none ([`Paired`]). Nothing is
//! guessed: where more than one answer fits there is an error ([`PairError`]).
//!
//! **By order**, where the number of photographs is a whole multiple of the
//! number of trials: as many for each. Where the sides of both are known they
//! must agree.
//!
//! **By time**, where the camera wrote fine enough times ([`NoTimes`] says when
//! it did not). When a clip was begun is not known, so each clip has an offset of
//! its own: all are tried. A photograph belongs to the trial in whose stretch it
//! falls: from its onset to the next; the last one's is as long as the longest
//! before it, and at least to its end. The alignment is taken whose photographs
//! come at the steadiest time after their onsets, if that is steadier than chance
//! makes them, and no other comes near it (`search`). That takes seven trials or
//! more, of unevenly spaced stimuli rather than of even ones. Two things are asked
//! of a session:
//! - the time of the photographs after their onsets varies by less than half of
//!   the shortest time between two onsets;
//! - the photographs of one burst follow each other in an eighth of it at most, or
//!   in one step of the clock.
//!
//! Where both ways can be gone they must agree. A session that does not keep to
//! the two things can be paired by order alone: hand in no times.
//!
//! What cannot be seen: by order alone, a photograph missing and one too many
//! elsewhere; by time, one of no trial that comes just when that of a trial is
//! missing, or so soon before those of a trial that it looks like one of their
//! burst.

mod align;
mod error;
mod order;
mod search;
mod sound;
mod stretch;
mod times;

pub(crate) use error::{NamedTrial, PairError};
pub(crate) use times::NoTimes;

use search::Found;
use stretch::Stretches;

use crate::store::schema::Side;

/// One photograph.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Shot {
    /// What messages call it.
    pub name: String,
    /// When it was taken, where its file says so.
    pub taken: Option<Taken>,
    /// The side that it shows, where the picture itself tells.
    pub side: Option<Side>,
}

/// When a photograph was taken, by the camera's own clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Taken {
    /// Milliseconds from any instant that all photographs share, cut off to the
    /// resolution.
    pub ms: i64,
    /// Steps of the time, ms. Exif 2.32: `DateTimeOriginal` alone 1000, with n
    /// digits of `SubSecTimeOriginal` 1000 ÷ 10ⁿ; at least 1.
    pub resolution_ms: u32,
}

/// One trial that a photograph may belong to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Slot {
    /// Index of its clip in the timing file.
    pub clip: usize,
    /// What messages call the clip.
    pub film: String,
    /// From 0 within the clip.
    pub trial: u32,
    /// Its side; `None` for light and tone.
    pub side: Option<Side>,
    /// When its stimulus was complete, seconds from the clip's first frame.
    pub onset_s: f64,
    /// End of its window, likewise.
    pub end_s: f64,
}

/// Photographs and the trials they belong to.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Paired {
    /// For every photograph the index of its slot, or why it has none.
    pub slots: Vec<Result<usize, Outside>>,
    /// How it was found.
    pub way: Way,
    /// Slots that have fewer or more photographs than most, none included.
    pub unlike: Vec<Unlike>,
}

/// A photograph that lies in no trial.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Outside {
    /// The last slot before it that has a photograph.
    pub after: Option<usize>,
    /// The first slot after it that has a photograph.
    pub before: Option<usize>,
}

/// How photographs were paired.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Way {
    /// By order alone, and why not also by time.
    Order(NoTimes),
    /// By time alone: the numbers do not fit.
    Time,
    /// Both ways, with the same answer.
    Both,
}

/// A slot whose number of photographs is not the usual one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Unlike {
    /// Index of the slot.
    pub slot: usize,
    /// So many it has.
    pub shots: usize,
    /// So many most slots with any have; of two as common the smaller.
    pub usual: usize,
}

/// Finds the slot of every photograph.
///
/// # Errors
/// Where there is none, or more than one answer: which photograph and which trial
/// it is about, and what to do.
pub(crate) fn pair(shots: &[Shot], slots: &[Slot]) -> Result<Paired, PairError> {
    error::check(shots, slots)?;
    let order = order::by_order(shots, slots)?;
    let stretches = Stretches::of(slots);
    let times = stretches.and_then(|stretches| {
        let times = times::times(shots, stretches.shortest_s)?;
        Ok((stretches, times))
    });
    let (found, way) = match (order, times) {
        (None, Err(why)) => return Err(PairError::number(shots, slots, why)),
        (Some(order), Err(why)) => (order.into_iter().map(Some).collect(), Way::Order(why)),
        (order, Ok((stretches, times))) => {
            let found = search::search(shots, slots, &stretches, &times)?;
            combined(order, found, shots, slots)?
        }
    };
    Ok(paired(found, way, slots.len()))
}

/// Takes what time has found, and holds it against the order where there is one.
fn combined(
    order: Option<Vec<usize>>,
    found: Found,
    shots: &[Shot],
    slots: &[Slot],
) -> Result<(Vec<Option<usize>>, Way), PairError> {
    let named = |slot: Option<usize>| slot.map(|k| NamedTrial::of(&slots[k]));
    if let Some(order) = order {
        let mut both = order.iter().zip(&found.slots);
        return match both.position(|(a, b)| Some(*a) != *b) {
            Some(k) => Err(PairError::Disagree {
                picture: shots[k].name.clone(),
                by_order: NamedTrial::of(&slots[order[k]]),
                by_time: named(found.slots[k]),
            }),
            None if found.sure && found.rival.is_none() => Ok((found.slots, Way::Both)),
            None => Ok((found.slots, Way::Order(NoTimes::NotSure))),
        };
    }
    let Some(rival) = found.rival else {
        return match found.sure {
            true => Ok((found.slots, Way::Time)),
            false => Err(PairError::number(shots, slots, NoTimes::NotSure)),
        };
    };
    let mut both = found.slots.iter().zip(&rival);
    let k = both.position(|(a, b)| a != b).unwrap_or_default();
    Err(PairError::MoreThanOne {
        picture: shots[k].name.clone(),
        one: named(found.slots[k]),
        other: named(rival[k]),
    })
}

fn paired(found: Vec<Option<usize>>, way: Way, slots: usize) -> Paired {
    let outside = |k: usize| Outside {
        after: found[..k].iter().rev().find_map(|slot| *slot),
        before: found[k..].iter().find_map(|slot| *slot),
    };
    let place = |(k, slot): (usize, &Option<usize>)| slot.ok_or_else(|| outside(k));
    Paired {
        unlike: unlike(&found, slots),
        slots: found.iter().enumerate().map(place).collect(),
        way,
    }
}

/// The slots whose number of photographs is not the usual one.
fn unlike(found: &[Option<usize>], slots: usize) -> Vec<Unlike> {
    let mut each = vec![0; slots];
    for slot in found.iter().flatten() {
        each[*slot] += 1;
    }
    let common = |n: usize| each.iter().filter(|&&other| other == n).count();
    let some = each.iter().copied().filter(|&n| n > 0);
    let Some(usual) = some.max_by_key(|&n| (common(n), std::cmp::Reverse(n))) else {
        return Vec::new();
    };
    let all = each.iter().enumerate();
    all.filter(|&(_, &shots)| shots != usual)
        .map(|(slot, &shots)| Unlike { slot, shots, usual })
        .collect()
}

#[cfg(test)]
mod random_tests;
#[cfg(test)]
mod tests;
