//! What can be wrong with a request, found before anything is decoded.

use std::path::PathBuf;

/// A fault of the request: what a person typed or wrote does not fit.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum JobError {
    /// The true rate of the clip cannot be known.
    #[error(
        "{file}: the true rate cannot be known: its stamps run at {stored:.2} frames a second, \
         which real time and stored slow motion both do; write the rate the filming camera was \
         set to into the rig as `capture.fps` (rig \"{rig}\")"
    )]
    NoRate {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
        /// Median rate of the stamps.
        stored: f64,
    },
    /// The table of parts does not fit the clip.
    #[error("{file}: `capture.segments` of rig \"{rig}\" {message}")]
    Segments {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
        /// What does not fit, and what to do.
        message: String,
    },
    /// The stamps run at several rates, and nobody says which parts are slow.
    #[error(
        "{file}: its stamps do not run at one rate ({parts}), as in a clip that is slowed down in \
         parts; write the true rate of every part into the rig as `capture.segments` (rig \
         \"{rig}\"), for example {example}"
    )]
    Uneven {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
        /// The parts as stored, in words.
        parts: String,
        /// The key with what is known filled in.
        example: String,
    },
    /// The clip has another size than the rig was made for.
    #[error(
        "{file}: the upright frame is {}×{} px, but `capture.frame_size` of rig \"{rig}\" says \
         {}×{}; give a rig made for this size, or correct the key", got.0, got.1, want.0, want.1
    )]
    FrameSize {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
        /// As the rig says.
        want: (usize, usize),
        /// As the clip is.
        got: (usize, usize),
    },
    /// The screen's corners make no shape.
    #[error(
        "rig \"{rig}\": the four points of `screen.corners` make no plain four-sided shape in this \
         clip; correct them, or leave them out and the screen is looked for"
    )]
    NoScreen {
        /// The rig.
        rig: String,
    },
    /// Something lies outside the frame.
    #[error(
        "{file}: `{key}` reaches {:.0},{:.0} to {:.0},{:.0}, outside the upright frame of {}×{} \
         px; correct the key for this clip's size", bounds[0], bounds[1], bounds[2], bounds[3],
         size.0, size.1
    )]
    OffFrame {
        /// The clip.
        file: String,
        /// The key.
        key: &'static str,
        /// Left, top, right, bottom.
        bounds: [f64; 4],
        /// Upright frame.
        size: (usize, usize),
    },
    /// The autofocus area is too small in this clip.
    #[error("{file}: `screen.af_area`: {message}")]
    Area {
        /// The clip.
        file: String,
        /// What the meter says.
        message: String,
    },
    /// Two beeps that nothing tells apart.
    #[error(
        "rig \"{rig}\": a tone may stand for one thing only, the stimulus or one cue: nothing \
         tells two beeps apart; take one out, or start trials by a trigger light (`light`)"
    )]
    Tones {
        /// The rig.
        rig: String,
    },
    /// A cue's region is too small in this clip.
    #[error(
        "{file}: cue \"{cue}\": its `region` covers {pixels} pixels of the film; make it larger, \
         or film closer"
    )]
    CueRegion {
        /// The clip.
        file: String,
        /// The cue.
        cue: String,
        /// Pixels it covers.
        pixels: usize,
    },
    /// A result of something else would be overwritten.
    #[error(
        "{}: holds the result of {what}; choose another folder with --out, or give --force to \
         replace it", path.display()
    )]
    Occupied {
        /// The file.
        path: PathBuf,
        /// What differs.
        what: String,
    },
    /// Judging is from signals alone, and there are none of a clip.
    #[error(
        "{file}: no signals of this clip are kept; leave out --from-signals to decode it, or name \
         their folder with --signals"
    )]
    NoSignals {
        /// The clip.
        file: String,
    },
    /// Judging is from signals alone, and the rig has changed too much.
    #[error(
        "{file}: its kept signals were made with another {keys} than rig \"{rig}\" has; put that \
         back, or leave out --from-signals to decode the clip again"
    )]
    OtherSignals {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
        /// The keys that differ.
        keys: String,
    },
    /// A clip was asked for that is none of the session's.
    #[error(
        "{}: is no clip of this session; `focuslag check --list-clips` lists them", file.display()
    )]
    Foreign {
        /// The clip.
        file: PathBuf,
    },
    /// The output folder cannot take files.
    #[error("{}: {message}", path.display())]
    Output {
        /// The folder.
        path: PathBuf,
        /// Why, and what to do.
        message: String,
    },
}
