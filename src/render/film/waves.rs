//! Light over time: means over an exposure, in closed form.

use rand::RngExt;

use crate::render::rng::{self, Use};
use crate::render::scene::{Flicker, Pwm, Scene};

/// 1 + depth·cos(2π·hz·t + φ).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sine {
    omega: f64,
    depth: f64,
    phase: f64,
}

impl Sine {
    fn new(flicker: &Flicker, seed: u64, what: Use) -> Self {
        let turn: f64 = rng::stream(seed, what).random();
        Self {
            omega: std::f64::consts::TAU * flicker.hz,
            depth: flicker.depth,
            phase: std::f64::consts::TAU * turn,
        }
    }

    /// The lamp that lights the scene.
    pub(crate) fn lamp(scene: &Scene) -> Self {
        Self::new(&scene.lamp, scene.seed, Use::Lamp)
    }

    /// Mean from `a` to `b`, s; the value itself where both are the same.
    pub(crate) fn mean(&self, (a, b): (f64, f64)) -> f64 {
        if self.depth == 0.0 {
            return 1.0;
        }
        let (x, y) = (self.omega * a + self.phase, self.omega * b + self.phase);
        let mut mean = x.cos();
        if y - x > 1e-9 {
            mean = (y.sin() - x.sin()) / (y - x);
        }
        1.0 + self.depth * mean
    }
}

/// Light of the screen: mains and switching, each averaged by itself.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Backlight {
    flicker: Sine,
    hz: f64,
    duty: f64,
    off: f64,
    phase: f64,
}

impl Backlight {
    pub(crate) fn new(scene: &Scene) -> Self {
        let screen = &scene.screen;
        let Pwm { hz, duty, depth } = screen.pwm;
        let mut rng = rng::stream(scene.seed ^ 0x5bd1_e995, Use::Backlight);
        Self {
            flicker: Sine::new(&screen.flicker, scene.seed, Use::Backlight),
            hz,
            duty,
            off: 1.0 - depth,
            phase: rng.random(),
        }
    }

    /// Whether the light ever changes.
    pub(crate) fn varies(&self) -> bool {
        self.flicker.depth > 0.0 || self.switched()
    }

    fn switched(&self) -> bool {
        self.duty < 1.0 && self.off < 1.0
    }

    /// Mean from `a` to `b`, s.
    pub(crate) fn mean(&self, (a, b): (f64, f64)) -> f64 {
        self.flicker.mean((a, b)) * self.pwm((a, b))
    }

    fn pwm(&self, (a, b): (f64, f64)) -> f64 {
        if !self.switched() {
            return 1.0;
        }
        let (x, y) = (a * self.hz + self.phase, b * self.hz + self.phase);
        if y - x < 1e-9 {
            let on = x.rem_euclid(1.0) < self.duty;
            return if on { 1.0 } else { self.off };
        }
        (self.sum(y) - self.sum(x)) / (y - x)
    }

    /// Light given off from 0 to `x`, in periods.
    fn sum(&self, x: f64) -> f64 {
        let part = x - x.floor();
        let whole = self.duty + (1.0 - self.duty) * self.off;
        x.floor() * whole + part.min(self.duty) + (part - self.duty).max(0.0) * self.off
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn average(f: impl Fn(f64) -> f64, a: f64, b: f64) -> f64 {
        let places = (0..20_000).map(|k| a + (f64::from(k) + 0.5) / 20_000.0 * (b - a));
        places.map(f).sum::<f64>() / 20_000.0
    }

    #[test]
    fn means_are_those_of_the_light_itself() {
        let mut scene = Scene::default();
        scene.lamp.depth = 0.4;
        scene.screen.flicker.depth = 0.2;
        scene.screen.pwm = Pwm {
            hz: 317.0,
            duty: 0.3,
            depth: 0.9,
        };
        let lamp = Sine::lamp(&scene);
        let screen = Backlight::new(&scene);
        for (a, b) in [(0.0, 0.002), (0.013, 0.0217), (1.0, 1.1)] {
            let want = average(|t| lamp.mean((t, t)), a, b);
            assert!((lamp.mean((a, b)) - want).abs() < 1e-6);
            let want = average(|t| screen.pwm((t, t)), a, b);
            assert!((screen.pwm((a, b)) - want).abs() < 2e-3);
        }
    }
}
