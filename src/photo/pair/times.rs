//! When the photographs were taken, and which of them are one burst.

use std::ops::Range;

use super::Shot;
use crate::store::schema::Side;

/// Why times tell nothing, in words that follow a colon.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(crate) enum NoTimes {
    /// A photograph has none.
    #[error("{picture} does not say when it was taken")]
    Missing {
        /// The first such.
        picture: String,
    },
    /// The clock went back.
    #[error("{picture} was taken before the picture that comes before it")]
    Backwards {
        /// The first such.
        picture: String,
    },
    /// The steps of the times are too large.
    #[error(
        "times too coarse: {picture} says when it was taken to {resolution_ms} ms, and trials that \
         start {shortest_ms} ms apart are told by {} ms or finer",
        shortest_ms / 4
    )]
    TooCoarse {
        /// The first such.
        picture: String,
        /// Steps of its time.
        resolution_ms: u32,
        /// Shortest time between two onsets of a clip.
        shortest_ms: u32,
    },
    /// No clip has two trials.
    #[error("no clip has two trials, whose distance could be told")]
    OneTrialEach,
    /// Chance could make them fit as well, or another alignment does.
    #[error(
        "they are too few, or come too unevenly after their stimuli, to be sure that they do not \
         fit by chance"
    )]
    NotSure,
}

/// Times that are fine enough.
#[derive(Clone, Debug)]
pub(super) struct Times {
    /// Of every photograph, seconds from the first.
    pub s: Vec<f64>,
    /// The coarsest step among them, seconds.
    pub resolution_s: f64,
    /// The bursts: photographs closer together than half of the shortest time
    /// between two onsets.
    pub bursts: Vec<Burst>,
    /// Farthest that photographs may follow each other in a burst, seconds.
    pub follow_s: f64,
}

/// Photographs that closely follow each other; one alone is a burst too.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Burst {
    /// Which.
    pub shots: Range<usize>,
    /// Sides that are known of any of them.
    pub sides: Vec<Side>,
}

/// The share of the shortest time between two onsets that a step of the times may
/// have. A distance of two photographs is known to one step either way. Bursts
/// are told from trials at half of that time, and the times after onset may vary
/// by the other half: with steps of a quarter neither can be taken for a whole
/// one.
const FINE: f64 = 0.25;

/// The share of that time in which the photographs of a burst must follow each
/// other: a quarter of what trials are told apart by, so that neither is taken for
/// the other. A choice; a camera's bursts are well below it.
const FOLLOW: f64 = 0.125;

/// The times of all photographs.
///
/// # Errors
/// Why they tell nothing.
pub(super) fn times(shots: &[Shot], shortest_s: f64) -> Result<Times, NoTimes> {
    let mut taken = Vec::new();
    for shot in shots {
        let picture = || shot.name.clone();
        let one = shot
            .taken
            .ok_or_else(|| NoTimes::Missing { picture: picture() })?;
        if f64::from(one.resolution_ms) > FINE * 1000.0 * shortest_s {
            return Err(NoTimes::TooCoarse {
                picture: picture(),
                resolution_ms: one.resolution_ms,
                shortest_ms: (1000.0 * shortest_s) as u32,
            });
        }
        taken.push(one);
    }
    if let Some(k) = taken.windows(2).position(|pair| pair[1].ms < pair[0].ms) {
        let picture = shots[k + 1].name.clone();
        return Err(NoTimes::Backwards { picture });
    }
    let first = taken.first().map_or(0, |one| one.ms);
    let s: Vec<f64> = taken
        .iter()
        .map(|one| one.ms.saturating_sub(first) as f64 / 1000.0)
        .collect();
    let coarsest = taken.iter().map(|one| one.resolution_ms).max();
    let resolution_s = f64::from(coarsest.unwrap_or_default()) / 1000.0;
    Ok(Times {
        bursts: bursts(shots, &s, shortest_s / 2.0),
        s,
        resolution_s,
        follow_s: (FOLLOW * shortest_s).max(resolution_s),
    })
}

fn bursts(shots: &[Shot], s: &[f64], apart_s: f64) -> Vec<Burst> {
    let mut found: Vec<Burst> = Vec::new();
    for (k, shot) in shots.iter().enumerate() {
        match found.last_mut() {
            Some(burst) if s[k] - s[k - 1] < apart_s => burst.shots.end = k + 1,
            _ => found.push(Burst {
                shots: k..k + 1,
                sides: Vec::new(),
            }),
        }
        if let Some(burst) = found.last_mut() {
            burst.sides.extend(shot.side);
        }
    }
    for burst in &mut found {
        burst.sides.sort_unstable();
        burst.sides.dedup();
    }
    found
}
