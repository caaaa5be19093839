//! What `time` would find, before it is run: from kept signals at once, else from
//! the beginning of each clip. Nothing is written.
//!
//! The job's own steps go through less film, so that what is foreseen and what
//! comes of it have one cause.

use std::collections::BTreeMap;

use serde::Serialize;

use super::kept::{Found, Kept};
use super::nothing::NotFoundIn;
use super::source::{Prepared, Source, Waiting};
use super::watching::WatchedSetup;
use super::whole::Whole;
use super::{Done, Events, JobOptions, Line, find, rules};
use crate::rig::{Rig, Session, Setup};
use crate::store::schema::{Clip, Verdict};

/// What was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LookedAt {
    /// Kept signals of the whole clip.
    Signals,
    /// The whole clip, which is short.
    Clip,
    /// The clip's beginning.
    Beginning,
}

/// What a look at a clip shows of it.
#[derive(Clone, Debug, Serialize)]
pub struct Foreseen {
    pub from: LookedAt,
    /// How much of the clip was looked at, seconds as shot.
    pub seconds: f64,
    /// What started a trial.
    pub started: usize,
    /// Trials that end within it; `None` for a clip focused by hand.
    pub trials: Option<usize>,
    /// Of these, those that would be void, by the word for why.
    pub void: BTreeMap<String, usize>,
    /// The screen's corners, where they are not the rig's.
    pub corners: Option<[[f64; 2]; 4]>,
    /// What `time` would warn of.
    pub warnings: Vec<String>,
}

/// What became of the look at each clip of a setup, in the order of
/// [`super::setup_clips`].
pub type ForeseenClips = Vec<Result<Foreseen, String>>;

/// Looks at the first `seconds` (as shot) of every clip that has no kept signals.
/// Setups that were not reached when the person wanted no more are left out.
pub fn foresee(
    session: &Session,
    mut prepared: Vec<Vec<Prepared>>,
    kept: Kept,
    seconds: f64,
    options: &JobOptions,
    events: &dyn Events,
) -> (Vec<ForeseenClips>, Vec<NotFoundIn>) {
    let events = &Unsaid(events);
    find::screens(session, &mut prepared, &kept, options, events);
    let looked: Vec<Vec<LookedAt>> = session
        .setups
        .iter()
        .zip(&mut prepared)
        .map(|(setup, clips)| {
            let each = clips.iter_mut();
            each.map(|clip| shorten(&setup.rig, clip, &kept, seconds))
                .collect()
        })
        .collect();
    let whole = Whole {
        session,
        options,
        events,
        kept,
    };
    let mut done = Done::default();
    let watched = whole.watch(&prepared, &mut done);
    let records = whole.records(&watched);
    let each = watched.iter().zip(records).zip(looked);
    let foreseen = each.map(|((of, clips), looked)| of_setup(of, clips, looked));
    (foreseen.collect(), done.not_found)
}

/// Leaves of a film what is to be looked at.
fn shorten(rig: &Rig, clip: &mut Prepared, kept: &Kept, seconds: f64) -> LookedAt {
    let Ok(Source::Film(film)) = &mut clip.1 else {
        return LookedAt::Signals;
    };
    if matches!(kept.find(&film.index.sha256, rig), Found::Fits(_)) {
        return LookedAt::Signals;
    }
    let all = film.index.stamps.len();
    film.index = film.index.head(frames(film, seconds));
    if film.index.stamps.len() < all {
        LookedAt::Beginning
    } else {
        LookedAt::Clip
    }
}

fn frames(film: &Waiting, seconds: f64) -> usize {
    let shot = |t: &f64| film.clock.scale.shot(crate::units::StoredTime(*t)).0;
    let stamps = &film.index.stamps;
    stamps.iter().take_while(|t| shot(t) < seconds).count()
}

fn of_setup(
    (setup, seen): &(&Setup, WatchedSetup),
    records: Vec<Clip>,
    looked: Vec<LookedAt>,
) -> ForeseenClips {
    let records = records.into_iter().map(Some).chain(std::iter::repeat(None));
    let outcomes = seen.clips.iter().chain(seen.hand.iter().map(|h| &h.1));
    let each = outcomes.zip(records).zip(looked);
    each.map(|((outcome, record), from)| {
        let watched = outcome.watched.as_ref().map_err(Clone::clone)?;
        let mut foreseen = Foreseen {
            from,
            seconds: watched.duration_s,
            started: watched.bounds.len(),
            trials: None,
            void: BTreeMap::new(),
            corners: watched.found.map(|q| q.corners.map(|c| [c.x, c.y])),
            warnings: watched.warnings.clone(),
        };
        if let Some(record) = record {
            foreseen.count(&record, &setup.rig);
            foreseen.warnings = record.warnings;
        }
        Ok(foreseen)
    })
    .collect()
}

impl Foreseen {
    /// Counts the trials that the look shows to their end.
    fn count(&mut self, record: &Clip, rig: &Rig) {
        let rules = rules(rig);
        let room_s = rules.window_s + rules.hold_s;
        let until = match self.from {
            LookedAt::Beginning => self.seconds - room_s,
            LookedAt::Signals | LookedAt::Clip => f64::INFINITY,
        };
        let whole = record.trials.iter().filter(|t| t.onset_s <= until);
        let mut trials = 0;
        for trial in whole {
            trials += 1;
            if trial.verdict == Verdict::Void {
                let why = trial.reason.clone().unwrap_or_default();
                *self.void.entry(why).or_default() += 1;
            }
        }
        self.trials = Some(trials);
    }

    /// Nothing in it starts a trial.
    pub fn is_empty(&self) -> bool {
        self.started == 0 && self.trials.is_some()
    }
}

/// Shows how far it is, and says nothing: that is for the end.
struct Unsaid<'a>(&'a dyn Events);

impl Events for Unsaid<'_> {
    fn ahead(&self, clips: usize, frames: u64) -> Line<'_> {
        self.0.ahead(clips, frames)
    }
    fn clip(&self, name: &str, frames: u64) -> Line<'_> {
        self.0.clip(name, frames)
    }
    fn warning(&self, _: &str) {}
    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}
