//! Units as types: a container's time and the world's time never mix without
//! a [`CaptureRate`].
//!
//! | type | unit | meaning |
//! | --- | --- | --- |
//! | [`StoredTime`] | s | what the file's stamps say, counted from the first shown frame |
//! | [`ShotTime`] | s | as shot: the world's time, counted from the first shown frame |
//! | [`CaptureRate`] | 1/s | true rate of the filming camera |
//! | [`Millis`] | ms | a latency or a period |
//! | [`Hertz`] | 1/s | a refresh rate |

use serde::{Deserialize, Serialize};

/// Seconds on the container's own time line, from the first shown frame.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
pub struct StoredTime(pub f64);

/// Seconds as shot (the world's time), from the first shown frame.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ShotTime(pub f64);

/// True rate of the filming camera, frames per second of the world, > 0.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct CaptureRate(f64);

/// Milliseconds of the world.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millis(pub f64);

/// Cycles per second of the world.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hertz(pub f64);

impl CaptureRate {
    /// A rate in frames per second; `None` unless it is finite and above 0.
    #[must_use]
    pub fn new(fps: f64) -> Option<Self> {
        (fps.is_finite() && fps > 0.0).then_some(Self(fps))
    }

    /// Frames per second.
    #[must_use]
    pub fn fps(self) -> f64 {
        self.0
    }

    /// Seconds between two frames.
    #[must_use]
    pub fn period_s(self) -> f64 {
        1.0 / self.0
    }
}

impl Hertz {
    /// Length of one cycle in seconds.
    #[must_use]
    pub fn period_s(self) -> f64 {
        1.0 / self.0
    }
}

impl Millis {
    /// The same span in seconds.
    #[must_use]
    pub fn seconds(self) -> f64 {
        self.0 / 1000.0
    }

    /// A span of seconds in milliseconds.
    #[must_use]
    pub fn from_seconds(s: f64) -> Self {
        Self(s * 1000.0)
    }
}

impl ShotTime {
    /// Span from `earlier` to `self`.
    #[must_use]
    pub fn since(self, earlier: Self) -> Millis {
        Millis::from_seconds(self.0 - earlier.0)
    }
}

/// Turns stored time into time as shot.
///
/// Within 2 % of the stated rate the stamps stand as they are; else time is
/// scaled by stored rate ÷ true rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeScale {
    factor: f64,
    rate: CaptureRate,
}

impl TimeScale {
    /// The scale for a clip whose stamps run at `stored_fps` (median) and that
    /// was shot at `true_rate`.
    #[must_use]
    pub fn new(stored_fps: f64, true_rate: CaptureRate) -> Self {
        let ratio = stored_fps / true_rate.fps();
        let factor = if (ratio - 1.0).abs() <= 0.02 {
            1.0
        } else {
            ratio
        };
        Self {
            factor,
            rate: true_rate,
        }
    }

    /// World seconds per stored second.
    #[must_use]
    pub fn factor(self) -> f64 {
        self.factor
    }

    /// The true rate this scale was made for.
    #[must_use]
    pub fn rate(self) -> CaptureRate {
        self.rate
    }

    /// The instant as shot.
    #[must_use]
    pub fn shot(self, stored: StoredTime) -> ShotTime {
        ShotTime(stored.0 * self.factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conformed_slow_motion_is_scaled_and_true_rate_is_not() {
        let rate = CaptureRate::new(240.0).unwrap();
        let conformed = TimeScale::new(30.0, rate);
        assert!((conformed.shot(StoredTime(8.0)).0 - 1.0).abs() < 1e-12);
        let plain = TimeScale::new(239.76, rate);
        assert!((plain.shot(StoredTime(8.0)).0 - 8.0).abs() < 1e-12);
    }

    #[test]
    fn a_rate_must_be_positive_and_finite() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(CaptureRate::new(bad).is_none());
        }
    }
}
