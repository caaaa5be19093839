//! Scenes of ordinary and of odd trials, drawn by a seed.

use std::path::PathBuf;

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::bed::Bed;
use super::trouble::Trouble;
use crate::render::Scene;
use crate::render::scene::{Outcome, Stimulus, Texture, Trial};
use crate::rig::Rig;

/// What is in front of the camera.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// Textures drawn by the seed.
    Drawn,
    /// Photographs for card and background.
    Photographs(PathBuf, PathBuf),
}

impl Content {
    /// Its name in tables.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Drawn => "drawn",
            Self::Photographs(..) => "photographs",
        }
    }
}

/// A scene and the rig that fits it.
#[derive(Clone, Debug)]
pub struct Case {
    /// Unique within a run.
    pub name: String,
    /// What disturbs it.
    pub trouble: Trouble,
    /// The scene.
    pub scene: Scene,
    /// The rig.
    pub rig: Rig,
}

/// Which deck a kept film was drawn from: one more for every change of it.
const DECK: &str = "d2";

/// Draws a case of `trials` trials.
///
/// The first two are hits, one for each side: without a sharp trial a setup
/// has nothing to hold the others against. After a trial that is no hit comes
/// a plain one: void where the lens never moved (its subject was not
/// displaced), else judged from wherever the lens comes.
pub fn case(bed: &Bed, trouble: Trouble, content: &Content, seed: u64, trials: usize) -> Case {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut scene = base(content, &mut rng);
    bed.put(&mut scene);
    pace(&mut scene);
    scene.trials = deal(&scene, trials, &mut rng);
    trouble.put(&mut scene, &mut rng);
    Case {
        name: format!(
            "{}-{}-{:.0}-{:.0}-{seed}-{DECK}",
            trouble.name().replace(' ', "-"),
            content.name(),
            bed.fps(),
            bed.refresh_hz
        ),
        trouble,
        scene,
        rig: bed.rig.clone(),
    }
}

/// Textures, light and optics of a scene.
fn base(content: &Content, rng: &mut impl Rng) -> Scene {
    let mut s = Scene {
        seed: rng.random_range(1..1_000_000),
        ..Scene::default()
    };
    let textures = [Texture::Noise, Texture::Leaves, Texture::Strokes];
    s.near.texture = textures[rng.random_range(0..textures.len())];
    s.far.texture = textures[rng.random_range(0..textures.len())];
    if let Content::Photographs(near, far) = content {
        s.near.image = Some(near.to_string_lossy().into_owned());
        s.far.image = Some(far.to_string_lossy().into_owned());
    }
    s.near.scale = rng.random_range(0.8..1.4);
    s.far.scale = rng.random_range(0.8..1.4);
    s.near.contrast = rng.random_range(0.2..0.4);
    s.far.contrast = rng.random_range(0.2..0.4);
    s.near.mean = rng.random_range(0.25..0.5);
    s.far.mean = rng.random_range(0.2..0.45);
    s.motion.move_ms = rng.random_range(250.0..500.0);
    s.optics.near_permille = rng.random_range(20.0..45.0);
    s.optics.far_permille = rng.random_range(20.0..45.0);
    s.live_view.lag_ms = rng.random_range(35.0..95.0);
    s
}

/// Lengths of pauses and of the light: a whole window fits.
fn pace(s: &mut Scene) {
    let whole = s.window_ms + s.hold_ms + s.live_view.lag_ms;
    s.motion.pause_ms = whole + 220.0;
    s.motion.pause_jitter_ms = 60.0;
    s.light.on_ms = whole + 150.0;
}

/// Share of the trials that land slowly or untidily, of those that can: with it
/// two fifths of all are not brisk.
const UNHURRIED: f64 = 0.6;

fn deal(s: &Scene, count: usize, rng: &mut impl Rng) -> Vec<Trial> {
    let mut out: Vec<Trial> = Vec::with_capacity(count);
    for i in 0..count {
        let odd = out.last().is_some_and(|t| !hits(t.outcome));
        let mut trial = Trial {
            delay_ms: Some(rng.random_range(40.0..200.0)),
            drive_ms: Some(rng.random_range(90.0..450.0)),
            ..Trial::default()
        };
        if i >= 2 && !odd {
            colour(&mut trial, s, rng);
        }
        if lands(&trial) && rng.random::<f64>() < UNHURRIED {
            unhurried(&mut trial, rng);
        }
        out.push(trial);
    }
    out
}

fn hits(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Hit | Outcome::Relapse)
}

/// Stays that are left: longer than the three holds that make them one.
const STAY_HOLDS: f64 = 3.4;

/// Makes a trial one of the kinds there are.
fn colour(trial: &mut Trial, s: &Scene, rng: &mut impl Rng) {
    match rng.random_range(0..100) {
        0..27 => {}
        27..39 => trial.overshoot_permille = Some(rng.random_range(5.0..16.0)),
        39..50 => {
            trial.hunts = Some(rng.random_range(1..4));
            trial.hunt_permille = Some(rng.random_range(6.0..14.0));
            trial.swing_ms = Some(rng.random_range(90.0..170.0));
            trial.drive_ms = Some(rng.random_range(90.0..250.0));
        }
        50..56 => {
            // The lens follows while the target still moves.
            if s.stimulus == Stimulus::Swing {
                trial.delay_ms = Some(-0.7 * s.motion.move_ms);
                trial.drive_ms = Some(0.35 * s.motion.move_ms);
            }
        }
        56..66 => {
            trial.outcome = Outcome::Soft;
            trial.residual_permille = Some(rng.random_range(8.0..14.0));
        }
        66..76 => {
            trial.outcome = Outcome::RanThrough;
            trial.residual_permille = Some(rng.random_range(7.0..14.0));
        }
        76..85 => {
            trial.outcome = Outcome::HuntedOn;
            trial.hunt_permille = Some(rng.random_range(8.0..14.0));
            trial.swing_ms = Some(rng.random_range(110.0..180.0));
        }
        85..91 => trial.outcome = Outcome::NeverMoved,
        91..96 => {
            trial.outcome = Outcome::DidNotStay;
            trial.stay_ms = Some(STAY_HOLDS * s.hold_ms);
            trial.leave_permille = Some(rng.random_range(12.0..18.0));
        }
        _ => {
            trial.outcome = Outcome::Relapse;
            trial.stay_ms = Some(STAY_HOLDS * s.hold_ms);
        }
    }
}

/// Whether a trial's lens comes to rest in one go, so that it may as well do
/// so slowly.
fn lands(trial: &Trial) -> bool {
    let busy = trial.hunts.is_some() || trial.overshoot_permille.is_some();
    let early = trial.delay_ms.is_some_and(|d| d < 0.0);
    let ends = matches!(
        trial.outcome,
        Outcome::Hit | Outcome::Soft | Outcome::RanThrough
    );
    ends && !busy && !early
}

/// Makes the lens of a trial one that is not brisk: most are not.
pub(super) fn unhurried(trial: &mut Trial, rng: &mut impl Rng) {
    match rng.random_range(0..10) {
        // A motor that creeps up on the plane.
        0..5 => trial.landing_ms = Some(rng.random_range(60.0..180.0)),
        // A little past the plane and back.
        5..7 => {
            trial.overshoot_permille = Some(rng.random_range(2.0..8.0));
            trial.swing_ms = Some(rng.random_range(70.0..160.0));
        }
        // A rest before the last step.
        7..9 => {
            trial.halt_permille = Some(rng.random_range(4.0..12.0));
            trial.halt_ms = Some(rng.random_range(60.0..200.0));
        }
        // A small search about the plane.
        _ => {
            trial.hunts = Some(rng.random_range(1..5));
            trial.hunt_permille = Some(rng.random_range(2.0..8.0));
            trial.swing_ms = Some(rng.random_range(70.0..130.0));
        }
    }
}
