//! Ranges of a scene's numbers.

use std::ops::RangeInclusive;

use serde::de::{Deserialize, Deserializer};

pub(super) use crate::written::values::{area, not_negative, positive};
use crate::written::values::{refused, whole, within};

within! {
    share: 0.0..=1.0;
    window: 100.0..=60_000.0;
    rate: 1.0..=2000.0;
    /// Frequency of a light, Hz.
    light_rate: 1.0..=20_000.0;
    bounce: 0.0..=0.8;
    /// Milliseconds of a step of the scene: up to ten minutes.
    span: 0.0..=600_000.0;
    /// A span that cannot be nothing.
    real_span: 1.0..=600_000.0;
    /// Milliseconds before or after something.
    offset: -60_000.0..=60_000.0;
    /// ‰ of the screen's height.
    permille: 0.0..=300.0;
    /// ‰ of the screen's height, of something that is there.
    real_permille: 0.1..=300.0;
    /// δ and the hit limit, ‰ of the screen's height.
    limit_permille: 0.5..=50.0;
    /// A factor on a size.
    scale: 0.1..=10.0;
    quality: 0.0..=51.0;
    /// Seconds of something slow.
    period: 0.1..=3600.0;
    /// Relative change of gain.
    step: -0.9..=4.0;
    /// Film pixels of blur or of shaking (or milliradians of roll).
    film_px: 0.0..=100.0;
    /// A turn of the filming camera, degrees.
    turn: -20.0..=20.0;
    /// A zoom of the filming camera.
    zoom: 0.5..=2.0;
    /// Largest change of magnification.
    breathing: 0.0..=0.2;
    /// Thousands of bits per second.
    bit_rate: 10.0..=1e6;
    /// Position of a lens, in units of its own.
    position: -1e6..=1e6;
}

/// Numbers that all lie within a range; `names` says which they are.
fn all<'de, D: Deserializer<'de>, const N: usize, T: From<[f64; N]>>(
    d: D,
    names: &str,
    range: RangeInclusive<f64>,
) -> Result<T, D::Error>
where
    [f64; N]: Deserialize<'de>,
{
    let list = <[f64; N]>::deserialize(d)?;
    if list.iter().all(|v| range.contains(v)) {
        return Ok(list.into());
    }
    let (lo, hi) = (range.start(), range.end());
    refused(format!("is out of range; give {names} from {lo} to {hi}"))
}

/// Width and height as fractions of the screen's.
pub(super) fn card<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    all(d, "[width, height]", 0.05..=3.0)
}

/// A place in fractions of the screen, on it or not far off.
pub(super) fn place<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    all(d, "[x, y]", -5.0..=5.0)
}

/// A shift in film pixels.
pub(super) fn shift<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 2], D::Error> {
    all(d, "[x, y]", -2000.0..=2000.0)
}

/// Display values of red, green and blue.
pub(super) fn color<'de, D: Deserializer<'de>, T: From<[f64; 3]>>(d: D) -> Result<T, D::Error> {
    all(d, "[red, green, blue]", 0.0..=1.0)
}

/// Turns of the lens.
pub(super) fn turns<'de, D: Deserializer<'de>, T: From<u32>>(d: D) -> Result<T, D::Error> {
    whole::<D, u32>(d, 0..=100).map(T::from)
}

pub(super) fn b_frames<'de, D: Deserializer<'de>>(d: D) -> Result<usize, D::Error> {
    whole(d, 0..=16)
}

/// Two whole numbers; `why` says what they must be.
fn pair<'de, D: Deserializer<'de>, T: From<[usize; 2]>>(
    d: D,
    fits: impl Fn([usize; 2]) -> bool,
    why: &str,
) -> Result<T, D::Error> {
    let pair = <[usize; 2]>::deserialize(d)?;
    if !fits(pair) {
        return refused(why);
    }
    Ok(pair.into())
}

/// Width and height of the frame in pixels, even.
pub(super) fn frame_size<'de, D: Deserializer<'de>>(d: D) -> Result<[usize; 2], D::Error> {
    let fits = |s: [usize; 2]| s.iter().all(|n| n % 2 == 0 && (64..=8192).contains(n));
    let why = "is no size; give [width, height], even numbers of pixels from 64 to 8192";
    pair(d, fits, why)
}

/// Width and height of a live-view picture in pixels.
pub(super) fn picture_size<'de, D: Deserializer<'de>, T: From<[usize; 2]>>(
    d: D,
) -> Result<T, D::Error> {
    let fits = |s: [usize; 2]| s.iter().all(|n| (32..=4096).contains(n));
    let why = "is no size; give [width, height] from 32 to 4096 pixels";
    pair(d, fits, why)
}

/// Columns and rows of a screen; none at all is no grid.
pub(super) fn grid<'de, D: Deserializer<'de>>(d: D) -> Result<[usize; 2], D::Error> {
    let fits = |s: [usize; 2]| s == [0, 0] || s.iter().all(|n| (16..=20_000).contains(n));
    let why = "is no grid; give [columns, rows] from 16 to 20000, or both 0";
    pair(d, fits, why)
}

/// Quarter turns given in degrees.
pub(super) fn quarter<'de, D: Deserializer<'de>>(d: D) -> Result<u32, D::Error> {
    match u32::deserialize(d)? {
        degrees @ (0 | 90 | 180 | 270) => Ok(degrees),
        other => refused(format!("is {other}; give 0, 90, 180 or 270")),
    }
}

pub(super) fn depth<'de, D: Deserializer<'de>>(d: D) -> Result<u8, D::Error> {
    match u8::deserialize(d)? {
        bits @ (8 | 10) => Ok(bits),
        other => refused(format!("is {other}; give 8 or 10")),
    }
}
