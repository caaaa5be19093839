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
    #[error("{file}: line {line}, column {column}, key `{key}`: {message}")]
    Json {
        /// The file as named.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// Path of the key, `.` where the whole file is meant.
        key: String,
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
