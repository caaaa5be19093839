//! What a session would do, told from files and headers alone.
//!
//! Nothing is decoded but each clip's first frame, and nothing is written. The
//! same pieces find the same faults as the job itself.

use std::path::PathBuf;

use serde::Serialize;

use super::error::JobError;
use super::gauge::Gauge;
use super::rate::{self, RateFrom};
use super::{JobOptions, evidence, find, output, setup_clips};
use crate::clip::{ProbeOptions, probe};
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
    /// What the headers warn of.
    pub warnings: Vec<String>,
}

/// Looks at a session as [`super::run`] would before it decodes.
pub fn check(session: &Session, options: &JobOptions) -> Checked {
    let mut out = Checked {
        warnings: session.warnings.clone(),
        ..Checked::default()
    };
    if let Err(e) = output::check_folder(&options.out) {
        out.errors.push(e.to_string());
    }
    for setup in &session.setups {
        let one = check_setup(session, setup, options, &mut out);
        out.setups.push(one);
    }
    out.errors.dedup();
    out
}

fn check_setup(
    session: &Session,
    setup: &Setup,
    options: &JobOptions,
    out: &mut Checked,
) -> CheckedSetup {
    if let Err(e) = rate::supported(&setup.rig) {
        out.errors.push(e.to_string());
    }
    let mut hashes = Vec::new();
    let mut clips = Vec::new();
    for (i, path) in setup_clips(setup).into_iter().enumerate() {
        let reference = i >= setup.clips.len();
        let (clip, sha256) = check_clip(setup, path, reference, out);
        if !reference {
            hashes.push(sha256);
        }
        clips.push(clip);
    }
    let file = output::file_of(&setup.name, &options.out);
    let hashes: Vec<&str> = hashes.iter().map(String::as_str).collect();
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
    CheckedSetup {
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
    }
}

fn check_clip(
    setup: &Setup,
    path: PathBuf,
    reference: bool,
    out: &mut Checked,
) -> (CheckedClip, String) {
    let rig = &setup.rig;
    let mut clip = CheckedClip {
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
        warnings: Vec::new(),
    };
    let index = match probe(&path, &ProbeOptions::default()) {
        Ok(index) => index,
        Err(e) => {
            out.failures.push(format!("{}: {e}", setup.name));
            clip.error = Some(e.to_string());
            return (clip, String::new());
        }
    };
    clip.frames = Some(index.stamps.len());
    clip.size = Some(index.orientation.upright_size());
    clip.stored_fps = Some(index.stored_fps);
    let mut faults: Vec<JobError> = Vec::new();
    match rate::true_rate(rig, &index) {
        Ok((scale, _)) => {
            clip.capture_fps = Some(scale.rate().fps());
            clip.rate_from = RateFrom::of(rig, &index);
            clip.length_s = Some(scale.shot(crate::units::StoredTime(index.duration_s)).0);
        }
        Err(e) => faults.push(e),
    }
    faults.extend(
        Gauge::new(&find::stand_in(rig, &index), &index)
            .err()
            .into_iter()
            .flatten(),
    );
    let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
    if !faults.is_empty() {
        clip.error = Some("does not fit its rig".to_owned());
    }
    out.errors.extend(faults);
    clip.warnings.clone_from(&index.warnings);
    (clip, index.sha256)
}

impl CheckedSetup {
    /// Clips to be timed, and clips focused by hand.
    pub fn counts(&self) -> (usize, usize) {
        let hand = self.clips.iter().filter(|c| c.reference).count();
        (self.clips.len() - hand, hand)
    }
}
