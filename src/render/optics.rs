//! Thin-lens defocus.
//!
//! A lens of focal length f and relative aperture N focused at distance s has
//! its picture at v = f·s/(s − f). A point at s₂ then draws a disc of diameter
//! b = (f/N)·|v − v₂|/v₂ (photographic optics handbooks, e.g. Ray, *Applied
//! Photographic Optics*). b is linear in v, so the lens position is kept as
//! φ = (v − v_far)/(v_near − v_far): 0 focuses the background, 1 the card.

use super::scene::{Optics, Side, ThinLens};

/// Image distance for an object at `s`, all mm.
pub(crate) fn image_distance(f: f64, s: f64) -> f64 {
    f * s / (s - f)
}

/// Blur-disc diameter on the sensor, mm: focused at `s`, object at `s2`.
pub(crate) fn blur_mm(f: f64, n: f64, s: f64, s2: f64) -> f64 {
    let (v, v2) = (image_distance(f, s), image_distance(f, s2));
    f / n * (v - v2).abs() / v2
}

/// Blur of both layers per unit of lens position, ‰ of the screen's height.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Blur {
    near: f64,
    far: f64,
}

impl Blur {
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
