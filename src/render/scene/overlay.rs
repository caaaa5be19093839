//! What the camera draws over its live view.

use serde::Deserialize;

use super::checks;

/// Shape of an overlay.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Shape {
    /// The outline of its area: a focus box.
    #[default]
    Box,
    /// Its whole area.
    Fill,
    /// A small battery.
    Icon,
    /// Digits that count.
    Clock,
}

/// What an overlay's time counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Since {
    /// The first frame.
    #[default]
    Start,
    /// Each trial's onset, as the truth has it.
    Onset,
    /// The later end of each trial's settle, where it has one.
    Settle,
}

/// One piece of graphics on the screen, drawn from the first refresh at or
/// after its time on; it has no lag.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Overlay {
    /// Name; the truth says when a named one appears in every trial.
    pub name: Option<String>,
    /// Shape.
    pub shape: Shape,
    /// Left top right bottom, fractions of the screen.
    #[serde(deserialize_with = "checks::area")]
    pub area: [f64; 4],
    /// Red, green, blue: display values (sRGB), 0..=1.
    #[serde(deserialize_with = "checks::color")]
    pub color: [f64; 3],
    /// Width of lines, ‰ of the screen's height.
    #[serde(deserialize_with = "checks::real_permille")]
    pub line_permille: f64,
    /// What `at_ms` counts from.
    pub since: Since,
    /// When it appears, ms.
    #[serde(deserialize_with = "checks::offset")]
    pub at_ms: f64,
    /// How long it stays, ms; else to the end of the trial (of the film).
    #[serde(deserialize_with = "checks::real_span")]
    pub for_ms: Option<f64>,
    /// Colour it turns to.
    #[serde(deserialize_with = "checks::color")]
    pub then_color: Option<[f64; 3]>,
    /// When it turns, ms after it appeared.
    #[serde(deserialize_with = "checks::span")]
    pub then_ms: f64,
    /// Trials it appears in, counted from 0; none listed: in all.
    pub trials: Vec<usize>,
    /// A clock's step, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub step_ms: f64,
}

impl Default for Overlay {
    fn default() -> Self {
        Self {
            name: None,
            shape: Shape::Box,
            area: [0.40, 0.38, 0.60, 0.62],
            color: [0.95, 0.95, 0.95],
            line_permille: 8.0,
            since: Since::Start,
            at_ms: 0.0,
            for_ms: None,
            then_color: None,
            then_ms: 0.0,
            trials: Vec::new(),
            step_ms: 1000.0,
        }
    }
}
