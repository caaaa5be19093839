//! What a session would do, told from files and headers, and from a look at each
//! clip ([`super::foresee`]).
//!
//! Nothing is written. The same pieces find the same faults as the job itself.

use rayon::prelude::*;
use serde::Serialize;

use super::error::JobError;
use super::foresee::{Foreseen, LookedAt, foresee};
use super::kept::Kept;
use super::nothing::NotFoundIn;
use super::rate::{self, RateFrom};
use super::source::{Prepared, Source, open};
use super::{Events, JobOptions, evidence, output, setup_clips};
use crate::rig::{Session, Setup, Stimulus};

/// What would be done.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Checked {
    pub setups: Vec<CheckedSetup>,
    /// Faults of the request: `time` would refuse it.
    pub errors: Vec<String>,
    /// Clips that cannot be timed: `time` would do the others.
    pub failures: Vec<String>,
    /// Worth a word.
    pub warnings: Vec<String>,
    /// The person wanted no more: not all clips were looked at.
    pub stopped: bool,
    /// What was looked for in a clip and not found.
    #[serde(skip)]
    pub not_found: Vec<NotFoundIn>,
}

#[derive(Clone, Debug, Serialize)]
pub struct CheckedSetup {
    pub name: String,
    /// The rig file.
    pub rig: String,
    /// `swing`, `light` or `tone`.
    pub stimulus: &'static str,
    /// Window and hold, ms.
    pub window_ms: f64,
    /// See `window_ms`.
    pub hold_ms: f64,
    /// The timing file that would be written.
    pub output: String,
    /// What is there already.
    pub taken: Taken,
    /// Clips to be timed, then clips focused by hand.
    pub clips: Vec<CheckedClip>,
    /// Trials the session takes out.
    pub excluded: usize,
}

/// What lies where the timing file would go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Taken {
    /// Nothing.
    Free,
    /// The result of these clips and settings: written anew.
    Same,
    /// Something else, which `--force` would replace.
    Replaced,
    /// Something else: refused without `--force`.
    Refused,
}

#[derive(Clone, Debug, Serialize)]
pub struct CheckedClip {
    /// The file.
    pub path: String,
    /// It serves as a reference.
    pub reference: bool,
    /// Why it cannot be timed.
    pub error: Option<String>,
    /// Frames to be shown.
    pub frames: Option<usize>,
    /// Upright frame, px.
    pub size: Option<(usize, usize)>,
    /// Rate of the stamps.
    pub stored_fps: Option<f64>,
    /// True rate, and who says so.
    pub capture_fps: Option<f64>,
    /// See `capture_fps`.
    pub rate_from: Option<RateFrom>,
    /// Length as shot, seconds.
    pub length_s: Option<f64>,
    /// `rig`, `feed` or `to be found`.
    pub screen: &'static str,
    /// What a look at it shows, where there was one.
    pub look: Option<Foreseen>,
    /// What `time` would warn of: of the headers, and of what the look shows.
    pub warnings: Vec<String>,
}

/// Looks at a session as [`super::run`] would before it decodes, and where nothing
/// is wrong with the request at the first `look` seconds (as shot) of its clips.
pub fn check(
    session: &Session,
    look: Option<f64>,
    options: &JobOptions,
    events: &dyn Events,
) -> Checked {
    let kept = Kept::look(&options.keeping);
    let mut out = Checked {
        warnings: session.warnings.clone(),
        ..Checked::default()
    };
    if let Err(e) = output::check_folder(&options.out) {
        out.errors.push(e.to_string());
    }
    let mut prepared = Vec::new();
    for setup in &session.setups {
        let (one, clips) = check_setup(session, setup, (options, &kept), &mut out);
        out.setups.push(one);
        prepared.push(clips);
    }
    out.errors.dedup();
    if let (Some(seconds), true) = (look, out.errors.is_empty()) {
        let (foreseen, not_found) = foresee(session, prepared, kept, seconds, options, events);
        for (setup, clips) in out.setups.iter_mut().zip(foreseen) {
            for (clip, look) in setup.clips.iter_mut().zip(clips) {
                clip.add(look, &setup.name, &mut out.failures);
            }
        }
        out.not_found = not_found;
        out.stopped = events.stopped();
    }
    out
}

fn check_setup(
    session: &Session,
    setup: &Setup,
    (options, kept): (&JobOptions, &Kept),
    out: &mut Checked,
) -> (CheckedSetup, Vec<Prepared>) {
    if let Err(e) = rate::supported(&setup.rig) {
        out.errors.push(e.to_string());
    }
    let opened = setup_clips(setup).into_par_iter().map(|path| {
        let mut faults = Vec::new();
        let clip = open(&path, &setup.rig, options, kept, &mut faults);
        (clip, faults)
    });
    let (prepared, faults): (Vec<Prepared>, Vec<Vec<JobError>>) = opened.unzip();
    out.errors
        .extend(faults.iter().flatten().map(ToString::to_string));
    let each = prepared.iter().zip(&faults).enumerate();
    let clips: Vec<CheckedClip> = each
        .map(|(i, (clip, faults))| {
            let reference = i >= setup.clips.len();
            let checked = CheckedClip::of(setup, clip, reference);
            let why = checked.error.iter().filter(|_| faults.is_empty());
            out.failures
                .extend(why.map(|e| format!("{}: {e}", setup.name)));
            checked
        })
        .collect();
    let hashes = prepared.iter().take(setup.clips.len());
    let hashes: Vec<&str> = hashes
        .map(|(_, c)| c.as_ref().map_or("", Source::sha256))
        .collect();
    let file = output::file_of(&setup.name, &options.out);
    let other = output::occupied(setup, &hashes, options);
    let taken = match (&other, file.exists()) {
        (None, false) => Taken::Free,
        (None, true) => Taken::Same,
        (Some(_), _) if options.force => Taken::Replaced,
        (Some(_), _) => Taken::Refused,
    };
    if let (Taken::Refused, Some(e)) = (taken, other) {
        out.errors.push(e.to_string());
    }
    let evidence = evidence::occupied(setup, options);
    out.errors.extend(evidence.map(|e| e.to_string()));
    let checked = CheckedSetup {
        name: setup.name.clone(),
        rig: setup.rig_file.display().to_string(),
        stimulus: match setup.rig.stimulus {
            Stimulus::Swing { .. } => "swing",
            Stimulus::Light { .. } => "light",
            Stimulus::Tone => "tone",
        },
        window_ms: setup.rig.trial.window.0,
        hold_ms: setup.rig.trial.hold.0,
        output: file.display().to_string(),
        taken,
        clips,
        excluded: session
            .excludes
            .iter()
            .filter(|e| setup.clips.contains(&e.clip))
            .count(),
    };
    (checked, prepared)
}

impl CheckedClip {
    fn of(setup: &Setup, (path, source): &Prepared, reference: bool) -> Self {
        let rig = &setup.rig;
        let mut clip = Self {
            path: path.display().to_string(),
            reference,
            error: None,
            frames: None,
            size: None,
            stored_fps: None,
            capture_fps: None,
            rate_from: None,
            length_s: None,
            screen: match (rig.screen.feed, rig.screen.corners) {
                (true, _) => "feed",
                (false, Some(_)) => "rig",
                (false, None) => "to be found",
            },
            look: None,
            warnings: Vec::new(),
        };
        match source {
            Ok(Source::Film(film)) => {
                let (index, scale) = (&film.index, &film.clock.scale);
                let end = crate::units::StoredTime(index.duration_s);
                clip.frames = Some(index.stamps.len());
                clip.size = Some(index.orientation.upright_size());
                clip.stored_fps = Some(index.stored_fps);
                clip.capture_fps = Some(scale.rate().fps());
                clip.rate_from = RateFrom::of(rig, index);
                clip.length_s = Some(scale.shot(end).0);
                clip.warnings.clone_from(&index.warnings);
            }
            Ok(Source::Kept(..) | Source::Aside) => {}
            Err(untold) => clip.error = Some(untold.why.clone()),
        }
        clip
    }

    /// With what a look at it showed.
    fn add(&mut self, look: Result<Foreseen, String>, setup: &str, failures: &mut Vec<String>) {
        if self.error.is_some() {
            return;
        }
        match look {
            Ok(look) => {
                self.warnings.clone_from(&look.warnings);
                let certain = look.from != LookedAt::Beginning;
                if certain && look.is_empty() {
                    failures.push(format!("{setup}: {}: no trial found", self.path));
                }
                self.look = Some(look);
            }
            Err(why) => {
                failures.push(format!("{setup}: {why}"));
                self.error = Some(why);
            }
        }
    }
}

impl CheckedSetup {
    /// Clips to be timed, and clips focused by hand.
    pub fn counts(&self) -> (usize, usize) {
        let hand = self.clips.iter().filter(|c| c.reference).count();
        (self.clips.len() - hand, hand)
    }
}
