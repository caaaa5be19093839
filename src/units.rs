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
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize)]
#[serde(transparent)]
pub struct StoredTime(pub f64);

/// Seconds as shot (the world's time), from the first shown frame.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ShotTime(pub f64);

/// Rates that a film may have been shot at, frames per second: from time lapse
/// to what the fastest cameras reach at a picture's size (common practice, no
/// source). What a file states beyond is no rate of its.
pub const CAPTURE_FPS: std::ops::RangeInclusive<f64> = 0.01..=50_000.0;

/// True rate of the filming camera, frames per second of the world, within
/// [`CAPTURE_FPS`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
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
    /// A rate in frames per second; `None` unless it lies within
    /// [`CAPTURE_FPS`].
    pub fn new(fps: f64) -> Option<Self> {
        CAPTURE_FPS.contains(&fps).then_some(Self(fps))
    }

    /// Frames per second.
    pub fn fps(self) -> f64 {
        self.0
    }

    /// Seconds between two frames.
    pub fn period_s(self) -> f64 {
        1.0 / self.0
    }
}

impl Hertz {
    /// Length of one cycle in seconds.
    pub fn period_s(self) -> f64 {
        1.0 / self.0
    }
}

impl Millis {
    /// The same span in seconds.
    pub fn seconds(self) -> f64 {
        self.0 / 1000.0
    }
}

/// Turns stored time into time as shot.
///
/// Within 2 % of the stated rate the stamps stand as they are; else time is
/// scaled by stored rate ÷ true rate. A clip that is slowed down in parts has
/// one such factor per part.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeScale {
    parts: Vec<Part>,
    rate: CaptureRate,
}

/// A part of a clip with one factor.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Part {
    /// Where it starts, stored and as shot, seconds.
    from: f64,
    shot: f64,
    /// World seconds per stored second.
    factor: f64,
    rate: CaptureRate,
}

/// The factor of stamps that run at `stored_fps` of a film shot at `rate`.
fn factor(stored_fps: f64, rate: CaptureRate) -> f64 {
    let ratio = stored_fps / rate.fps();
    if (ratio - 1.0).abs() <= 0.02 {
        1.0
    } else {
        ratio
    }
}

impl TimeScale {
    /// The scale for a clip whose stamps run at `stored_fps` (median) and that
    /// was shot at `true_rate`.
    pub fn new(stored_fps: f64, true_rate: CaptureRate) -> Self {
        Self::of_parts(true_rate, (stored_fps, true_rate), &[])
    }

    /// The scale of a clip in parts: stored rate and true rate of the first,
    /// then start, stored rate and true rate of those that follow, starts
    /// ascending. `main` is the rate to name where one has to stand for all.
    pub fn of_parts(
        main: CaptureRate,
        first: (f64, CaptureRate),
        more: &[(StoredTime, f64, CaptureRate)],
    ) -> Self {
        let mut parts = vec![Part {
            from: 0.0,
            shot: 0.0,
            factor: factor(first.0, first.1),
            rate: first.1,
        }];
        for (from, stored_fps, rate) in more {
            let before = parts[parts.len() - 1];
            parts.push(Part {
                from: from.0,
                shot: before.shot + (from.0 - before.from) * before.factor,
                factor: factor(*stored_fps, *rate),
                rate: *rate,
            });
        }
        Self { parts, rate: main }
    }

    /// World seconds per stored second; `None` where parts differ.
    pub fn factor(&self) -> Option<f64> {
        let one = self.parts[0].factor;
        let same = self.parts.iter().all(|p| p.factor == one);
        same.then_some(one)
    }

    /// The true rate this scale was made for; of a clip in parts, that of its
    /// main part.
    pub fn rate(&self) -> CaptureRate {
        self.rate
    }

    /// The true rate at an instant.
    pub fn rate_at(&self, shot: ShotTime) -> CaptureRate {
        let after = self.parts.partition_point(|p| p.shot <= shot.0);
        self.parts[after.saturating_sub(1)].rate
    }

    /// The instant as shot.
    pub fn shot(&self, stored: StoredTime) -> ShotTime {
        let after = self.parts.partition_point(|p| p.from <= stored.0);
        let part = self.parts[after.saturating_sub(1)];
        ShotTime(part.shot + (stored.0 - part.from) * part.factor)
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

    /// One second in real time, eight slowed down eightfold, then real time.
    #[test]
    fn parts_follow_each_other_without_a_jump() {
        let rate = CaptureRate::new(240.0).unwrap();
        let parts = [
            (StoredTime(1.0), 30.0, rate),
            (StoredTime(9.0), 240.0, rate),
        ];
        let scale = TimeScale::of_parts(rate, (240.0, rate), &parts);
        for (stored, shot) in [(0.0, 0.0), (1.0, 1.0), (5.0, 1.5), (9.0, 2.0), (10.0, 3.0)] {
            assert!((scale.shot(StoredTime(stored)).0 - shot).abs() < 1e-12);
        }
        assert_eq!(scale.factor(), None);
        assert_eq!(TimeScale::new(30.0, rate).factor(), Some(0.125));
        let slow = CaptureRate::new(30.0).unwrap();
        let mixed = TimeScale::of_parts(rate, (30.0, slow), &[(StoredTime(2.0), 30.0, rate)]);
        assert_eq!(mixed.rate_at(ShotTime(1.9)), slow);
        assert_eq!(mixed.rate_at(ShotTime(2.1)), rate);
    }

    #[test]
    fn a_rate_must_be_positive_and_finite() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(CaptureRate::new(bad).is_none());
        }
    }
}
