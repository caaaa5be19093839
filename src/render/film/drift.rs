//! Exposure that is not held.

use rand::RngExt;

use super::waves::Sine;
use crate::render::plan::Plan;
use crate::render::rng::{self, Use};
use crate::render::scene::{Drift, Scene};

/// A camera's gain over time.
#[derive(Clone, Debug)]
pub(super) struct Gain {
    drift: Drift,
    phase: f64,
    /// Onsets; at every other one the step is taken back.
    onsets: Vec<f64>,
}

impl Gain {
    /// `who` keeps the two cameras apart.
    pub(super) fn new(drift: &Drift, scene: &Scene, plan: &Plan, who: u64) -> Self {
        let turn: f64 = rng::stream(scene.seed ^ who, Use::Drift).random();
        Self {
            drift: drift.clone(),
            phase: std::f64::consts::TAU * turn,
            onsets: plan.events.iter().map(|e| e.onset_s).collect(),
        }
    }

    pub(super) fn varies(&self) -> bool {
        self.drift.depth > 0.0 || self.drift.step != 0.0
    }

    /// Factor on the exposure at `t`.
    pub(super) fn at(&self, t: f64) -> f64 {
        if !self.varies() {
            return 1.0;
        }
        let angle = std::f64::consts::TAU * t / self.drift.period_s + self.phase;
        (1.0 + self.drift.depth * angle.sin()) * (1.0 + self.drift.step * self.taken(t))
    }

    /// How much of the step has been taken, 0..=1.
    fn taken(&self, t: f64) -> f64 {
        let slow = self.drift.step_ms / 1000.0;
        let (mut level, mut goal, mut since) = (0.0, 0.0, f64::MIN);
        for onset in self.onsets.iter().filter(|o| **o <= t) {
            level = goal + (level - goal) * (-(onset - since) / slow).exp();
            goal = 1.0 - goal;
            since = *onset;
        }
        goal + (level - goal) * (-(t - since) / slow).exp()
    }
}

/// Gain of live-view pictures: the lamp's light while one was exposed, and
/// the camera's own exposure.
pub(crate) struct LiveGain {
    lamp: Sine,
    gain: Gain,
    half_s: f64,
}

impl LiveGain {
    pub(crate) fn new(scene: &Scene, plan: &Plan) -> Self {
        Self {
            lamp: Sine::lamp(scene),
            gain: Gain::new(&scene.live_view.drift, scene, plan, 1),
            half_s: scene.live_view.exposure_ms / 2000.0,
        }
    }

    /// Of a picture taken at `t`.
    pub(crate) fn at(&self, t: f64) -> f32 {
        (self.lamp.mean((t - self.half_s, t + self.half_s)) * self.gain.at(t)) as f32
    }
}
