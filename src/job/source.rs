//! Where a clip's signals come from: its film, or a file of kept signals.

use std::path::{Path, PathBuf};

use super::clip::{Clock, Ready, WatchError, condense_film};
use super::gauge::Gauge;
use super::kept::{Found, Fresh, Kept, load, sha_of, unusable};
use super::nothing::NotFound;
use super::signals::Signals;
use super::{Events, JobError, JobOptions, find, rate};
use crate::clip::{ClipError, ClipIndex, ProbeOptions, Turn, ffmpeg_version, first_picture, probe};
use crate::geometry::{Quad, UprightPx};
use crate::rig::Rig;

/// A clip before it is judged.
pub enum Source {
    /// Opened and checked against its rig.
    Film(Box<Waiting>),
    /// A file of signals, and the clip's SHA-256.
    Kept(PathBuf, String),
    /// Not asked for. It is only opened where nothing moves in a clip that is,
    /// to see where the setup's screen lies.
    Aside,
}

/// A clip that fits its rig and waits for its turn: a session may have many, so
/// what is large (the measuring gear, the first picture) is made then.
pub struct Waiting {
    /// Headers and stamps, without the first picture.
    pub index: ClipIndex,
    /// How its time is told.
    pub clock: Clock,
    /// The rig with the screen where this clip has it.
    pub rig: Rig,
    /// The screen's corners, where they were looked for and found.
    pub found: Option<Quad<UprightPx>>,
    /// Its screen is still to be looked for, or held against the rig's.
    pub open: bool,
}

impl Waiting {
    /// With the measuring gear.
    fn ready(&self) -> Result<Ready, String> {
        let mut index = self.index.clone();
        index.first = first_picture(&index).map_err(|e| e.to_string())?;
        let gauge = Gauge::new(&self.rig, &index).map_err(|e| words(&e))?;
        index.first = None;
        Ok(Ready {
            index,
            gauge: gauge.at_rate(self.clock.scale.rate().fps()),
            clock: self.clock.clone(),
            found: self.found,
        })
    }
}

/// Faults on one line.
pub fn words(faults: &[JobError]) -> String {
    let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
    faults.join("; ")
}

impl Source {
    /// SHA-256 of the clip.
    pub fn sha256(&self) -> &str {
        match self {
            Self::Film(waiting) => &waiting.index.sha256,
            Self::Kept(_, sha256) => sha256,
            Self::Aside => "",
        }
    }
}

/// Signals, how their time is told, and which FFmpeg decoded them.
pub struct Told {
    pub signals: Signals,
    /// Their time.
    pub clock: Clock,
    /// Version of FFmpeg.
    pub ffmpeg: String,
    /// Whether the clip was not decoded.
    pub reused: bool,
    /// What is to be kept of a clip that was decoded; why there is nothing to
    /// keep, in words.
    pub fresh: Result<Option<Fresh>, String>,
}

/// Why there are no signals of a clip.
#[derive(Clone, Debug)]
pub struct Untold {
    /// In words.
    pub why: String,
    /// It lies with this machine, not with the clip: there may be some the next
    /// time.
    pub passing: bool,
    /// It takes more memory or time than a clip may.
    pub costly: bool,
    /// What was looked for in it and not found.
    pub not_found: Option<Box<NotFound>>,
}

impl Untold {
    /// It lies with the clip.
    pub fn of_clip(why: impl Into<String>) -> Self {
        Self {
            why: why.into(),
            passing: false,
            costly: false,
            not_found: None,
        }
    }
}

impl From<WatchError> for Untold {
    fn from(e: WatchError) -> Self {
        Self {
            passing: matches!(e, WatchError::Io(_) | WatchError::Swing(_)),
            costly: matches!(e, WatchError::Clip(ClipError::TooCostly { .. })),
            ..Self::of_clip(e.to_string())
        }
    }
}

/// A clip and what could be found out about it without decoding.
pub type Prepared = (PathBuf, Result<Source, Untold>);

/// Opens a clip and checks it against its rig, or finds its signals where
/// judging is from signals alone.
pub fn open(
    path: &Path,
    rig: &Rig,
    options: &JobOptions,
    kept: &Kept,
    faults: &mut Vec<JobError>,
) -> Prepared {
    let source = if options.keeping.only {
        from_kept(path, rig, kept, faults)
    } else {
        from_film(path, rig, faults)
    };
    (path.to_path_buf(), source)
}

fn from_kept(
    path: &Path,
    rig: &Rig,
    kept: &Kept,
    faults: &mut Vec<JobError>,
) -> Result<Source, Untold> {
    let file = path.display().to_string();
    faults.push(match kept.find_path(path, rig) {
        Found::Fits(kept) => {
            let sha256 = sha_of(&kept);
            return Ok(Source::Kept(kept, sha256));
        }
        Found::Differs(keys) => JobError::OtherSignals {
            file,
            rig: rig.name.clone(),
            keys: list(&keys),
        },
        Found::Nothing => JobError::NoSignals { file },
    });
    Err(Untold::of_clip("no signals"))
}

fn from_film(path: &Path, rig: &Rig, faults: &mut Vec<JobError>) -> Result<Source, Untold> {
    let options = ProbeOptions {
        slow_parts: !rig.capture.segments.is_empty(),
        ..ProbeOptions::default()
    };
    let index = probe(path, &options);
    let mut index = index.map_err(|e| Untold::of_clip(e.to_string()))?;
    let rate = rate::true_rate(rig, &index).map_err(|e| vec![e]);
    let stand_in = find::stand_in(rig, &index);
    let open = find::open(rig, &index);
    index.first = None;
    let gauge = Gauge::new(&stand_in, &index);
    match (rate, gauge) {
        (Ok((scale, rate_u)), Ok(_)) => Ok(Source::Film(Box::new(Waiting {
            index,
            clock: Clock { scale, rate_u },
            rig: stand_in,
            found: None,
            open,
        }))),
        (rate, gauge) => {
            faults.extend(rate.err().into_iter().flatten());
            faults.extend(gauge.err().into_iter().flatten());
            Err(Untold::of_clip("does not fit its rig"))
        }
    }
}

/// The signals of a clip: those kept of it, else by decoding it. `name` is what a
/// person calls it.
///
/// # Errors
/// What kept it from being decoded or read.
pub fn tell(
    source: &Source,
    name: &str,
    path: &Path,
    rig: &Rig,
    options: &JobOptions,
    kept: &Kept,
    (turn, events): (Turn<'_>, &dyn Events),
) -> Result<Told, Untold> {
    let waiting = match source {
        Source::Kept(file, _) => return reuse(file, rig).map_err(Untold::of_clip),
        Source::Film(waiting) => waiting,
        Source::Aside => return Err(Untold::of_clip("not asked for")),
    };
    let found = kept.find(&waiting.index.sha256, rig);
    kept.complain(events);
    match found {
        Found::Fits(file) => match reuse(&file, rig) {
            Ok(told) => {
                return Ok(Told {
                    clock: waiting.clock.clone(),
                    ..told
                });
            }
            // Its screen was not looked for: the signals seemed to be there.
            Err(e) if find::needed(rig) && waiting.found.is_none() => {
                let why = format!("{e}; run again with --decode-again");
                return Err(Untold::of_clip(why));
            }
            Err(e) => events.warning(&format!("{e}; {name} is decoded again")),
        },
        Found::Differs(keys) => events.note(&format!(
            "{name}: {} changed since its signals were kept: it is decoded again",
            list(&keys)
        )),
        Found::Nothing => {}
    }
    let ready = &waiting.ready().map_err(Untold::of_clip)?;
    let line = events.clip(name, waiting.index.stamps.len() as u64);
    let mut signals = condense_film(rig, ready, turn, &line, || events.stopped())?;
    drop(line);
    let piped = options.stdin.as_deref() == Some(path);
    let clip = piped.then_some("-");
    let fresh = kept.write(path, clip, &ready.index, rig, &ready.clock, &mut signals);
    Ok(Told {
        signals,
        clock: ready.clock.clone(),
        ffmpeg: ffmpeg_version(),
        reused: false,
        fresh,
    })
}

fn reuse(file: &Path, rig: &Rig) -> Result<Told, String> {
    let told = load(file, rig);
    let (signals, clock, ffmpeg) =
        told.map_err(|e| unusable(&[file.to_path_buf()], &e.to_string()))?;
    Ok(Told {
        signals,
        clock,
        ffmpeg,
        reused: true,
        fresh: Ok(None),
    })
}

fn list(keys: &[String]) -> String {
    let keys: Vec<String> = keys.iter().map(|k| format!("`{k}`")).collect();
    keys.join(", ")
}
