//! What the filming camera hears.

use serde::Deserialize;

use super::checks;
use super::overlay::Since;

/// One kind of beep of the camera under test.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Beep {
    /// Name; the truth says when a named one sounds in every trial.
    pub name: Option<String>,
    /// What `at_ms` counts from.
    pub since: Since,
    /// When it starts, ms.
    #[serde(deserialize_with = "checks::offset")]
    pub at_ms: f64,
    /// How long it lasts, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub for_ms: f64,
    /// Its frequency, Hz.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// Amplitude, 1 = full scale.
    #[serde(deserialize_with = "checks::share")]
    pub level: f64,
    /// From nothing to full level, and back at its end, ms.
    #[serde(deserialize_with = "checks::not_negative")]
    pub attack_ms: f64,
    /// Trials it sounds in, counted from 0; none listed: in all.
    pub trials: Vec<usize>,
}

impl Default for Beep {
    fn default() -> Self {
        Self {
            name: None,
            since: Since::Settle,
            at_ms: 60.0,
            for_ms: 80.0,
            hz: 3000.0,
            level: 0.15,
            attack_ms: 1.0,
            trials: Vec::new(),
        }
    }
}

/// The sound track; there is one where anything sounds.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Sound {
    /// Whether there is a track though nothing sounds.
    pub track: bool,
    /// White noise, 1 = full scale: standard deviation.
    #[serde(deserialize_with = "checks::share")]
    pub noise: f64,
    /// How much later than the picture the track begins, ms of the file; what
    /// sounds before is lost.
    #[serde(deserialize_with = "checks::span")]
    pub begin_ms: f64,
    /// Frequency of the tone that starts trials (`stimulus = "tone"`), Hz.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// How long it lasts, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub for_ms: f64,
}

impl Default for Sound {
    fn default() -> Self {
        Self {
            track: false,
            noise: 0.004,
            begin_ms: 0.0,
            hz: 2400.0,
            for_ms: 120.0,
        }
    }
}
