//! Ranges of numbers, checked where they are read so that the message carries
//! line and key.

use serde::de::{Deserialize, Deserializer, Error};

pub(super) use super::checks_more::*;

pub(super) fn number<'de, D: Deserializer<'de>>(
    d: D,
    ok: impl Fn(f64) -> bool,
    want: &str,
) -> Result<f64, D::Error> {
    let value = f64::deserialize(d)?;
    if value.is_finite() && ok(value) {
        Ok(value)
    } else {
        Err(D::Error::custom(format!("{value} is not {want}")))
    }
}

pub(super) fn positive<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| v > 0.0, "above 0")
}

pub(super) fn not_negative<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| v >= 0.0, "0 or more")
}

pub(super) fn share<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=1.0).contains(&v), "within 0..=1")
}

pub(super) fn window<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (100.0..=60_000.0).contains(&v), "within 100..=60000")
}

pub(super) fn rate<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (1.0..=2000.0).contains(&v), "a rate within 1..=2000")
}

/// Frequency of a light, Hz.
pub(super) fn light_rate<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (1.0..=20_000.0).contains(&v), "within 1..=20000")
}

pub(super) fn bounce<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=0.8).contains(&v), "within 0..=0.8")
}

/// Milliseconds of a step of the scene: up to ten minutes.
pub(super) fn span<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=600_000.0).contains(&v), "within 0..=600000")
}

/// A span that cannot be nothing.
pub(super) fn real_span<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (1.0..=600_000.0).contains(&v), "within 1..=600000")
}

/// Milliseconds before or after something.
pub(super) fn offset<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| v.abs() <= 60_000.0, "within -60000..=60000")
}

/// ‰ of the screen's height.
pub(super) fn permille<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=300.0).contains(&v), "within 0..=300")
}

/// ‰ of the screen's height, of something that is there.
pub(super) fn real_permille<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.1..=300.0).contains(&v), "within 0.1..=300")
}

/// δ and the hit limit, ‰ of the screen's height.
pub(super) fn limit_permille<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.5..=50.0).contains(&v), "within 0.5..=50")
}

/// A factor on a size.
pub(super) fn scale<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.1..=10.0).contains(&v), "within 0.1..=10")
}

/// Turns of the lens.
pub(super) fn turns<'de, D: Deserializer<'de>>(d: D) -> Result<u32, D::Error> {
    let n = u32::deserialize(d)?;
    if n <= 100 {
        Ok(n)
    } else {
        Err(D::Error::custom("must be within 0..=100"))
    }
}

/// Turns that may be left out.
pub(super) fn maybe_turns<'de, D: Deserializer<'de>>(d: D) -> Result<Option<u32>, D::Error> {
    turns(d).map(Some)
}

/// Width and height as fractions of the screen's.
pub(super) fn card<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    let size = <[f64; 2]>::deserialize(d)?;
    if size.iter().all(|v| (0.05..=3.0).contains(v)) {
        Ok(size)
    } else {
        Err(D::Error::custom("width and height must be within 0.05..=3"))
    }
}

/// A place in fractions of the screen, on it or not far off.
pub(super) fn place<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    let place = <[f64; 2]>::deserialize(d)?;
    if place.iter().all(|v| (-5.0..=5.0).contains(v)) {
        Ok(place)
    } else {
        Err(D::Error::custom("x and y must be within -5..=5"))
    }
}

pub(super) fn quality<'de, D: Deserializer<'de>>(d: D) -> Result<f64, D::Error> {
    number(d, |v| (0.0..=51.0).contains(&v), "within 0..=51")
}

/// A span that may be left out.
pub(super) fn maybe_span<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    span(d).map(Some)
}

pub(super) fn maybe_real_span<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    real_span(d).map(Some)
}

pub(super) fn maybe_offset<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    offset(d).map(Some)
}

pub(super) fn maybe_permille<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    permille(d).map(Some)
}

pub(super) fn maybe_rate<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
    rate(d).map(Some)
}

/// Width and height in pixels, even.
pub(super) fn frame_size<'de, D: Deserializer<'de>>(d: D) -> Result<[usize; 2], D::Error> {
    let size = <[usize; 2]>::deserialize(d)?;
    if size.iter().all(|n| n % 2 == 0 && (64..=8192).contains(n)) {
        Ok(size)
    } else {
        Err(D::Error::custom(
            "width and height must be even numbers of pixels within 64..=8192",
        ))
    }
}

/// Left, top, right, bottom with left < right and top < bottom, within 0..=1.
pub(super) fn area<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 4], D::Error> {
    let [l, t, r, b] = <[f64; 4]>::deserialize(d)?;
    if 0.0 <= l && l < r && r <= 1.0 && 0.0 <= t && t < b && b <= 1.0 {
        Ok([l, t, r, b])
    } else {
        Err(D::Error::custom(
            "needs left < right and top < bottom, all within 0..=1",
        ))
    }
}

/// Quarter turns given in degrees.
pub(super) fn quarter<'de, D: Deserializer<'de>>(d: D) -> Result<u32, D::Error> {
    let degrees = u32::deserialize(d)?;
    if matches!(degrees, 0 | 90 | 180 | 270) {
        Ok(degrees)
    } else {
        Err(D::Error::custom("must be 0, 90, 180 or 270"))
    }
}

pub(super) fn depth<'de, D: Deserializer<'de>>(d: D) -> Result<u8, D::Error> {
    let bits = u8::deserialize(d)?;
    if matches!(bits, 8 | 10) {
        Ok(bits)
    } else {
        Err(D::Error::custom("must be 8 or 10"))
    }
}
