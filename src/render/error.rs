//! What can be wrong with a scene or with writing its clip.

use std::path::PathBuf;

use crate::clip::EncodeError;
use crate::written::Faults;

/// Why a scene could not be rendered.
#[derive(Debug, thiserror::Error)]
pub enum RenderError {
    /// The scene is not one.
    #[error(transparent)]
    Scene(#[from] Faults),
    /// An image of the scene cannot be read.
    #[error("{file}{}: `{key}`: {path}: cannot be read as a picture: {why}",
        line.map_or(String::new(), |l| format!(":{l}")), path = path.display())]
    Image {
        /// The scene file.
        file: String,
        /// Counted from 1.
        line: Option<usize>,
        key: &'static str,
        /// The image.
        path: PathBuf,
        why: String,
    },
    /// The truth cannot be written.
    #[error("{path}: cannot be written: {source}", path = path.display())]
    Io {
        path: PathBuf,
        source: std::io::Error,
    },
    /// The person wanted no more.
    #[error("stopped; nothing was written")]
    Stopped,
    /// The clip cannot be written.
    #[error(transparent)]
    Encode(#[from] EncodeError),
}
