//! The main job: a session's clips in, one timing file per setup out.
//!
//! The only part that knows every room. In: a checked [`Session`]. Out:
//! `NAME.timing.json` per setup, written once all clips of the session are
//! watched (one δ holds for all of them), and [`Done`] for the tables. Faults of the request are found before anything
//! is decoded and reported together ([`JobError`]); a clip that cannot be
//! judged is listed and the rest goes on.

mod abreast;
mod again;
mod check;
mod clip;
mod cues;
mod delta;
mod error;
mod evidence;
pub(crate) mod find;
mod foresee;
mod gather;
mod gauge;
mod graphics;
mod hygiene;
mod kept;
mod lag;
mod nothing;
mod output;
mod pack;
mod rate;
mod reference;
mod rehearse;
mod segments;
mod setup;
mod shade;
mod signals;
mod sink;
mod softness;
mod source;
mod steady;
mod stimuli;
mod subject;
mod verdicts;
mod watching;
mod whole;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

pub use again::{Earlier, judge_again};
pub(crate) use check::{Checked, CheckedClip, CheckedSetup, Taken, check};
pub use error::JobError;
pub(crate) use foresee::{Foreseen, LookedAt};
pub use gather::{Gathered, GatheredClip, gather};
pub use kept::{Keeping, Kept};
pub(crate) use nothing::{Course, NotFound, NotFoundIn, upright};
pub(crate) use output::{file_of, not_found_file, whole_that_fits};
pub(crate) use rate::{RateFrom, true_rate};
pub(crate) use rehearse::{Rehearsed, rehearse};
pub(crate) use segments::{Run, runs};
pub(crate) use setup::rules;

use crate::beside::sweep;
use crate::rig::{Reference, Session, Setup};
use crate::store::schema::Timing;
use rayon::prelude::*;
use source::{Prepared, Source, open};
use whole::Whole;

/// Two-sided level of every interval.
pub const CONFIDENCE: f64 = 0.95;

/// How the job is to be done.
#[derive(Clone, Debug)]
pub struct JobOptions {
    /// Folder for the timing files; must exist.
    pub out: PathBuf,
    /// Replace results of other clips or settings.
    pub force: bool,
    /// Threads that decode and measure, of all clips together.
    pub workers: usize,
    /// The clip that came through standard input and lies in this temporary
    /// file: written down as `-`.
    pub stdin: Option<PathBuf>,
    /// What is kept of the decoding, and used of what was kept.
    pub keeping: Keeping,
}

impl JobOptions {
    /// Into `out`, whatever is there already; nothing is kept.
    pub fn fresh(out: &Path, workers: usize) -> Self {
        Self {
            out: out.to_path_buf(),
            force: true,
            workers,
            stdin: None,
            keeping: Keeping::default(),
        }
    }

    /// A message with standard input called by its name.
    pub fn shown(&self, message: &str) -> String {
        match &self.stdin {
            Some(path) => message.replace(&path.display().to_string(), "standard input"),
            None => message.to_owned(),
        }
    }
}

/// Is told how many of a clip's frames are done, from any thread; the clip is
/// over when it is dropped.
pub type Line<'a> = Box<dyn Fn(u64) + Sync + 'a>;

/// What goes on, for whoever shows it.
pub trait Events: Sync {
    /// So many clips are to be decoded, of so many frames together; over when what
    /// it gives is dropped.
    fn ahead(&self, _clips: usize, _frames: u64) -> Line<'_> {
        Box::new(|_| {})
    }
    /// A clip is about to be decoded; several may be at a time.
    fn clip(&self, name: &str, frames: u64) -> Line<'_>;
    /// Worth a person's attention.
    fn warning(&self, text: &str);
    /// Worth knowing.
    fn note(&self, _text: &str) {}
    /// Whether the person wants no more; asked after every frame.
    fn stopped(&self) -> bool {
        false
    }
}

/// For whoever shows nothing.
pub struct Silent;

impl Events for Silent {
    fn clip(&self, _: &str, _: u64) -> Line<'_> {
        Box::new(|_| {})
    }
    fn warning(&self, _: &str) {}
}

/// What became of a session.
#[derive(Debug, Default)]
pub struct Done {
    /// One per setup that could be judged, with the file it was written to.
    pub written: Vec<(PathBuf, Timing)>,
    /// What failed, clip by clip.
    pub failures: Vec<String>,
    /// What was looked for in a clip and not found.
    pub not_found: Vec<NotFoundIn>,
    /// Clips whose signals there were already.
    pub reused: usize,
    /// Clips that were decoded.
    pub decoded: usize,
    /// SHA-256 of the clips that were counted: one that several setups name
    /// counts once.
    pub counted: BTreeSet<String>,
    /// The person wanted no more: what is missing was not looked at.
    pub stopped: bool,
    /// What is missing may be had by the same command again: it was stopped, or
    /// something could not be written.
    pub unfinished: bool,
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
    let kept = Kept::look(&options.keeping);
    // A folder that is none is told with all other faults.
    let _lock = output::lock(&options.out).map_err(|e| vec![e])?;
    if let Some(signals) = &options.keeping.folder {
        sweep(signals);
    }
    let prepared = prepare(session, options, &kept);
    kept.complain(events);
    let mut prepared = prepared?;
    find::screens(session, &mut prepared, &kept, options, events);
    let whole = Whole {
        session,
        options,
        events,
        kept,
    };
    let mut done = Done::default();
    let watched = whole.watch(&prepared, &mut done);
    if watched.len() < session.setups.len() {
        done.stopped = true;
        done.unfinished = true;
    }
    for (timing, pack) in whole.judge(&watched, &mut done.failures) {
        whole.keep(&timing, &pack, &mut done);
    }
    Ok(done)
}

/// Opens every clip and checks it against its rig.
fn prepare(
    session: &Session,
    options: &JobOptions,
    kept: &Kept,
) -> Result<Vec<Vec<Prepared>>, Vec<JobError>> {
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
        let opened = setup_clips(setup).into_par_iter().map(|path| {
            let mut own = Vec::new();
            let clip = open(&path, &setup.rig, options, kept, &mut own);
            (clip, own)
        });
        let (clips, own): (Vec<Prepared>, Vec<Vec<JobError>>) = opened.unzip();
        faults.extend(own.into_iter().flatten());
        if faults.is_empty() && !options.force {
            let hashes: Vec<&str> = clips
                .iter()
                .take(setup.clips.len())
                .map(|(_, c)| c.as_ref().map_or("", Source::sha256))
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
#[must_use]
pub fn setup_clips(setup: &Setup) -> Vec<PathBuf> {
    let references = setup.reference.iter().flat_map(Reference::clips);
    setup
        .clips
        .iter()
        .cloned()
        .chain(references.map(Path::to_path_buf))
        .collect()
}
