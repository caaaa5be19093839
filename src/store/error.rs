//! What can be wrong with a timing file, and what to do about it.

use std::io;

/// A timing file that cannot be read, believed or written.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The file cannot be opened or read.
    #[error("{file}: cannot be read: {source}")]
    Read {
        /// The file as named.
        file: String,
        /// Why.
        source: io::Error,
    },
    /// Not JSON, cut short, or a key of the wrong kind.
    #[error("{file}: {place}{message}")]
    Json {
        /// The file as named.
        file: String,
        /// Line and column, from 1, and key, as far as they are known, with a
        /// colon behind.
        place: String,
        /// Whether the whole file is meant, not a key of it.
        whole: bool,
        /// What was found.
        message: String,
    },
    /// Well-formed JSON that is no timing file, or one too new.
    #[error("{file}: {message}")]
    File {
        /// The file as named.
        file: String,
        /// What is wrong and what to do.
        message: String,
    },
    /// A trial that cannot be.
    #[error("{file}: trial {clip}:{trial}: {message}")]
    Trial {
        /// The file as named.
        file: String,
        /// The clip's path as stored.
        clip: String,
        /// The trial's index.
        trial: u32,
        /// What is wrong.
        message: String,
    },
    /// The file cannot be written.
    #[error(
        "{file}: cannot be written: {source}; see to the folder and the free space, or name another place"
    )]
    Write {
        /// The file as named.
        file: String,
        /// Why.
        source: io::Error,
    },
}
