//! What was found in a clip that is not focus, and what was done about it.

use serde::{Deserialize, Serialize};

/// Everything found in one clip; what was not found is missing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Hygiene {
    /// Light that comes and goes many times a second; taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flicker: Option<Flicker>,
}

/// Mains flicker, screen dimming by pulses, beats.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flicker {
    /// As the film shows it, per second as shot; null without a clear line.
    pub seen_hz: Option<f64>,
    /// Standard deviation of the area's brightness ÷ mean.
    pub depth: f64,
    /// Standard deviation of the rows' brightness against the area's.
    pub bands: f64,
    /// Share of rows and frames that go black.
    pub black: f64,
    /// The sharpness grows with the light to this power.
    pub power: f64,
    /// The lamp it fits at the claimed capture rate, or at others.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lamp_hz: Option<f64>,
    /// Whether that confirms the claimed capture rate; null where it tells
    /// nothing.
    pub confirms_capture_fps: Option<bool>,
    /// Rates at which a lamp would be seen so, where the claimed one is not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub would_fit_fps: Vec<f64>,
}
