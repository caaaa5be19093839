//! Renders cases, times their clips, scores them.

use std::path::Path;

use super::deck::Case;
use super::score::Score;
use crate::job::{JobError, JobOptions, Silent, run};
use crate::render::{RenderError, Scene, Truth, foresee, render};
use crate::rig::{Rig, Session};

/// Why a case could not be played or timed.
#[derive(Debug, thiserror::Error)]
pub enum ProveError {
    /// The clip cannot be made.
    #[error(transparent)]
    Render(#[from] RenderError),
    /// The rig cannot be timed with.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Request(Vec<JobError>),
    /// The clip could not be timed.
    #[error("{0}")]
    Failed(String),
}

/// Renders a case into `folder` (unless its clip is there already); `rendered`
/// hears frames done and frames in all.
///
/// # Errors
/// Where the scene does not make sense or the clip cannot be written.
pub fn play(
    case: &Case,
    folder: &Path,
    rendered: impl FnMut(u64, u64),
) -> Result<Truth, ProveError> {
    let clip = folder.join(format!("{}.mp4", case.name));
    if clip.exists() {
        return Ok(foresee(&case.scene)?);
    }
    Ok(render(&case.scene, folder, &clip, rendered)?)
}

/// Times a played case with a rig and holds it against its truth.
///
/// # Errors
/// Where the rig is refused or the clip cannot be timed. A clip without a
/// trial is a score in which all are missed.
pub fn measure(case: &Case, rig: &Rig, truth: &Truth, folder: &Path) -> Result<Score, ProveError> {
    let clip = folder.join(format!("{}.mp4", case.name));
    let session = Session::of_one("kit-amber", clip, rig.clone());
    let done = run(&session, &JobOptions::fresh(folder, 2), &Silent);
    let done = done.map_err(ProveError::Request)?;
    match done.written.into_iter().next() {
        Some((_, timing)) => Ok(Score::of(truth, &timing, hidden(&case.scene))),
        None if done.failures.iter().all(|f| f.contains("no trial")) => Ok(Score::empty(truth)),
        None => Err(ProveError::Failed(done.failures.join("; "))),
    }
}

/// Trials in which the filming camera refocuses after onset.
fn hidden(scene: &Scene) -> &[usize] {
    let refocus = &scene.film.refocus;
    if refocus.blur_px > 0.0 && refocus.at_ms >= 0.0 {
        &refocus.trials
    } else {
        &[]
    }
}
