//! Light that is not steady: lamps on the mains, screens that flicker.

use serde::Deserialize;

use super::checks;

/// The light of a lamp, or of a screen, that follows the mains: a sinusoid
/// about its mean.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Flicker {
    /// Frequency of the light, Hz: twice that of the mains.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// (Most − least) ÷ (most + least) of the light, 0..=1; 0 is off.
    #[serde(deserialize_with = "checks::share")]
    pub depth: f64,
}

impl Default for Flicker {
    fn default() -> Self {
        Self {
            hz: 100.0,
            depth: 0.0,
        }
    }
}

/// A backlight dimmed by switching it on and off.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Pwm {
    /// How often it goes on, Hz.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// Share of the time it is on, 0..=1; 1 is off (never switched).
    #[serde(deserialize_with = "checks::share")]
    pub duty: f64,
    /// What is lost while it is off, 0..=1: 1 goes black.
    #[serde(deserialize_with = "checks::share")]
    pub depth: f64,
}

impl Default for Pwm {
    fn default() -> Self {
        Self {
            hz: 240.0,
            duty: 1.0,
            depth: 1.0,
        }
    }
}
