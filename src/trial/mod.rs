//! One trial: from one stimulus to the end of its window.
//!
//! In: what every frame of a clip said (times as shot in seconds, energies by
//! band, thumbs) and the rules of judging. Out: the stimuli; each side's course
//! of blur ([`Trace`]: one value per update of the screen, ‰ of its height); per
//! trial what was seen ([`Observed`]: moments in seconds as shot, blur in ‰,
//! uncertainty) and a verdict with its reason ([`Judged`]); per clip how little
//! blur its film tells from none ([`FilmLimit`]).
//!
//! Settling follows the idea of the settling duration of IEEE Std 181 and
//! IEC 60469 (enter a band and stay in it), with the start of the stay as the
//! instant; uncertainties combine as in JCGM 100:2008 (GUM).

mod bounds;
mod clear;
mod cover;
pub mod cue;
mod curve;
mod cut;
pub(crate) mod energies;
mod far;
pub(crate) mod graphics;
mod judge;
pub(crate) mod lag;
mod light;
mod limit;
mod moments;
pub(crate) mod motion;
mod sides;
mod stay;
mod swing;
mod trace;
mod uncertainty;

#[cfg(test)]
mod far_tests;
#[cfg(test)]
mod tests;

pub(crate) use bounds::Bounds;
pub(crate) use cover::{COVERED, cover_stimuli, coverage};
pub(crate) use curve::{Curve, median};
pub(crate) use far::{Direct, far_onsets};
pub use judge::{Judged, Lost, Void, judge};
pub use light::{LEAST_STEP as LEAST_LIGHT_STEP, light_stimuli};
pub(crate) use limit::{DELTA_STEP, FilmLimit, film_limit};
pub(crate) use moments::{Observed, Rules, observe};
pub(crate) use sides::tell_sides;
pub use swing::{
    LEAST_PATH as LEAST_SWING_CELLS, SwingError, Swings, View, shifts, swing_stimuli, swing_ways,
};
pub use trace::{Trace, Update, apart};

use crate::store::schema::{OnsetSeen, Side};

/// What starts a trial, and how well its instant is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stimulus {
    /// Which way the subject changed; `None` for light and tone.
    pub side: Option<Side>,
    /// When the target began to move, seconds as shot.
    pub move_s: Option<f64>,
    /// When the stimulus was complete, seconds as shot.
    pub onset_s: f64,
    /// Where that was seen.
    pub seen: OnsetSeen,
    /// Standard uncertainty of the onset, seconds (k = 1).
    pub onset_u_s: f64,
    /// When the trigger light went out again, seconds as shot; `None` where
    /// nothing is held, or to the clip's end.
    pub off_s: Option<f64>,
}
