//! The main job: a session's clips in, one timing file per setup out.
//!
//! The only part that knows every room. In: a checked [`Session`]. Out:
//! `NAME.timing.json` per setup, written as soon as the setup is done, and
//! [`Done`] for the tables. Faults of the request are found before anything
//! is decoded and reported together ([`JobError`]); a clip that cannot be
//! judged is listed and the rest goes on.

mod again;
mod check;
mod clip;
mod cues;
mod delta;
mod error;
mod evidence;
pub mod find;
mod gauge;
mod hygiene;
mod kept;
mod lag;
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

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub use again::{Earlier, judge_again};
pub use check::{Checked, CheckedClip, CheckedSetup, Taken, check};
pub use error::JobError;
pub use kept::{Keeping, Kept};
pub use output::whole_that_fits;
pub use rate::{RateFrom, true_rate};
pub use rehearse::{Instants, Rehearsed, rehearse};
pub use segments::{Run, runs};
pub use setup::rules;

use crate::rig::{Reference, Session, Setup};
use crate::stats::summary::summarise;
use crate::store::evidence::{Pack, write_evidence};
use crate::store::schema::{FORMAT, Timing, VERSION};
use crate::store::{StoreError, write_timing};
use clip::watch;
use delta::Delta;
use reference::{by_hand, yardsticks};
use setup::{Outcome, Verdicts};
use source::{Prepared, Source, open, tell};
use verdicts::Yardsticks;

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
    /// What is kept of the decoding, and used of what was kept.
    pub keeping: Keeping,
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
    /// Worth knowing.
    fn note(&self, _text: &str) {}
    /// Whether the person wants no more; asked after every frame.
    fn stopped(&self) -> bool {
        false
    }
}

/// What became of a session.
#[derive(Debug, Default)]
pub struct Done {
    /// One per setup that could be judged, with the file it was written to.
    pub written: Vec<(PathBuf, Timing)>,
    /// What failed, clip by clip.
    pub failures: Vec<String>,
    /// Clips whose signals there were already.
    pub reused: usize,
    /// Clips that were decoded.
    pub decoded: usize,
    /// The person wanted no more: what is missing was not looked at.
    pub stopped: bool,
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
    for text in &kept.complaints {
        events.warning(&format!("{text}; they are passed over"));
    }
    let mut prepared = prepare(session, options, &kept)?;
    find::screens(session, &mut prepared, &kept, options, events);
    let whole = Whole {
        session,
        options,
        events,
        kept,
    };
    let mut done = Done::default();
    let mut watched = Vec::new();
    for (setup, clips) in session.setups.iter().zip(prepared) {
        let Some(seen) = whole.watch_setup(setup, clips, &mut done) else {
            done.stopped = true;
            break;
        };
        watched.push((setup, seen));
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
        let mut clips = Vec::new();
        for path in setup_clips(setup) {
            clips.push(open(&path, &setup.rig, options, kept, &mut faults));
        }
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
fn setup_clips(setup: &Setup) -> Vec<PathBuf> {
    let references = setup.reference.iter().flat_map(Reference::clips);
    setup
        .clips
        .iter()
        .cloned()
        .chain(references.map(Path::to_path_buf))
        .collect()
}

/// The clips of a setup as far as they came, and those focused by hand.
#[derive(Default)]
struct WatchedSetup {
    clips: Vec<Outcome>,
    hand: Vec<(PathBuf, Outcome)>,
}

/// All that the setups of a session share.
struct Whole<'a> {
    session: &'a Session,
    options: &'a JobOptions,
    events: &'a dyn Events,
    kept: Kept,
}

impl Whole<'_> {
    /// `None` where the person wanted no more before its last clip was done.
    fn watch_setup(
        &self,
        setup: &Setup,
        clips: Vec<Prepared>,
        done: &mut Done,
    ) -> Option<WatchedSetup> {
        let mut out = WatchedSetup::default();
        for (i, (path, source)) in clips.into_iter().enumerate() {
            if self.events.stopped() {
                return None;
            }
            let outcome = self.time_clip(setup, &path, source, done);
            if self.events.stopped() {
                return None;
            }
            if let Err(e) = &outcome.watched {
                done.failures.push(format!("{}: {e}", setup.name));
            }
            if i < setup.clips.len() {
                out.clips.push(outcome);
            } else {
                out.hand.push((path, outcome));
            }
        }
        Some(out)
    }

    /// Judges what was watched, with one δ for all of it.
    fn judge(
        &self,
        watched: &[(&Setup, WatchedSetup)],
        failures: &mut Vec<String>,
    ) -> Vec<(Timing, Pack)> {
        let yardsticks: Vec<Vec<Yardsticks>> = watched
            .iter()
            .map(|(setup, seen)| {
                let hand = by_hand(setup, &seen.hand, failures);
                yardsticks(&seen.clips, &hand, &rules(&setup.rig).coarse())
            })
            .collect();
        let mut verdicts: Vec<Vec<Option<Verdicts<'_>>>> = watched
            .iter()
            .zip(&yardsticks)
            .map(|((setup, seen), y)| {
                let clips = seen.clips.iter().zip(y);
                clips.map(|(o, y)| Verdicts::of(&setup.rig, o, y)).collect()
            })
            .collect();
        let delta = Delta::of(verdicts.iter().flatten().flatten());
        watched
            .iter()
            .zip(&mut verdicts)
            .map(|((setup, seen), v)| self.timing(setup, seen, v, &delta, failures))
            .collect()
    }

    /// Writes a setup's result and its evidence.
    fn keep(&self, timing: &Timing, pack: &Pack, done: &mut Done) {
        if timing.clips.iter().all(|c| c.trials.is_empty()) {
            let name = &timing.setup.name;
            done.failures.push(format!(
                "{name}: no trial in any clip, so nothing was written"
            ));
            return;
        }
        match save(timing, self.options) {
            Ok(path) => {
                // Without its evidence a result is still a result.
                let kept = write_evidence(&path, pack);
                done.failures.extend(kept.err().map(|e| e.to_string()));
                done.written.push((path, timing.clone()));
            }
            Err(e) => done.failures.push(e.to_string()),
        }
    }

    fn timing(
        &self,
        setup: &Setup,
        seen: &WatchedSetup,
        verdicts: &mut [Option<Verdicts<'_>>],
        delta: &Delta,
        failures: &mut Vec<String>,
    ) -> (Timing, Pack) {
        let outcomes = &seen.clips;
        let mut clips: Vec<_> = outcomes
            .iter()
            .zip(verdicts.iter_mut())
            .map(|(o, v)| match v {
                Some(v) => v.record(&setup.rig, delta.permille),
                None => setup::failed(&setup.rig, o),
            })
            .collect();
        for (clip, outcome) in clips.iter_mut().zip(outcomes) {
            clip.warnings
                .extend(output::excluded_in_vain(clip, outcome.excluded.keys()));
        }
        advise(setup, &mut clips, self.events, failures);
        let summary = summarise(&clips, CONFIDENCE)
            .map_err(|e| failures.push(format!("{}: {e}", setup.name)))
            .ok();
        let file = output::file_of(&setup.name, &self.options.out);
        let mut earlier = evidence::earlier(&file);
        let (pack, lacking) = evidence::pack(&setup.name, &clips, verdicts, earlier.as_mut());
        if lacking > 0 {
            self.events.note(&evidence::lacking(&setup.name, lacking));
        }
        let all = outcomes.iter().chain(seen.hand.iter().map(|h| &h.1));
        let timing = Timing {
            format: FORMAT.to_owned(),
            version: VERSION,
            setup: crate::store::schema::Setup {
                name: setup.name.clone(),
                tags: setup.tags.clone(),
            },
            rig: setup.rig.to_json(),
            measure: setup::measure_record(&setup.rig),
            made_by: made_by(all),
            clips,
            by_hand: again::hand_clips(setup, &seen.hand),
            summary,
        };
        (timing, pack)
    }

    fn time_clip(
        &self,
        setup: &Setup,
        path: &Path,
        source: Result<Source, String>,
        done: &mut Done,
    ) -> Outcome {
        let (options, rig) = (self.options, &setup.rig);
        let excludes = self.session.excludes.iter().filter(|e| e.clip == path);
        let mut outcome = Outcome {
            path: if options.stdin.as_deref() == Some(path) {
                "-".to_owned()
            } else {
                output::relative(path, &options.out)
            },
            sha256: source.as_ref().map_or("", Source::sha256).to_owned(),
            capture_fps: None,
            ffmpeg: None,
            watched: Err(String::new()),
            excluded: excludes.map(|e| (e.trial, e.reason.clone())).collect(),
        };
        let name = options.shown(&path.display().to_string());
        let name = name
            .rsplit(std::path::MAIN_SEPARATOR)
            .next()
            .unwrap_or(&name);
        let told = source.and_then(|s| tell(&s, name, path, rig, options, &self.kept, self.events));
        let watched = told.and_then(|told| {
            done.reused += usize::from(told.reused);
            done.decoded += usize::from(!told.reused);
            outcome.capture_fps = Some(told.clock.scale.rate().fps());
            outcome.ffmpeg = Some(told.ffmpeg);
            watch(rig, &told.clock, &rules(rig), told.signals).map_err(|e| e.to_string())
        });
        outcome.watched = watched.map_err(|e| options.shown(&e));
        outcome
    }
}

/// The programs behind a timing file: signals may have been decoded earlier.
fn made_by<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> BTreeMap<String, String> {
    let mut out = kept::made_by();
    let mut decoders: Vec<&str> = outcomes.filter_map(|o| o.ffmpeg.as_deref()).collect();
    decoders.sort_unstable();
    decoders.dedup();
    if !decoders.is_empty() {
        out.insert("ffmpeg".to_owned(), decoders.join(", "));
    }
    out
}

/// Warnings that only the whole setup tells.
fn advise(
    setup: &Setup,
    clips: &mut [crate::store::schema::Clip],
    events: &dyn Events,
    failures: &mut Vec<String>,
) {
    if let Some(text) = output::longest_window(clips, setup.rig.trial.hold.0) {
        for clip in clips.iter_mut().filter(|c| c.error.is_none()).take(1) {
            clip.warnings.push(text.clone());
        }
    }
    if let Some(text) = lag::of_rig(&setup.rig) {
        for clip in clips.iter_mut().filter(|c| !c.trials.is_empty()).take(1) {
            clip.warnings.push(text.to_owned());
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
