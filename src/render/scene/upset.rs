//! What upsets filming and the camera under test: exposure that drifts,
//! glare, a filming camera that moves or refocuses, the screen's own pixels.

use serde::Deserialize;

use super::checks;

/// Exposure that is not held: slow drift, and steps that follow the trials.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Drift {
    /// Largest relative departure of a slow sinusoid; 0 is off.
    #[serde(deserialize_with = "checks::share")]
    pub depth: f64,
    /// Its period, s.
    #[serde(deserialize_with = "checks::period")]
    pub period_s: f64,
    /// Relative change of gain at the onset of every other trial (the card
    /// is in), taken back at the next; 0 is off.
    #[serde(deserialize_with = "checks::step")]
    pub step: f64,
    /// Time constant of that change, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub step_ms: f64,
}

impl Default for Drift {
    fn default() -> Self {
        Self {
            depth: 0.0,
            period_s: 5.0,
            step: 0.0,
            step_ms: 300.0,
        }
    }
}

/// A lamp mirrored in the screen's glass: light added to it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Glare {
    /// Luminance added, linear, 1 = white; 0 is off. It flickers with the lamp.
    #[serde(deserialize_with = "checks::share")]
    pub level: f64,
    /// Where: left top right bottom, fractions of the screen.
    #[serde(deserialize_with = "checks::area")]
    pub area: [f64; 4],
    /// Width of its soft edge, fraction of the screen.
    #[serde(deserialize_with = "checks::share")]
    pub soft: f64,
    /// Its level varies by ± this share of it.
    #[serde(deserialize_with = "checks::share")]
    pub drift: f64,
    /// It wanders to both sides by this fraction of the screen's width.
    #[serde(deserialize_with = "checks::share")]
    pub wander: f64,
    /// Period of both, s.
    #[serde(deserialize_with = "checks::period")]
    pub period_s: f64,
}

impl Default for Glare {
    fn default() -> Self {
        Self {
            level: 0.0,
            area: [0.0, 0.0, 1.0, 1.0],
            soft: 0.1,
            drift: 0.0,
            wander: 0.0,
            period_s: 4.0,
        }
    }
}

/// The filming camera loses its own focus for a while: everything in the
/// frame is blurred, bezel included.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Refocus {
    /// Disc diameter at its worst, film px; 0 is off.
    #[serde(deserialize_with = "checks::film_px")]
    pub blur_px: f64,
    /// When it begins, ms after each trial's onset.
    #[serde(deserialize_with = "checks::offset")]
    pub at_ms: f64,
    /// How long it lasts: a quarter out, half blurred, a quarter back, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub for_ms: f64,
    /// Trials it happens in, counted from 0; none listed: in all.
    pub trials: Vec<usize>,
}

impl Default for Refocus {
    fn default() -> Self {
        Self {
            blur_px: 0.0,
            at_ms: 300.0,
            for_ms: 400.0,
            trials: Vec::new(),
        }
    }
}

/// A hand that holds the filming camera.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Tremor {
    /// Root mean square of each direction's shift, film px; 0 is off.
    #[serde(deserialize_with = "checks::film_px")]
    pub px: f64,
    /// About how often, Hz.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// Root mean square of the roll about the frame's middle, mrad.
    #[serde(deserialize_with = "checks::film_px")]
    pub roll_mrad: f64,
}

impl Default for Tremor {
    fn default() -> Self {
        Self {
            px: 0.0,
            hz: 6.0,
            roll_mrad: 0.0,
        }
    }
}

/// A knock at the start of a trial: the picture swings and dies down.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Bump {
    /// Amplitude of the swing, film px (x right, y down); 0 is off.
    #[serde(deserialize_with = "checks::shift")]
    pub px: [f64; 2],
    /// Its frequency, Hz.
    #[serde(deserialize_with = "checks::light_rate")]
    pub hz: f64,
    /// Time constant of its dying down, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub decay_ms: f64,
    /// Shift that stays, added at every bump, film px.
    #[serde(deserialize_with = "checks::shift")]
    pub stay_px: [f64; 2],
    /// When, ms after each trial's onset.
    #[serde(deserialize_with = "checks::offset")]
    pub at_ms: f64,
    /// Trials it happens in, counted from 0; none listed: in all.
    pub trials: Vec<usize>,
}

impl Default for Bump {
    fn default() -> Self {
        Self {
            px: [0.0; 2],
            hz: 12.0,
            decay_ms: 120.0,
            stay_px: [0.0; 2],
            at_ms: 0.0,
            trials: Vec::new(),
        }
    }
}

/// The screen's own pixels.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Grid {
    /// Columns and rows; 0 and 0 is off.
    #[serde(deserialize_with = "checks::grid")]
    pub pixels: [usize; 2],
    /// Lit share of a pixel's width and height, 0..=1.
    #[serde(deserialize_with = "checks::share")]
    pub fill: f64,
    /// Standard deviation of the filming camera's own blur of it, film px.
    #[serde(deserialize_with = "checks::film_px")]
    pub film_blur_px: f64,
}

impl Default for Grid {
    fn default() -> Self {
        Self {
            pixels: [0, 0],
            fill: 0.7,
            film_blur_px: 0.3,
        }
    }
}
