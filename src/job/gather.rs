//! Signals alone: clips are decoded and what judging needs of them is kept.
//!
//! In: a checked [`Session`], and which of its clips are asked for. Out: what
//! became of each ([`Gathered`]). Nothing is judged, and nothing is shared with
//! other such runs but the folder: each file of signals gets its name when it is
//! complete, and the same clip gives the same bytes. So these runs may go side by
//! side, on several machines, and again.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::clip::watch;
use super::setup::rules;
use super::source::{Prepared, Source, Told, Untold, open, tell};
use super::{Events, JobError, JobOptions, Kept, find, output, rate, setup_clips};
use crate::clip::Crew;
use crate::rig::{Rig, Session, identity};

/// What became of one clip.
#[derive(Clone, Debug)]
pub struct GatheredClip {
    /// The clip.
    pub clip: PathBuf,
    /// The rig's name.
    pub rig: String,
    /// Its signals, and whether they were made now; or why there are none.
    pub signals: Result<(PathBuf, bool), String>,
}

/// What became of all that were asked for.
#[derive(Clone, Debug, Default)]
pub struct Gathered {
    /// In the order of the session; a clip of several rigs once for each.
    pub clips: Vec<GatheredClip>,
    /// What is missing may be had by the same command again: it was stopped, or
    /// something could not be written.
    pub unfinished: bool,
    /// The person wanted no more.
    pub stopped: bool,
}

/// Decodes the clips `only` of a session, or all if it is empty, and keeps their
/// signals. What is kept already is not decoded.
///
/// # Errors
/// Every fault of the request, before anything is decoded.
pub fn gather(
    session: &Session,
    only: &[PathBuf],
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Gathered, Vec<JobError>> {
    check(session, only, options)?;
    let only: Vec<PathBuf> = only.iter().map(|p| identity(p)).collect();
    let kept = Kept::look(&options.keeping);
    let asked = |path: &Path| only.is_empty() || only.contains(&identity(path));
    let mut faults = Vec::new();
    let mut prepared: Vec<Vec<Prepared>> = Vec::new();
    for setup in &session.setups {
        let clips = setup_clips(setup).into_iter().map(|path| {
            if asked(&path) {
                open(&path, &setup.rig, options, &kept, &mut faults)
            } else {
                (path, Ok(Source::Aside))
            }
        });
        prepared.push(clips.collect());
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    find::screens(session, &mut prepared, &kept, options, events);
    let mut out = Gathered::default();
    let mut before: BTreeMap<PathBuf, Vec<&Rig>> = BTreeMap::new();
    for (setup, clips) in session.setups.iter().zip(prepared) {
        for (path, source) in clips {
            if events.stopped() {
                break;
            }
            let rig = &setup.rig;
            let rigs = before.entry(path.clone()).or_default();
            if rigs.contains(&rig) || matches!(source, Ok(Source::Aside)) {
                continue;
            }
            rigs.push(rig);
            let signals = one(&path, rig, source, (options, &kept, events));
            if events.stopped() && signals.is_err() {
                break;
            }
            out.unfinished |= signals.as_ref().is_err_and(|e| e.passing);
            out.clips.push(GatheredClip {
                clip: path,
                rig: rig.name.clone(),
                signals: signals.map_err(|e| options.shown(&e.why)),
            });
        }
    }
    out.stopped = events.stopped();
    out.unfinished |= out.stopped;
    Ok(out)
}

/// What was asked for must be there, and every rig one that can be timed.
fn check(session: &Session, only: &[PathBuf], options: &JobOptions) -> Result<(), Vec<JobError>> {
    let of_setup = |s| setup_clips(s).into_iter().map(|p| identity(&p));
    let all: Vec<PathBuf> = session.setups.iter().flat_map(of_setup).collect();
    let foreign = only.iter().filter(|p| !all.contains(&identity(p)));
    let mut faults: Vec<JobError> = foreign
        .map(|p| JobError::Foreign { file: p.clone() })
        .collect();
    faults.extend(output::check_folder(&options.out).err());
    let rigs = session.setups.iter().map(|s| &s.rig);
    faults.extend(rigs.filter_map(|rig| rate::supported(rig).err()));
    faults.dedup();
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

/// The signals of one clip: where they are, and whether they were made now.
fn one(
    path: &Path,
    rig: &Rig,
    source: Result<Source, Untold>,
    (options, kept, events): (&JobOptions, &Kept, &dyn Events),
) -> Result<(PathBuf, bool), Untold> {
    let source = source?;
    let here = |why: String| Untold {
        passing: true,
        ..Untold::of_clip(why)
    };
    let place = kept.place(source.sha256(), rig);
    let place = place.ok_or_else(|| here("no folder for signals is named".to_owned()))?;
    let name = path.file_name().unwrap_or(path.as_os_str());
    let name = options.shown(&name.to_string_lossy());
    let crew = Crew::new(options.workers);
    let told = tell(
        &source,
        &name,
        path,
        rig,
        options,
        kept,
        (crew.turn(), events),
    )?;
    let Told {
        signals,
        clock,
        reused,
        fresh,
        ..
    } = told;
    let fresh = fresh.map_err(here)?;
    if reused {
        return Ok((place, false));
    }
    let watched = watch(rig, &clock, &rules(rig), signals);
    let stills = |w| kept.keep_stills(source.sha256(), rig, w).map_err(here);
    let stills = watched.as_ref().map_or(Ok(()), stills);
    fresh.map_or(Ok(()), |f| kept.keep(f)).map_err(here)?;
    watched?;
    stills?;
    Ok((place, true))
}
