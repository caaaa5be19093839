//! The clips of a session's setups gone through: several at a time, told of in
//! their order.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::abreast::{Together, UnderWay, abreast, lanes};
use super::clip::watch;
use super::kept::Found;
use super::nothing::{NotFound, NotFoundIn, places};
use super::setup::{Outcome, rules};
use super::source::{Prepared, Source, Untold, tell};
use super::whole::Whole;
use super::{Done, Events, output};
use crate::clip::{Crew, Turn};
use crate::rig::{Rig, Setup};

/// The clips of a setup as far as they came, and those focused by hand.
#[derive(Default)]
pub struct WatchedSetup {
    pub clips: Vec<Outcome>,
    pub hand: Vec<(PathBuf, Outcome)>,
}

impl WatchedSetup {
    fn push(&mut self, clip: &ToTime<'_>, outcome: Outcome) {
        if self.clips.len() < clip.setup.clips.len() {
            self.clips.push(outcome);
        } else {
            self.hand.push((clip.path.to_path_buf(), outcome));
        }
    }

    fn len(&self) -> usize {
        self.clips.len() + self.hand.len()
    }
}

/// A clip that is to be timed.
struct ToTime<'a> {
    /// Number of its setup.
    of: usize,
    setup: &'a Setup,
    path: &'a Path,
    source: &'a Result<Source, Untold>,
    /// It need not be decoded.
    quick: bool,
}

impl ToTime<'_> {
    /// Its trials are no trials of its setup.
    fn by_hand(&self) -> bool {
        !self.setup.clips.iter().any(|c| c == self.path)
    }

    /// A film's SHA-256 and number of frames, unless it need not be decoded.
    fn to_decode(&self) -> Option<(&str, u64)> {
        match self.source {
            Ok(Source::Film(film)) if !self.quick => {
                Some((&film.index.sha256, film.index.stamps.len() as u64))
            }
            _ => None,
        }
    }
}

impl Whole<'_> {
    /// The clips of all setups, up to the first setup with a clip that was not done
    /// when the person wanted no more.
    pub fn watch(
        &self,
        prepared: &[Vec<Prepared>],
        done: &mut Done,
    ) -> Vec<(&Setup, WatchedSetup)> {
        let clips = self.clips(prepared);
        let films: BTreeMap<&str, u64> = clips.iter().filter_map(ToTime::to_decode).collect();
        let _all = self.events.ahead(films.len(), films.values().sum());
        let (crew, under_way) = (Crew::new(self.options.workers), UnderWay::default());
        let together = Together::default();
        let time = |clip: &ToTime<'_>, events: &dyn Events| {
            let (turn, going_on) = (crew.turn(), || !events.stopped());
            let work = || {
                let one = || going_on().then(|| self.time_clip(clip, turn, events));
                together.tried(one, |t| t.as_ref().is_some_and(|t| t.costly))
            };
            let timed = match clip.to_decode() {
                Some((sha256, _)) => under_way.alone(sha256, work),
                None => work(),
            };
            timed.filter(|_| going_on())
        };
        let none = |setup| (setup, WatchedSetup::default());
        let mut out: Vec<_> = self.session.setups.iter().map(none).collect();
        // Kept signals are judged side by side; films share their workers.
        for batch in clips.chunk_by(|a, b| a.quick == b.quick) {
            let lanes = match batch {
                [first, ..] if first.quick => rayon::current_num_threads(),
                _ => lanes(self.options.workers),
            };
            abreast(batch, lanes, self.events, time, |clip, timed| {
                if let Some(timed) = timed {
                    let outcome = done.count(clip, timed);
                    out[clip.of].1.push(clip, outcome);
                }
            });
        }
        let each = out.iter().zip(prepared);
        let whole = each.take_while(|((_, seen), clips)| seen.len() == clips.len());
        let whole = whole.count();
        out.truncate(whole);
        out
    }

    fn clips<'c>(&'c self, prepared: &'c [Vec<Prepared>]) -> Vec<ToTime<'c>> {
        let setups = self.session.setups.iter().enumerate().zip(prepared);
        let each = setups.flat_map(|((of, setup), clips)| {
            clips.iter().map(move |(path, source)| ToTime {
                of,
                setup,
                path,
                source,
                quick: self.is_kept(source, &setup.rig),
            })
        });
        each.collect()
    }

    /// Whether there are signals of a clip, so that it need not be decoded.
    fn is_kept(&self, source: &Result<Source, Untold>, rig: &Rig) -> bool {
        match source {
            Ok(Source::Film(ready)) => {
                matches!(self.kept.find(&ready.index.sha256, rig), Found::Fits(_))
            }
            Ok(Source::Kept(..) | Source::Aside) | Err(_) => true,
        }
    }

    fn time_clip(&self, clip: &ToTime<'_>, turn: Turn<'_>, events: &dyn Events) -> Timed {
        let (path, source) = (clip.path, clip.source);
        let (options, rig) = (self.options, &clip.setup.rig);
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
        let told = source.as_ref().map_err(Clone::clone);
        let told = told.and_then(|s| tell(s, name, path, rig, options, &self.kept, (turn, events)));
        let reused = told.as_ref().ok().map(|t| t.reused);
        let mut watched = told.and_then(|told| {
            outcome.capture_fps = Some(told.clock.scale.rate().fps());
            outcome.ffmpeg = Some(told.ffmpeg);
            let watched = watch(rig, &told.clock, &rules(rig), told.signals);
            if let (Ok(watched), false) = (&watched, told.reused) {
                // Nothing but the stills of judging again depends on it.
                let _ = self.kept.keep_stills(&outcome.sha256, rig, watched);
            }
            let fresh = told.fresh.map(|f| f.map(|f| self.kept.keep(f)));
            if let Err(why) | Ok(Some(Err(why))) = fresh {
                events.warning(&why);
            }
            Ok(watched?)
        });
        let not_found = match &mut watched {
            // Nothing needs to start a trial in a clip focused by hand.
            Ok(watched) if clip.by_hand() => {
                let none = watched.not_found.take();
                watched
                    .warnings
                    .retain(|w| none.as_ref().is_none_or(|m| m.words != *w));
                None
            }
            Ok(watched) => watched.not_found.take().map(|m| of_film(m, source)),
            Err(untold) => untold.not_found.take().map(|m| *m),
        };
        let failed = |of: fn(&Untold) -> bool| watched.as_ref().is_err_and(of);
        let (unfinished, costly) = (failed(|e| e.passing), failed(|e| e.costly));
        outcome.watched = watched.map_err(|e| options.shown(&e.why));
        Timed {
            outcome,
            reused,
            unfinished,
            costly,
            not_found,
        }
    }
}

/// With the places and a picture of the clip as it was opened.
fn of_film(mut not_found: NotFound, source: &Result<Source, Untold>) -> NotFound {
    let Ok(Source::Film(film)) = source else {
        return not_found;
    };
    not_found.places = places(&film.rig);
    not_found.in_clip(&film.index)
}

/// A clip as far as it came.
struct Timed {
    outcome: Outcome,
    /// Whether its signals were there already.
    reused: Option<bool>,
    /// Another run may come farther.
    unfinished: bool,
    /// It took more memory or time than a clip may.
    costly: bool,
    /// What was looked for and not found.
    not_found: Option<NotFound>,
}

impl Done {
    /// Counts a clip, and notes why it failed.
    fn count(&mut self, clip: &ToTime<'_>, timed: Timed) -> Outcome {
        let (setup, outcome) = (clip.setup, timed.outcome);
        if let Some(reused) = timed.reused
            && self.counted.insert(outcome.sha256.clone())
        {
            self.reused += usize::from(reused);
            self.decoded += usize::from(!reused);
        }
        self.unfinished |= timed.unfinished;
        self.not_found
            .extend(timed.not_found.map(|not_found| NotFoundIn {
                setup: setup.name.clone(),
                clip: clip.path.to_path_buf(),
                not_found,
            }));
        if let Err(e) = &outcome.watched {
            self.failures.push(format!("{}: {e}", setup.name));
        }
        outcome
    }
}
