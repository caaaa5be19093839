//! Thin-lens defocus.
//!
//! A lens of focal length f and relative aperture N focused at distance s has
//! its picture at v = f·s/(s − f). A point at s₂ then draws a disc of diameter
//! b = (f/N)·|v − v₂|/v₂ (photographic optics handbooks, e.g. Ray, *Applied
//! Photographic Optics*). b is linear in v, so the lens position is kept as
//! φ = (v − v_far)/(v_near − v_far): 0 focuses the background, 1 the card.

use super::plan::Plan;
use super::scene::{Optics, Scene, Side, Stack, ThinLens};

/// Image distance for an object at `s`, all mm.
pub(crate) fn image_distance(f: f64, s: f64) -> f64 {
    f * s / (s - f)
}

/// Blur-disc diameter on the sensor, mm: focused at `s`, object at `s2`.
pub(crate) fn blur_mm(f: f64, n: f64, s: f64, s2: f64) -> f64 {
    let (v, v2) = (image_distance(f, s), image_distance(f, s2));
    f / n * (v - v2).abs() / v2
}

/// Blur of both layers per unit of lens position, ‰ of the screen's height;
/// of a focal stack, units of its own positions.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Blur {
    near: f64,
    far: f64,
}

impl Blur {
    /// Of a scene's lens, or of its stack.
    pub(crate) fn of(scene: &Scene) -> Self {
        if !scene.stack.on() {
            return Self::new(&scene.optics);
        }
        let way = (scene.stack.focus - scene.stack.start).abs();
        Self {
            near: way,
            far: way,
        }
    }

    pub(crate) fn new(optics: &Optics) -> Self {
        match &optics.lens {
            None => Self {
                near: optics.near_permille,
                far: optics.far_permille,
            },
            Some(lens) => Self::thin(lens),
        }
    }

    fn thin(l: &ThinLens) -> Self {
        let permille = |s, s2| 1000.0 * blur_mm(l.focal_mm, l.f_number, s, s2) / l.sensor_mm;
        Self {
            near: permille(l.far_mm, l.near_mm),
            far: permille(l.near_mm, l.far_mm),
        }
    }

    /// Lens position that focuses a side.
    pub(crate) fn plane(side: Side) -> f64 {
        match side {
            Side::Near => 1.0,
            Side::Far => 0.0,
        }
    }

    /// ‰ of blur per unit of lens position.
    pub(crate) fn per_unit(self, side: Side) -> f64 {
        match side {
            Side::Near => self.near,
            Side::Far => self.far,
        }
    }

    /// Disc diameter of a side, ‰ of the screen's height.
    pub(crate) fn permille(self, side: Side, phi: f64) -> f64 {
        self.per_unit(side) * (phi - Self::plane(side)).abs()
    }
}

/// Breathing: the magnification grows evenly with the lens position.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Breath {
    share: f64,
    /// Lens position at which the picture is smallest: nothing is ever missing
    /// at its sides.
    smallest: f64,
}

impl Breath {
    pub(crate) fn new(scene: &Scene, plan: &Plan) -> Self {
        Self {
            share: scene.optics.breathing,
            smallest: plan.lens.turns().fold(f64::MAX, f64::min),
        }
    }

    /// How much larger than at its smallest the picture is at `t`.
    pub(crate) fn at(self, plan: &Plan, t: f64) -> f32 {
        (self.share * (plan.lens.at(t) - self.smallest)).max(0.0) as f32
    }
}

/// A stack's position at a lens position φ: 1 is its focus, 0 its start.
pub(crate) fn stack_position(stack: &Stack, phi: f64) -> f64 {
    stack.focus + (phi - 1.0) * (stack.focus - stack.start)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked values of the handbook formula (Ray, *Applied Photographic
    /// Optics*; from memory, near and far limits confirmed by inserting them).
    #[test]
    fn blur_agrees_with_worked_values() {
        for (f, n, s, s2, want) in [
            (50.0, 2.8, 2000.0, 2200.0, 0.041_625_041_6),
            (50.0, 2.8, 2000.0, 1800.0, 0.050_875_050_9),
            (85.0, 1.8, 2000.0, 2050.0, 0.051_122_573_9),
            (50.0, 1.4, 1000.0, 1100.0, 0.170_881_749_8),
            (35.0, 4.0, 1000.0, 1200.0, 0.052_892_918_8),
        ] {
            assert!((blur_mm(f, n, s, s2) - want).abs() < 1e-9);
        }
        assert!((image_distance(85.0, 2000.0) - 85.0 - 3.772_845_95).abs() < 1e-8);
    }

    #[test]
    fn a_thin_lens_gives_both_blurs() {
        let lens = ThinLens {
            focal_mm: 50.0,
            f_number: 2.8,
            near_mm: 2000.0,
            far_mm: 2200.0,
            sensor_mm: 24.0,
        };
        let blur = Blur::new(&Optics {
            lens: Some(lens),
            ..Optics::default()
        });
        // Focused on the card the background is blurred, and halfway both are.
        let far = 1000.0 * 0.041_625_041_6 / 24.0;
        assert!((blur.permille(Side::Far, 1.0) - far).abs() < 1e-7);
        assert!((blur.permille(Side::Far, 0.5) - far / 2.0).abs() < 1e-7);
        assert!(blur.permille(Side::Far, 0.0).abs() < 1e-12);
        assert!(blur.permille(Side::Near, 1.0).abs() < 1e-12);
        // Past the card the card is blurred on the other side of focus.
        assert!(blur.permille(Side::Near, 1.25) > 0.0);
    }
}
