//! Films whose truth is known: a scene becomes a clip and, beside it, what an
//! ideal observer of the screen must say of every trial.
//!
//! In: a [`Scene`] (TOML; every key has a default). Out: a clip (`.mp4`,
//! `.mov`, `.mkv`) and `CLIP.truth.json` ([`Truth`]). Fails where a scene does
//! not make sense, an image cannot be read or a file cannot be written.
//!
//! The way of the light: two textured layers, thin-lens defocus as a uniform
//! disc (`layer`), the live view's sampling, exposure and lag, the screen's
//! refresh (`schedule`), the filming camera's exposure, optics and noise
//! (`film`), a video file. The truth comes from the plan of the scene alone,
//! never from pixels. Nothing here is shared with the analysis but units,
//! geometry and the file writer in `clip`.
//!
//! World and film share one clock: 0 is the stamp of the first frame, and a
//! stamp is the middle of a frame's exposure, so that a change shown at t is in
//! more than half of a frame's exposure from the first stamp ≥ t on.

mod error;
mod film;
mod judge;
mod kit;
mod layer;
mod lens;
mod marks;
mod motion;
mod optics;
mod output;
mod pipeline;
mod plan;
mod rng;
pub mod scene;
mod schedule;
mod sound;
mod source;
mod stack;
mod stretch;
mod studio;
mod truth;

pub(crate) use error::RenderError;
pub use scene::Scene;
pub(crate) use truth::{Settled, TrialTruth};
pub use truth::{Truth, Verdict, truth_path};

use std::path::Path;

use studio::{Course, Studio};

/// Renders `scene` into `out` and its truth beside it; `scene_dir` is where
/// the scene's image paths start, `progress` gets frames done and frames in all.
///
/// # Errors
/// Where the scene does not make sense, an image cannot be read, or the files
/// cannot be written.
pub fn render(
    scene: &Scene,
    scene_dir: &Path,
    out: &Path,
    mut progress: impl FnMut(u64, u64),
) -> Result<Truth, RenderError> {
    render_until(scene, scene_dir, out, |done, total| {
        progress(done, total);
        false
    })
}

/// The same, until `stopped`, which gets frames done and frames in all, says so.
/// Nothing is left behind then.
///
/// # Errors
/// As [`render`]; [`RenderError::Stopped`].
pub fn render_until(
    scene: &Scene,
    scene_dir: &Path,
    out: &Path,
    mut stopped: impl FnMut(u64, u64) -> bool,
) -> Result<Truth, RenderError> {
    let studio = Studio::new(scene, scene_dir)?;
    let truth = studio.truth();
    let total = truth.frames as u64;
    let mut output = output::Output::create(scene, out, truth.capture_fps, studio.sound())?;
    let mut done = 0;
    studio.shoot(|stamp_s, samples| {
        output.push(stamp_s, samples)?;
        done += 1;
        if stopped(done, total) {
            return Err(RenderError::Stopped);
        }
        Ok(())
    })?;
    output.finish()?;
    truth.write(out)?;
    Ok(truth)
}

/// The truth of a scene's clip, without making the clip.
///
/// # Errors
/// Where the scene does not make sense.
pub fn foresee(scene: &Scene) -> Result<Truth, RenderError> {
    Ok(Course::new(scene)?.truth())
}

#[cfg(test)]
mod light_tests;
#[cfg(test)]
mod pixel_tests;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod upset_tests;
