//! What a person writes down: rig and session files.
//!
//! In: TOML text. Out: a [`Rig`] (what stays the same while filming), every
//! value checked against its range and every default filled in, or a
//! [`Session`] (setups, their rigs and clips), every file looked up. A file
//! with faults gives `Faults`: all of them, each with file, line, key, what
//! is wrong and what to do. A key that is not known is a fault.
//!
//! The text is read by `written`; what goes together is checked here.

mod clips;
mod keys;
mod names;
mod read;
mod read_cue;
mod read_exclude;
mod read_screen;
mod read_session;
mod session;
mod shelf;
mod spec;

pub(crate) use crate::written::Fault;
pub(crate) use clips::identity;
pub(crate) use names::{file_key, safe_name};
pub use session::{Exclude, Reference, Session, Setup};
pub use spec::{
    AreaFrac, Capture, CueKind, CueSpec, DEFAULT_AF_AREA, DEFAULT_CUE_TOLERANCE,
    DEFAULT_HIT_PERMILLE, DEFAULT_HOLD, DEFAULT_MEASURE, DEFAULT_SETTLE_PERMILLE, DEFAULT_WINDOW,
    MeasureSpec, PERMILLE, PixelRect, Rig, ScreenSpec, Segment, Stimulus, SwingAt, TrialSpec,
};

#[cfg(test)]
mod tests;
