//! What was found in a clip that is not focus, and what was done about it.

use serde::{Deserialize, Serialize};

/// Everything found in one clip; what was not found is missing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Hygiene {
    /// Light that comes and goes many times a second; taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flicker: Option<Flicker>,
    /// Graphics drawn over the focus area; their tiles are left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub overlay: Option<Overlay>,
    /// Brightness that changes within trials.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exposure: Option<Exposure>,
    /// Sharpness that jumps at the key frames of the compression.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_frames: Option<KeyFrames>,
    /// The screen's own pixels in the film, or their beats.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moire: Option<Moire>,
}

/// A lattice that shines through every picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Moire {
    /// Its largest share of a sharp picture's energy.
    pub share: f64,
    /// Waves of it that stand out.
    pub lines: u32,
    /// Whether its energy was taken off; not where one subject alone is seen.
    pub taken_off: bool,
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

/// Boxes, icons and digits over the focus area.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Overlay {
    /// Share of the focus area left out.
    pub left_out: f64,
    /// When something appeared, went or changed, seconds as shot.
    pub changes_s: Vec<f64>,
    /// Too much is drawn over to leave it out: nothing was.
    pub drawn_over: bool,
}

/// Brightness that changes while nothing moves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Exposure {
    /// Largest change of the area's brightness after an onset ÷ its level.
    pub largest: f64,
    /// Largest root mean square change of its parts.
    pub uneven: f64,
    /// The sharpness grows with the light to this power, as this clip shows;
    /// null where it could not be told and 2 was taken.
    pub power: Option<f64>,
    /// Trials in which it is large.
    pub trials: Vec<u32>,
}

/// Compression that pumps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KeyFrames {
    /// Largest step of the sharpness at a key frame while it rests ÷ level.
    pub largest_step: f64,
    /// Steps evened out.
    pub steps: u32,
    /// Trials that cannot be told: a key frame brought up much that was not
    /// shown before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub void_trials: Vec<u32>,
}
