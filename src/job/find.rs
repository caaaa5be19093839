//! Where the screen lies in every clip, once nothing else is wrong with the
//! request: looked for where the rig says nothing, held against the rig's
//! corners where it does (`held`).

mod held;

use std::io;
use std::path::Path;

use super::gauge::Gauge;
use super::kept::{Found as There, Kept};
use super::nothing::NotFound;
use super::source::{Prepared, Source, Untold, Waiting, words};
use super::{Events, JobOptions};
use crate::clip::{ClipError, ClipIndex, ProbeOptions, decode, probe};
use crate::geometry::{Point, Quad};
use crate::rig::{Rig, Session};
use crate::screen::find::{Found, Glance, Look, Looks, Refusal, find, wanted};

/// Frames that are looked at closely.
const CLOSELY: usize = 60;
/// Frames of a clip's beginning in which the screen is looked for first: ten
/// seconds at 240 a second.
const BEGINNING: usize = 2400;

/// Why a clip could not be looked at.
#[derive(Debug, thiserror::Error)]
pub enum LookError {
    /// It cannot be decoded.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// Temporary pictures cannot be written.
    #[error("temporary files cannot be written: {0}; free some space where temporary files go")]
    Io(#[from] io::Error),
}

impl From<LookError> for Untold {
    fn from(e: LookError) -> Self {
        Self {
            passing: matches!(e, LookError::Io(_)),
            ..Self::of_clip(e.to_string())
        }
    }
}

/// Looks at a clip (or at its [`ClipIndex::head`]); `all`: every frame is kept
/// as a small picture too.
///
/// # Errors
/// [`LookError`].
pub fn look(
    index: &ClipIndex,
    all: bool,
    workers: usize,
    progress: impl Fn(u64) + Sync,
) -> Result<Looks, LookError> {
    let size = index.orientation.stored;
    let look = Look {
        size,
        wanted: wanted(&index.stamps, CLOSELY),
        half_frame_s: 0.5 / index.stored_fps.max(1.0),
        all,
    };
    let mut looks = Looks::new(size);
    let mut failed = None;
    decode(
        index,
        workers,
        |_| Glance::new(&look),
        |part| {
            if let Err(e) = part.and_then(|p| looks.append(p)) {
                failed.get_or_insert(e);
            }
        },
        progress,
    )?;
    failed.map_or(Ok(looks), |e| Err(e.into()))
}

/// Looks at a clip for its screen, and says so.
fn glance(
    index: &ClipIndex,
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Looks, LookError> {
    let name = index.path.file_name().unwrap_or(index.path.as_os_str());
    let line = events.clip(
        &format!("{}: screen", name.to_string_lossy()),
        index.stamps.len() as u64,
    );
    look(index, false, options.workers, &line)
}

/// Looks for the screen in the clip's beginning, and in all of it where
/// nothing changes there.
fn search(
    index: &ClipIndex,
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Result<Found, Refusal>, LookError> {
    let seen = |index: &ClipIndex| {
        let looks = glance(index, options, events)?;
        Ok(find(&looks, index.orientation))
    };
    let head = index.head(BEGINNING);
    match seen(&head)? {
        Err(Refusal::Still(_) | Refusal::None(_)) if head.stamps.len() < index.stamps.len() => {
            seen(index)
        }
        found => Ok(found),
    }
}

/// Whether the screen of this rig's clips has to be looked for.
pub fn needed(rig: &Rig) -> bool {
    !rig.screen.feed && rig.screen.corners.is_none()
}

/// The rig with corners to check everything else by, where it has none yet.
pub fn stand_in(rig: &Rig, index: &ClipIndex) -> Rig {
    let mut rig = rig.clone();
    if needed(&rig) {
        let (w, h) = index.orientation.upright_size();
        let (w, h) = (w as f64, h as f64);
        rig.screen.corners = Some(Quad::rect(0.1 * w, 0.1 * h, 0.9 * w, 0.9 * h));
    }
    rig
}

/// Whether a clip's screen is still to be looked for.
pub fn open(rig: &Rig, index: &ClipIndex) -> bool {
    needed(rig) || !rig.screen.feed && !held::at_first_sight(rig, index)
}

/// Finds the screens that the rigs leave open, and those that do not lie where
/// the rigs have them. A clip without one fails, the others go on.
pub fn screens(
    session: &Session,
    prepared: &mut [Vec<Prepared>],
    kept: &Kept,
    options: &JobOptions,
    events: &dyn Events,
) {
    for (setup, clips) in session.setups.iter().zip(prepared) {
        let rig = &setup.rig;
        let known = |ready: &Waiting| matches!(kept.find(&ready.index.sha256, rig), There::Fits(_));
        let there = |clip: &Prepared| match &clip.1 {
            Ok(Source::Film(ready)) => known(ready),
            _ => true,
        };
        if !needed(rig) {
            for (i, (path, source)) in clips.iter_mut().enumerate() {
                with_film(source, |ready| {
                    if !ready.open || known(&ready) {
                        return Ok(ready);
                    }
                    held::hold(rig, path, ready, i >= setup.clips.len(), options, events)
                });
            }
        } else if !clips.iter().all(there) {
            of_setup(rig, clips, options, events);
        }
    }
}

/// Changes a clip that is a film.
fn with_film(
    source: &mut Result<Source, Untold>,
    change: impl FnOnce(Box<Waiting>) -> Result<Box<Waiting>, Untold>,
) {
    let taken = std::mem::replace(source, Ok(Source::Aside));
    *source = taken.and_then(|source| match source {
        Source::Film(open) => change(open).map(Source::Film),
        other => Ok(other),
    });
}

fn of_setup(rig: &Rig, clips: &mut [Prepared], options: &JobOptions, events: &dyn Events) {
    let searched: Vec<Option<Result<Found, Refusal>>> = clips
        .iter_mut()
        .map(|(_, ready)| {
            let open = match ready {
                Ok(Source::Film(open)) => open,
                _ => return None,
            };
            match search(&open.index, options, events) {
                Ok(found) => Some(found),
                Err(e) => {
                    *ready = Err(e.into());
                    None
                }
            }
        })
        .collect();
    let mut sure: Vec<Found> = searched
        .iter()
        .flatten()
        .filter_map(|f| f.as_ref().ok().copied())
        .collect();
    let still = |f: &Result<Found, Refusal>| matches!(f, Err(Refusal::Still(_)));
    if searched.iter().flatten().any(still) {
        let aside = clips.iter().filter(|c| matches!(c.1, Ok(Source::Aside)));
        sure.extend(aside.filter_map(|(path, _)| {
            let index = probe(path, &ProbeOptions::default()).ok()?;
            search(&index, options, events).ok()?.ok()
        }));
    }
    for ((path, ready), found) in clips.iter_mut().zip(&searched) {
        let Some(found) = found else { continue };
        let settled = match found {
            Ok(f) => Ok(*f),
            // Nothing moves in a clip focused by hand; the screen that moves
            // in another clip of the setup, in the same place, is this one.
            Err(Refusal::Still(f)) if sure.iter().any(|s| f.is_like(s)) => Ok(*f),
            Err(refusal) => Err(refusal),
        };
        with_film(ready, |open| match settled {
            Ok(f) => found_in(rig, path, open, &f).map_err(Untold::of_clip),
            Err(refusal) => Err(refused(path, &open.index, refusal)),
        });
    }
}

/// No screen, and a picture of what there is.
fn refused(path: &Path, index: &ClipIndex, refusal: &Refusal) -> Untold {
    let words = refusal.words();
    let not_found = NotFound {
        words: words.clone(),
        places: refusal.places(),
        ..NotFound::default()
    };
    Untold {
        not_found: Some(Box::new(not_found.in_clip(index))),
        ..Untold::of_clip(format!("{}: {words}", path.display()))
    }
}

/// The clip with the screen that was found in it.
fn found_in(
    rig: &Rig,
    path: &Path,
    ready: Box<Waiting>,
    found: &Found,
) -> Result<Box<Waiting>, String> {
    let said = format!(
        "the screen was found by itself ({}): corners {:?}, each to ±{:.1} px; to be sure look at \
         it once with `focuslag scout`",
        found.sureness(),
        found.rounded(),
        2.0 * found.corner_u_px
    );
    placed(rig, path, ready, found, said)
}

/// The clip with its screen in another place, and what there is to say of it.
fn placed(
    rig: &Rig,
    path: &Path,
    mut ready: Box<Waiting>,
    found: &Found,
    said: String,
) -> Result<Box<Waiting>, String> {
    let mut with = rig.clone();
    with.screen.corners = Some(Quad::new(found.rounded().map(|[x, y]| Point::new(x, y))));
    Gauge::new(&with, &ready.index)
        .map_err(|faults| format!("{}: {}", path.display(), words(&faults)))?;
    ready.index.warnings.push(said);
    ready.found = with.screen.corners;
    ready.rig = with;
    Ok(ready)
}
