//! Timing files judged again from kept signals at another δ, nothing written.

use std::path::{Path, PathBuf};

use super::setup::Outcome;
use super::source::{Prepared, Source};
use super::{Done, JobOptions, Keeping, Kept, Silent, Whole, kept};
use crate::rig::{Exclude, Reference, Rig, Session, Setup};
use crate::store::schema::{Clip, HandClip, ReferenceFrom, Side, Timing};

/// A timing file and where the signals of its clips are kept.
#[derive(Clone, Debug)]
pub struct Earlier<'a> {
    /// What messages call it.
    pub file: &'a str,
    /// What it holds.
    pub timing: &'a Timing,
    /// Folder of the signals.
    pub signals: PathBuf,
}

/// Judges the clips of all these files at one δ of `settle_permille` ‰ (and a
/// hit limit of at least that), as one session; with them what failed as it did
/// before, in words. Rig, clips, exclusions and the clips focused by hand are
/// those that the files name; what could not be read then stays so.
///
/// # Errors
/// Every clip without usable signals and every rig that cannot be used, each
/// with what to do.
pub fn judge_again(
    earlier: &[Earlier<'_>],
    settle_permille: f64,
) -> Result<(Vec<Timing>, Vec<String>), Vec<String>> {
    let mut faults = Vec::new();
    let mut setups = Vec::new();
    let mut excludes = Vec::new();
    for one in earlier {
        if let Some(setup) = setup(one, settle_permille, &mut faults) {
            excludes.extend(excluded(one));
            setups.push(setup);
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let (setups, prepared): (Vec<Setup>, Vec<Vec<Prepared>>) = setups.into_iter().unzip();
    let session = Session {
        setups,
        excludes,
        warnings: Vec::new(),
    };
    let options = JobOptions {
        out: PathBuf::from("."),
        force: true,
        workers: 1,
        stdin: None,
        keeping: Keeping::default(),
    };
    let whole = Whole {
        session: &session,
        options: &options,
        events: &Silent,
        kept: Kept::look(&Keeping::default()),
    };
    let mut done = Done::default();
    let watched = whole.watch(&prepared, &mut done);
    if watched.len() < session.setups.len() {
        return Err(vec!["stopped before all clips were judged".to_owned()]);
    }
    let judged = whole.judge(&watched, &mut done.failures);
    let out: Vec<Timing> = judged
        .into_iter()
        .zip(earlier)
        .map(|((timing, _), one)| as_named(timing, one.timing))
        .collect();
    // A clip or a reference that was there before and cannot be used now.
    let anew = |t: &Timing, old: &Timing| {
        let failed = |t: &Timing| t.clips.iter().filter(|c| c.error.is_some()).count();
        failed(t) > failed(old) || (t.unverified() && !old.unverified())
    };
    if out.iter().zip(earlier).any(|(t, old)| anew(t, old.timing)) {
        return Err(done.failures);
    }
    Ok((out, done.failures))
}

/// The setup of a file with the signals of its clips, those focused by hand
/// after them.
fn setup(
    earlier: &Earlier<'_>,
    settle_permille: f64,
    faults: &mut Vec<String>,
) -> Option<(Setup, Vec<Prepared>)> {
    let timing = earlier.timing;
    let mut rig = match Rig::from_json(&timing.rig) {
        Ok(rig) => rig,
        Err(why) => {
            faults.push(format!(
                "{}: its rig cannot be used to judge again ({why}); time the clips again with \
                 this build",
                earlier.file
            ));
            return None;
        }
    };
    rig.trial.settle_permille = settle_permille;
    rig.trial.hit_permille = rig.trial.hit_permille.max(settle_permille);
    let by_hand = timing
        .judged()
        .any(|t| t.reference_from == Some(ReferenceFrom::Hand));
    if by_hand && timing.by_hand.is_empty() {
        faults.push(format!(
            "{}: does not say which clips were focused by hand, so it cannot be judged again from \
             here; set trial.settle_permille = {settle_permille} in its rig and run: focuslag time \
             SESSION.toml --from-signals --force",
            earlier.file
        ));
        return None;
    }
    let kept = Kept::look(&Keeping {
        folder: Some(earlier.signals.clone()),
        only: true,
        ..Keeping::default()
    });
    let mut find = |path: &str, sha256: &str| {
        let found = signals(earlier, &kept, &rig, path, sha256);
        found.map_err(|fault| faults.push(fault)).ok()
    };
    let own = readable(timing).map(|c| (&c.path, &c.sha256));
    let by_hand = timing.by_hand.iter().map(|h| (&h.path, &h.sha256));
    let clips: Vec<Option<Prepared>> = own
        .chain(by_hand)
        .map(|(path, sha256)| find(path, sha256))
        .collect();
    let clips: Option<Vec<Prepared>> = clips.into_iter().collect();
    let setup = Setup {
        name: timing.setup.name.clone(),
        tags: timing.setup.tags.clone(),
        clips: readable(timing).map(|c| key(earlier, &c.path)).collect(),
        rig,
        rig_file: PathBuf::from(earlier.file),
        reference: reference(earlier),
    };
    Some((setup, clips?))
}

/// A clip's name in this session: files of several folders may name their clips
/// alike. Nothing is read there.
fn key(earlier: &Earlier<'_>, path: &str) -> PathBuf {
    Path::new(earlier.file).join(path)
}

/// The clips focused by hand as a timing file names them.
pub fn hand_clips(setup: &Setup, hand: &[(PathBuf, Outcome)]) -> Vec<HandClip> {
    let of = |side: Option<Side>, path: Option<&PathBuf>| {
        let (_, outcome) = hand.iter().find(|(p, _)| Some(p) == path)?;
        Some(HandClip {
            side,
            path: outcome.path.clone(),
            sha256: outcome.sha256.clone(),
        })
    };
    match &setup.reference {
        None => Vec::new(),
        Some(Reference::Single(clip)) => of(None, Some(clip)).into_iter().collect(),
        Some(Reference::Sides { near, far }) => of(Some(Side::Near), near.as_ref())
            .into_iter()
            .chain(of(Some(Side::Far), far.as_ref()))
            .collect(),
    }
}

/// Clips that were judged.
fn readable(timing: &Timing) -> impl Iterator<Item = &Clip> {
    timing.clips.iter().filter(|c| c.error.is_none())
}

fn signals(
    earlier: &Earlier<'_>,
    kept: &Kept,
    rig: &Rig,
    path: &str,
    sha256: &str,
) -> Result<Prepared, String> {
    let (file, folder) = (earlier.file, earlier.signals.display());
    let remedy = "make them with: focuslag time SESSION.toml --force (the session that this file \
                  is of), or name their folder with --signals";
    match kept.find(sha256, rig) {
        kept::Found::Fits(at) => Ok((key(earlier, path), Ok(Source::Kept(at, sha256.to_owned())))),
        kept::Found::Differs(keys) => Err(format!(
            "{file}: the signals of {path} in {folder} were made with another {}; {remedy}",
            keys.join(", ")
        )),
        kept::Found::Nothing => {
            let passed_over = kept.complaints();
            let passed_over = passed_over.first();
            let passed_over = passed_over.map_or(String::new(), |c| format!(" ({c})"));
            Err(format!(
                "{file}: no signals of {path} are kept in {folder}{passed_over}; {remedy}"
            ))
        }
    }
}

fn reference(earlier: &Earlier<'_>) -> Option<Reference> {
    let of = |side: Option<Side>| {
        let mut clips = earlier.timing.by_hand.iter();
        clips
            .find(|h| h.side == side)
            .map(|h| key(earlier, &h.path))
    };
    let (near, far) = (of(Some(Side::Near)), of(Some(Side::Far)));
    if near.is_some() || far.is_some() {
        return Some(Reference::Sides { near, far });
    }
    of(None).map(Reference::Single)
}

fn excluded(earlier: &Earlier<'_>) -> Vec<Exclude> {
    let all = earlier.timing.clips.iter();
    all.flat_map(|c| c.trials.iter().map(move |t| (c, t)))
        .filter_map(|(clip, trial)| {
            let reason = trial.reason.as_deref()?.strip_prefix("excluded: ")?;
            Some(Exclude {
                clip: key(earlier, &clip.path),
                trial: trial.index,
                reason: reason.to_owned(),
            })
        })
        .collect()
}

/// The clips under the paths that the earlier file gives them, those that
/// could not be read among them.
fn as_named(mut timing: Timing, earlier: &Timing) -> Timing {
    let mut judged = timing.clips.into_iter();
    timing.clips = earlier
        .clips
        .iter()
        .filter_map(|clip| match &clip.error {
            Some(_) => Some(clip.clone()),
            None => judged.next().map(|again| Clip {
                path: clip.path.clone(),
                ..again
            }),
        })
        .collect();
    timing.by_hand.clone_from(&earlier.by_hand);
    timing
}
