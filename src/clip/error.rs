//! What can be wrong with a clip.

use std::path::PathBuf;

/// A clip that cannot be used, and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum ClipError {
    /// The file cannot be opened or read.
    #[error("{path}: cannot be read: {source}", path = path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}
