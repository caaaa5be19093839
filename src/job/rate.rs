//! The true rate of a clip, by one rule: the rig wins, else metadata that
//! state a capture rate, else the stamps where they run faster than real-time
//! video usually does. Otherwise nobody can know.

use super::{JobError, segments};
use crate::clip::ClipIndex;
use crate::rig::{CueKind, Rig, Stimulus};
use crate::units::{CaptureRate, TimeScale};

/// Stamps slower than this may be real time or stored slow motion.
const SURELY_TRUE_FPS: f64 = 61.0;
/// Relative uncertainty of time stamps that stand as they are: a quartz clock
/// (common practice, no source).
const CLOCK_U: f64 = 1.0e-4;
/// Relative uncertainty of a nominal slow-motion rate: published counter
/// calibrations of phones found −1.2 % to +0.4 %, a full width of 1.6 %,
/// rectangular.
const NOMINAL_U: f64 = 0.016 / 3.464_101_6;

/// The scale from stored to true time and its relative uncertainty.
///
/// # Errors
/// [`JobError::NoRate`] where nothing tells the rate; what
/// `capture.segments` says of clips in parts.
pub fn true_rate(rig: &Rig, index: &ClipIndex) -> Result<(TimeScale, f64), JobError> {
    if !rig.capture.segments.is_empty() {
        return segments::scale(rig, index).map(|scale| {
            let u = relative_u(&scale);
            (scale, u)
        });
    }
    let stored = index.stored_fps;
    let stated = index.stated_fps.and_then(CaptureRate::new);
    let own = CaptureRate::new(stored).filter(|r| r.fps() > SURELY_TRUE_FPS);
    let rate = rig
        .capture
        .fps
        .or(stated)
        .or(own)
        .ok_or_else(|| JobError::NoRate {
            file: index.path.display().to_string(),
            rig: rig.name.clone(),
            stored,
        })?;
    segments::one_rate(rig, index)?;
    let scale = TimeScale::new(stored, rate);
    let u = relative_u(&scale);
    Ok((scale, u))
}

/// Stamps that stand are as good as a clock, stated rates are not.
fn relative_u(scale: &TimeScale) -> f64 {
    let stands = scale.factor() == Some(1.0);
    if stands { CLOCK_U } else { NOMINAL_U }
}

/// Where a true rate comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum RateFrom {
    /// `capture.fps`.
    Rig,
    /// The container's metadata.
    Metadata,
    /// The stamps, which run faster than real-time video does.
    Stamps,
}

impl RateFrom {
    /// Where [`true_rate`] takes the rate of this clip from.
    pub fn of(rig: &Rig, index: &ClipIndex) -> Option<Self> {
        if rig.capture.fps.is_some() {
            Some(Self::Rig)
        } else if index.stated_fps.and_then(CaptureRate::new).is_some() {
            Some(Self::Metadata)
        } else {
            (index.stored_fps > SURELY_TRUE_FPS).then_some(Self::Stamps)
        }
    }

    pub fn words(self) -> &'static str {
        match self {
            Self::Rig => "as the rig says",
            Self::Metadata => "as the clip's metadata say",
            Self::Stamps => "as the clip's time stamps run",
        }
    }
}

/// What cannot be done with a rig.
///
/// # Errors
/// One fault per thing.
pub fn supported(rig: &Rig) -> Result<(), JobError> {
    let rig_name = || rig.name.clone();
    let beeps = rig.cues.iter().filter(|c| c.kind == CueKind::Tone).count();
    let started = usize::from(matches!(rig.stimulus, Stimulus::Tone));
    if beeps + started > 1 {
        return Err(JobError::Tones { rig: rig_name() });
    }
    Ok(())
}
