//! One trial: from one stimulus to the end of its window.
//!
//! In: what every frame of a clip said (times as shot in seconds, sharpness
//! readings in luma², thumbs) and the rig's trial settings. Out: per trial the
//! moments in seconds as shot, levels in the measure's own unit, and, once the
//! setup's reference is known, a verdict with its reason.
//!
//! Settling follows the idea of the settling duration of IEEE Std 181 and
//! IEC 60469 (enter a band and stay for a set time), with the start of the
//! hold as the instant; uncertainties combine as in JCGM 100:2008 (GUM).

mod blurred;
pub mod clean;
mod cover;
pub mod cue;
mod curve;
mod cut;
mod hold;
mod judge;
pub mod lag;
mod light;
mod moments;
pub mod motion;
mod sides;
mod swing;
mod uncertainty;

#[cfg(test)]
mod tests;

pub use blurred::{Subject, Width};
pub use cover::{cover_stimuli, coverage};
pub use curve::{Curve, Sample, median};
pub use judge::{Judged, Reference, judge, references};
pub use light::light_stimuli;
pub use moments::{Observed, Settings, observe};
pub use sides::tell_sides;
pub use swing::{SwingError, Swings, View, shifts, swing_stimuli};

use crate::store::schema::Side;

/// What starts a trial, and how well its instant is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stimulus {
    /// Which way the subject changed; `None` for light and tone.
    pub side: Option<Side>,
    /// When the target began to move, seconds as shot.
    pub move_s: Option<f64>,
    /// When the stimulus was complete, seconds as shot.
    pub onset_s: f64,
    /// Standard uncertainty of the onset, seconds (k = 1).
    pub onset_u_s: f64,
}
