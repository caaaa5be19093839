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
    /// The clip is slowed down in parts.
    #[error(
        "{file}: rig \"{rig}\" lists `capture.segments`, which this version cannot time yet; film \
         at one rate throughout, or cut the slowed part out and give its rate as `capture.fps`"
    )]
    Segments {
        /// The clip.
        file: String,
        /// The rig.
        rig: String,
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
    /// The rig says nothing of the screen.
    #[error(
        "rig \"{rig}\": needs `screen.corners` (the four corners of the camera's screen in the \
         film, px) or `screen.feed = true`; the screen is not looked for yet"
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
    /// Tone needs what is not there yet.
    #[error(
        "rig \"{rig}\": `stimulus.kind = \"tone\"` cannot be timed yet; use a trigger light \
         (`light`) or a swing"
    )]
    Tone {
        /// The rig.
        rig: String,
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
    /// The output folder cannot take files.
    #[error("{}: {message}", path.display())]
    Output {
        /// The folder.
        path: PathBuf,
        /// Why, and what to do.
        message: String,
    },
}
