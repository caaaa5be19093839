//! Ranges of numbers, continued: what disturbs.

use serde::de::{Deserialize, Deserializer, Error};

use super::checks::number;

/// Display values of red, green and blue.
pub(super) fn color<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 3], D::Error> {
    let c = <[f64; 3]>::deserialize(d)?;
    if c.iter().all(|v| (0.0..=1.0).contains(v)) {
        Ok(c)
    } else {
        Err(D::Error::custom("red, green and blue must be within 0..=1"))
    }
}

pub(super) fn maybe_color<'de, D: Deserializer<'de>>(d: D) -> Result<Option<[f64; 3]>, D::Error> {
    color(d).map(Some)
}

/// Seconds of something slow.
pub(super) fn period<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.1..=3600.0).contains(&v), "within 0.1..=3600")
}

/// Relative change of gain.
pub(super) fn step<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (-0.9..=4.0).contains(&v), "within -0.9..=4")
}

/// Film pixels of blur or of shaking (or milliradians of roll).
pub(super) fn film_px<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=100.0).contains(&v), "within 0..=100")
}

/// A turn of the filming camera, degrees.
pub(super) fn turn<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| v.abs() <= 20.0, "within -20..=20")
}

/// A zoom of the filming camera.
pub(super) fn zoom<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.5..=2.0).contains(&v), "within 0.5..=2")
}

/// Largest change of magnification.
pub(super) fn breathing<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=0.2).contains(&v), "within 0..=0.2")
}

/// Thousands of bits per second.
pub(super) fn maybe_bit_rate<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    number(d, |v| (10.0..=1e6).contains(&v), "within 10..=1000000").map(Some)
}

/// A shift in film pixels.
pub(super) fn shift<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    let s = <[f64; 2]>::deserialize(d)?;
    if s.iter().all(|v| v.abs() <= 2000.0) {
        Ok(s)
    } else {
        Err(D::Error::custom("x and y must be within -2000..=2000"))
    }
}

/// Columns and rows of a screen; none at all is no grid.
pub(super) fn grid<'de, D: Deserializer<'de>>(d: D) -> Result<[usize; 2], D::Error> {
    let n = <[usize; 2]>::deserialize(d)?;
    if n == [0, 0] || n.iter().all(|n| (16..=20_000).contains(n)) {
        Ok(n)
    } else {
        Err(D::Error::custom(
            "columns and rows must be within 16..=20000, or both 0",
        ))
    }
}

/// Position of a lens, in units of its own.
pub(super) fn position<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| v.abs() <= 1e6, "within -1000000..=1000000")
}
