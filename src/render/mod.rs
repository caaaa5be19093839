//! Films whose truth is known: a scene becomes a clip and, beside it, what an
//! ideal observer of the screen must say of every trial.
//!
//! In: a [`Scene`] (TOML; every key has a default). Out: a clip (`.mp4`,
//! `.mov`, `.mkv`) and `CLIP.truth.json` ([`Truth`]). Fails where a scene does
//! not make sense, an image cannot be read or a file cannot be written.
//!
//! The way of the light: two textured layers, thin-lens defocus as a uniform
//! disc ([`layer`]), the live view's sampling, exposure and lag, the screen's
//! refresh ([`schedule`]), the filming camera's exposure, optics and noise
//! ([`film`]), a video file. The truth comes from the plan of the scene alone,
//! never from pixels. Nothing here is shared with the analysis but units,
//! geometry and the file writer in `clip`.
//!
//! World and film share one clock: 0 is the stamp of the first frame, and a
//! stamp is the middle of a frame's exposure, so that a change shown at t is in
//! more than half of a frame's exposure from the first stamp ≥ t on.

// Sizes, counts and samples are far below 2⁵²; pixels are cut on purpose.
#![allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap
)]

mod error;
mod film;
mod judge;
mod kit;
mod layer;
mod lens;
mod motion;
mod optics;
mod output;
mod pipeline;
mod plan;
mod rng;
pub mod scene;
mod schedule;
mod truth;

pub use error::RenderError;
pub use scene::Scene;
pub use truth::{
    BlurTruth, ScreenTruth, TrialTruth, Truth, Verdict, WorldTruth, WouldBe, truth_path,
};

use std::path::Path;

use film::{Clock, FrameMaker, Warp};
use layer::{Composer, Stage, State};
use plan::Plan;
use scene::{At, Side, Stimulus};
use schedule::Update;

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
    scene.check()?;
    let plan = Plan::new(scene);
    let clock = Clock::new(scene, plan.duration_s);
    let updates = schedule::updates(scene, plan.duration_s + 0.1);
    let quad = film::corners(scene);
    let truth = truth(scene, &plan, &updates, &clock);
    let states: Vec<State> = updates.iter().map(|u| state(scene, &plan, *u)).collect();
    let stage = stage(scene, &plan, &states);
    let composer = Composer::new(scene, scene_dir, &stage)?;
    let film_size = (scene.film.size[0], scene.film.size[1]);
    let warp = Warp::new(&quad, film_size, stage.size).ok_or_else(|| RenderError::Scene {
        file: scene.origin.file.clone(),
        line: None,
        what: "`screen.corners`: the screen lies outside the frame".into(),
    })?;
    let timing = (&updates[..], &clock, &warp);
    let maker = FrameMaker::new(scene, &plan, timing, &quad, &composer.card);
    let mut output = output::Output::create(scene, out, clock.fps)?;
    let reel = pipeline::Reel::new(states.into_iter());
    let total = clock.frames.len() as u64;
    let mut done = 0;
    pipeline::run(&reel, &composer, &warp, maker, &clock, |stamp, samples| {
        output.push(stamp.1, samples)?;
        done += 1;
        progress(done, total);
        Ok::<(), RenderError>(())
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
    scene.check()?;
    let plan = Plan::new(scene);
    let clock = Clock::new(scene, plan.duration_s);
    let updates = schedule::updates(scene, plan.duration_s + 0.1);
    Ok(truth(scene, &plan, &updates, &clock))
}

fn truth(scene: &Scene, plan: &Plan, updates: &[Update], clock: &Clock) -> Truth {
    let quad = film::corners(scene);
    let end_s = clock.frames.last().map_or(0.0, |f| f.1);
    let observer = judge::Observer {
        scene,
        plan,
        updates,
        px_per_permille: judge::px_per_permille(quad.height()),
        end_s,
    };
    let corners = quad.corners.map(|p| [p.x, p.y]);
    let seen = updates.iter().map(|u| u.shown_s);
    Truth {
        format: "focuslag-truth",
        version: 1,
        capture_fps: clock.fps,
        refresh_hz: scene.screen.refresh_hz,
        live_view_fps: schedule::live_fps(scene),
        live_view_lag_ms: scene.live_view.lag_ms,
        screen: ScreenTruth {
            corners: (!scene.film.feed).then_some(corners),
        },
        af_area: scene.screen.af_area,
        stimulus: match scene.stimulus {
            Stimulus::Swing => "swing",
            Stimulus::Light => "light",
        },
        at: match scene.at {
            At::Rest => "rest",
            At::Cover => "cover",
        },
        window_ms: scene.window_ms,
        hold_ms: scene.hold_ms,
        frames: clock.frames.len(),
        seed: scene.seed,
        updates_s: seen.filter(|t| (0.0..=end_s).contains(t)).collect(),
        trials: observer.judge(),
    }
}

/// What a live-view picture shows: the world in the middle of its exposure.
fn state(scene: &Scene, plan: &Plan, update: Update) -> State {
    let half = scene.live_view.exposure_ms / 2000.0;
    let t = update.taken_s;
    let (a, b) = (plan.place(t - half), plan.place(t + half));
    State {
        blur: [Side::Near, Side::Far].map(|side| plan.blur_at(side, t)),
        center: [0, 1].map(|i| f64::midpoint(a[i], b[i])),
        moved: [0, 1].map(|i| b[i] - a[i]),
    }
}

/// Size of the live view's pictures and the largest values they need.
fn stage(scene: &Scene, plan: &Plan, states: &[State]) -> Stage {
    let quad = film::corners(scene);
    let even = |v: f64| ((v / 2.0).round() as usize * 2).max(32);
    let size = match scene.live_view.size {
        Some([w, h]) => (w, h),
        None if scene.film.feed => (scene.film.size[0], scene.film.size[1]),
        None => (even(quad.width()), even(quad.height())),
    };
    let moved = states
        .iter()
        .map(|s| (s.moved[0] * size.0 as f64).hypot(s.moved[1] * size.1 as f64));
    Stage {
        size,
        blur: judge::widest(plan),
        moved: moved.fold(0.0, f64::max),
    }
}

#[cfg(test)]
mod tests;
