//! One clip timed for a look, nothing written: what a draft of a rig gives.

use super::clip::{Clock, Ready, film, watch};
use super::gauge::Gauge;
use super::nothing::NotFound;
use super::signals::condense;
use super::{rate, rules};
use crate::clip::{ClipIndex, Crew};
use crate::rig::Rig;
use crate::store::schema::Side;
use crate::store::schema::hygiene::Hygiene;

/// What a rig shows of a clip.
#[derive(Clone, Debug, Default)]
pub struct Rehearsed {
    /// Updates of the screen per second, where they could be told.
    pub refresh_hz: Option<f64>,
    /// Trials in order.
    pub trials: Vec<Instants>,
    /// What was found that is not focus.
    pub hygiene: Option<Hygiene>,
    /// Areas to leave out because graphics come up there over a blurred picture:
    /// left, top, right, bottom, shares of the screen.
    pub drawn: Vec<[f64; 4]>,
    /// In plain words.
    pub warnings: Vec<String>,
    /// Why there is no trial, where there is none.
    pub not_found: Option<NotFound>,
}

/// A trial's stimulus, seconds as shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instants {
    /// Which way the subject changed.
    pub side: Option<Side>,
    /// When the target began to move.
    pub move_s: Option<f64>,
    /// When the stimulus was complete.
    pub onset_s: f64,
    /// How long the screen could be watched before the trial was over.
    pub room_s: Option<f64>,
    /// The picture was still at it, and its blur changed within the window.
    pub answered: bool,
}

/// Times the clip (or its [`ClipIndex::head`]) with a rig that has corners or
/// is a feed. `index.first` serves to follow the screen.
///
/// # Errors
/// In words: what does not fit, or what cannot be read.
pub fn rehearse(
    rig: &Rig,
    index: &ClipIndex,
    workers: usize,
    progress: impl Fn(u64) + Sync,
) -> Result<Rehearsed, String> {
    let (scale, rate_u) = rate::true_rate(rig, index).map_err(|e| e.to_string())?;
    let gauge = Gauge::new(rig, index).map_err(|all| {
        let all: Vec<String> = all.iter().map(ToString::to_string).collect();
        all.join("; ")
    })?;
    let mut own = index.clone();
    own.first = None;
    let ready = Ready {
        index: own,
        clock: Clock { scale, rate_u },
        gauge,
        found: None,
    };
    let crew = Crew::new(workers);
    let film = film(&ready, crew.turn(), progress, || false);
    let (film, report) = film.map_err(|e| e.to_string())?;
    let signals = condense(rig, &ready, film, report).map_err(|e| e.to_string())?;
    let watched = watch(rig, &ready.clock, &rules(rig), signals).map_err(|e| e.to_string())?;
    let not_found = watched.not_found.map(|m| m.in_clip(index));
    Ok(Rehearsed {
        not_found,
        refresh_hz: watched.refresh_hz,
        trials: watched
            .bounds
            .iter()
            .zip(&watched.glimpsed)
            .map(|(b, seen)| Instants {
                side: b.stimulus.side,
                move_s: b.stimulus.move_s,
                onset_s: b.stimulus.onset_s,
                room_s: b.room_s(),
                answered: seen.reaction_s.is_some(),
            })
            .collect(),
        hygiene: watched.hygiene,
        drawn: watched.drawn,
        warnings: watched.warnings,
    })
}
