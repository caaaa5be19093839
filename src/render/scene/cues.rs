//! What the camera under test draws over its live view, and what it sounds.

use serde::Deserialize;

use super::checks;
use super::table::table;

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

table! {
    /// One piece of graphics on the screen, drawn from the first refresh at or
    /// after its time on; it has no lag.
    Overlay {
        /// Name; the truth says when a named one appears in every trial.
        name: Option<String> = None,
        /// Shape.
        shape: Shape = Shape::Box,
        /// Left top right bottom, fractions of the screen.
        area: [f64; 4] = [0.40, 0.38, 0.60, 0.62]; "checks::area",
        /// Red, green, blue: display values (sRGB), 0..=1.
        color: [f64; 3] = [0.95, 0.95, 0.95]; "checks::color",
        /// Width of lines, ‰ of the screen's height.
        line_permille: f64 = 8.0; "checks::real_permille",
        /// What `at_ms` counts from.
        since: Since = Since::Start,
        /// When it appears, ms.
        at_ms: f64 = 0.0; "checks::offset",
        /// How long it stays, ms; else to the end of the trial (of the film).
        for_ms: Option<f64> = None; "checks::real_span",
        /// Colour it turns to.
        then_color: Option<[f64; 3]> = None; "checks::color",
        /// When it turns, ms after it appeared.
        then_ms: f64 = 0.0; "checks::span",
        /// Trials it appears in, counted from 0; none listed: in all.
        trials: Vec<usize> = Vec::new(),
        /// A clock's step, ms.
        step_ms: f64 = 1000.0; "checks::real_span",
    }

    /// One kind of beep of the camera under test.
    Beep {
        /// Name; the truth says when a named one sounds in every trial.
        name: Option<String> = None,
        /// What `at_ms` counts from.
        since: Since = Since::Settle,
        /// When it starts, ms.
        at_ms: f64 = 60.0; "checks::offset",
        /// How long it lasts, ms.
        for_ms: f64 = 80.0; "checks::real_span",
        /// Its frequency, Hz.
        hz: f64 = 3000.0; "checks::light_rate",
        /// Amplitude, 1 = full scale.
        level: f64 = 0.15; "checks::share",
        /// From nothing to full level, and back at its end, ms.
        attack_ms: f64 = 1.0; "checks::not_negative",
        /// Trials it sounds in, counted from 0; none listed: in all.
        trials: Vec<usize> = Vec::new(),
    }

    /// The sound track; there is one where anything sounds.
    Sound {
        /// Whether there is a track though nothing sounds.
        track: bool = false,
        /// White noise, 1 = full scale: standard deviation.
        noise: f64 = 0.004; "checks::share",
        /// How much later than the picture the track begins, ms of the file; what
        /// sounds before is lost.
        begin_ms: f64 = 0.0; "checks::span",
        /// Frequency of the tone that starts trials (`stimulus = "tone"`), Hz.
        hz: f64 = 2400.0; "checks::light_rate",
        /// How long it lasts, ms.
        for_ms: f64 = 120.0; "checks::real_span",
    }
}
