//! The main job: a session's clips in, one timing file per setup out.
//!
//! The only part that knows every room. In: a checked [`Session`]. Out:
//! `NAME.timing.json` and `NAME.evidence.zip` per setup, written as soon as the setup is done, and
//! [`Done`] for the tables. Faults of the request are found before anything
//! is decoded and reported together ([`JobError`]); a clip that cannot be
//! judged is listed and the rest goes on.

mod check;
mod clip;
mod cues;
mod error;
mod evidence;
pub mod find;
mod gauge;
mod hygiene;
mod moire;
mod output;
mod rate;
mod reference;
mod rehearse;
mod segments;
mod setup;
mod sink;
mod steady;
mod stimuli;
mod subject;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub use check::{Checked, CheckedClip, CheckedSetup, Taken, check};
pub use error::JobError;
pub use rate::{RateFrom, true_rate};
pub use rehearse::{Instants, Rehearsed, rehearse};
pub use setup::settings;

use crate::clip::{ProbeOptions, ffmpeg_version, probe};
use crate::rig::{Reference, Rig, Session, Setup};
use crate::stats::summary::summarise;
use crate::store::evidence::{Pack, write_evidence};
use crate::store::schema::{FORMAT, Timing, VERSION};
use crate::store::{StoreError, write_timing};
use clip::{Ready, film, watch};
use gauge::Gauge;
use reference::by_hand;
use setup::Outcome;

/// Two-sided level of every interval.
pub const CONFIDENCE: f64 = 0.95;

/// How the job is to be done.
#[derive(Clone, Debug)]
pub struct JobOptions {
    /// Folder for the timing files; must exist.
    pub out: PathBuf,
    /// Replace results of other clips or settings.
    pub force: bool,
    /// Threads that decode and measure.
    pub workers: usize,
    /// The clip that came through standard input and lies in this temporary
    /// file: written down as `-`.
    pub stdin: Option<PathBuf>,
}

impl JobOptions {
    /// A message with standard input called by its name.
    #[must_use]
    pub fn shown(&self, message: &str) -> String {
        match &self.stdin {
            Some(path) => message.replace(&path.display().to_string(), "standard input"),
            None => message.to_owned(),
        }
    }
}

/// What goes on, for whoever shows it.
pub trait Events: Sync {
    /// A clip is about to be decoded.
    fn clip(&self, name: &str, frames: u64);
    /// So many of its frames are done.
    fn frames(&self, done: u64);
    /// The clip is over.
    fn clip_done(&self);
    /// Worth a person's attention.
    fn warning(&self, text: &str);
}

/// What became of a session.
#[derive(Debug, Default)]
pub struct Done {
    /// One per setup that could be judged, with the file it was written to.
    pub written: Vec<(PathBuf, Timing)>,
    /// What failed, clip by clip.
    pub failures: Vec<String>,
}

/// Does the whole job.
///
/// # Errors
/// Every fault of the request, before anything is decoded.
pub fn run(
    session: &Session,
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Done, Vec<JobError>> {
    let mut prepared = prepare(session, options)?;
    find::screens(session, &mut prepared, options, events);
    let mut done = Done::default();
    for (setup, clips) in session.setups.iter().zip(prepared) {
        let (timing, pack) = time_setup(session, setup, clips, options, events, &mut done.failures);
        if timing.clips.iter().all(|c| c.trials.is_empty()) {
            let name = &setup.name;
            done.failures.push(format!(
                "{name}: no trial in any clip, so nothing was written"
            ));
            continue;
        }
        match save(&timing, options) {
            Ok(path) => {
                // Without its evidence a result is still a result.
                let kept = write_evidence(&path, &pack);
                done.failures.extend(kept.err().map(|e| e.to_string()));
                done.written.push((path, timing));
            }
            Err(e) => done.failures.push(e.to_string()),
        }
    }
    Ok(done)
}

/// A clip before decoding: ready, or why not.
type Prepared = (PathBuf, Result<Box<Ready>, String>);

/// Opens every clip and checks it against its rig.
fn prepare(session: &Session, options: &JobOptions) -> Result<Vec<Vec<Prepared>>, Vec<JobError>> {
    let mut faults = Vec::new();
    if let Err(e) = output::check_folder(&options.out) {
        faults.push(e);
    }
    let mut out = Vec::new();
    for setup in &session.setups {
        if let Err(e) = rate::supported(&setup.rig) {
            if !faults.contains(&e) {
                faults.push(e);
            }
            continue;
        }
        let mut clips = Vec::new();
        for path in setup_clips(setup) {
            clips.push(open(&path, &setup.rig, &mut faults));
        }
        if faults.is_empty() && !options.force {
            let hashes: Vec<&str> = clips
                .iter()
                .take(setup.clips.len())
                .map(|(_, c)| c.as_ref().map_or("", |r| r.index.sha256.as_str()))
                .collect();
            faults.extend(output::occupied(setup, &hashes, options));
            faults.extend(evidence::occupied(setup, options));
        }
        out.push(clips);
    }
    if faults.is_empty() {
        Ok(out)
    } else {
        Err(faults)
    }
}

/// The clips of a setup, its reference clips after them.
fn setup_clips(setup: &Setup) -> Vec<PathBuf> {
    let references = setup.reference.iter().flat_map(Reference::clips);
    setup
        .clips
        .iter()
        .cloned()
        .chain(references.map(Path::to_path_buf))
        .collect()
}

fn open(path: &Path, rig: &Rig, faults: &mut Vec<JobError>) -> Prepared {
    let ready = probe(path, &ProbeOptions::default())
        .map_err(|e| e.to_string())
        .map(|mut index| {
            let rate = rate::true_rate(rig, &index).map_err(|e| vec![e]);
            let gauge = Gauge::new(&find::stand_in(rig, &index), &index);
            if !find::needed(rig) {
                index.first = None;
            }
            if !rig.capture.segments.is_empty() {
                // Slow parts are no lost frames.
                index
                    .warnings
                    .retain(|w| !w.starts_with("steps between frames"));
            }
            match (rate, gauge) {
                (Ok((scale, rate_u)), Ok(gauge)) => Some(Box::new(Ready {
                    index,
                    gauge: gauge.at_rate(scale.rate().fps()),
                    scale,
                    rate_u,
                    found: None,
                })),
                (rate, gauge) => {
                    faults.extend(rate.err().into_iter().flatten());
                    faults.extend(gauge.err().into_iter().flatten());
                    None
                }
            }
        });
    let ready = match ready {
        Ok(Some(r)) => Ok(r),
        Ok(None) => Err("does not fit its rig".to_owned()),
        Err(e) => Err(e),
    };
    (path.to_path_buf(), ready)
}

fn time_setup(
    session: &Session,
    setup: &Setup,
    clips: Vec<Prepared>,
    options: &JobOptions,
    events: &dyn Events,
    failures: &mut Vec<String>,
) -> (Timing, Pack) {
    let mut outcomes = Vec::new();
    let mut hand = Vec::new();
    for (i, (path, ready)) in clips.into_iter().enumerate() {
        let outcome = time_clip(session, setup, &path, ready, options, events);
        if let Err(e) = &outcome.watched {
            failures.push(format!("{}: {e}", setup.name));
        }
        if i < setup.clips.len() {
            outcomes.push(outcome);
        } else {
            hand.push((path, outcome));
        }
    }
    let by_hand = by_hand(setup, &hand, &outcomes, failures);
    let mut clips = setup::judge_setup(setup, &outcomes, &by_hand);
    for (clip, outcome) in clips.iter_mut().zip(&outcomes) {
        clip.warnings
            .extend(output::excluded_in_vain(clip, outcome.excluded.keys()));
    }
    advise(setup, &mut clips, events, failures);
    let summary = summarise(&clips, CONFIDENCE)
        .map_err(|e| failures.push(format!("{}: {e}", setup.name)))
        .ok();
    let file = output::file_of(&setup.name, &options.out);
    let mut earlier = evidence::earlier(&file);
    let pack = evidence::pack(&setup.name, &clips, &outcomes, earlier.as_mut());
    let timing = Timing {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: crate::store::schema::Setup {
            name: setup.name.clone(),
            tags: setup.tags.clone(),
        },
        rig: setup.rig.to_json(),
        measure: setup::measure_record(&setup.rig),
        made_by: BTreeMap::from([
            ("focuslag".to_owned(), env!("CARGO_PKG_VERSION").to_owned()),
            ("ffmpeg".to_owned(), ffmpeg_version()),
        ]),
        clips,
        summary,
    };
    (timing, pack)
}

fn time_clip(
    session: &Session,
    setup: &Setup,
    path: &Path,
    ready: Result<Box<Ready>, String>,
    options: &JobOptions,
    events: &dyn Events,
) -> Outcome {
    let excluded = session
        .excludes
        .iter()
        .filter(|e| e.clip == path)
        .map(|e| (e.trial, e.reason.clone()))
        .collect();
    let piped = options.stdin.as_deref() == Some(path);
    let relative = if piped {
        "-".to_owned()
    } else {
        output::relative(path, &options.out)
    };
    let ready = match ready {
        Ok(r) => r,
        Err(e) => {
            return Outcome {
                path: relative,
                sha256: String::new(),
                capture_fps: None,
                watched: Err(options.shown(&e)),
                excluded,
            };
        }
    };
    let name = options.shown(&path.display().to_string());
    let name = name
        .rsplit(std::path::MAIN_SEPARATOR)
        .next()
        .unwrap_or(&name);
    events.clip(name, ready.index.stamps.len() as u64);
    let watched = film(&ready, options.workers, |n| events.frames(n))
        .and_then(|(film, report)| watch(&setup.rig, &ready, &settings(&setup.rig), film, report));
    events.clip_done();
    Outcome {
        path: relative,
        sha256: ready.index.sha256.clone(),
        capture_fps: Some(ready.scale.rate().fps()),
        watched: watched.map_err(|e| options.shown(&e.to_string())),
        excluded,
    }
}

/// Warnings that only the whole setup tells.
fn advise(
    setup: &Setup,
    clips: &mut [crate::store::schema::Clip],
    events: &dyn Events,
    failures: &mut Vec<String>,
) {
    if let Some(text) = output::longest_window(clips) {
        for clip in clips.iter_mut().filter(|c| c.error.is_none()).take(1) {
            clip.warnings.push(text.clone());
        }
    }
    for clip in clips.iter_mut() {
        if clip.error.is_none() && clip.trials.is_empty() {
            clip.warnings.push(
                "no trial found: nothing swung, lit up or sounded where the rig says; check \
                 `screen.corners` and `stimulus.region` against a still of this clip"
                    .to_owned(),
            );
            failures.push(format!("{}: {}: no trial found", setup.name, clip.path));
        }
        for w in &clip.warnings {
            events.warning(&format!("{}: {}: {w}", setup.name, clip.path));
        }
    }
}

fn save(timing: &Timing, options: &JobOptions) -> Result<PathBuf, StoreError> {
    let path = output::file_of(&timing.setup.name, &options.out);
    write_timing(&path, timing)?;
    Ok(path)
}
