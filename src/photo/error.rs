//! Why there is no result.

/// Why photographs could not be judged at all, or one could not be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PhotoError {
    /// The folder cannot be listed.
    #[error("{folder}: cannot be read: {source_text}; name a folder of photographs")]
    Folder {
        /// The folder.
        folder: String,
        /// What the system said.
        source_text: String,
    },
    /// No file in it has a photograph's name.
    #[error(
        "{folder}: holds no photograph (.jpg, .jpeg, .png, .tif, .tiff){other}; name the folder \
         that holds them"
    )]
    Empty {
        /// The folder.
        folder: String,
        /// What it holds instead, in words, or nothing.
        other: String,
    },
    /// More photographs than are taken at once.
    #[error("{folder}: holds {count} photographs; at most {most} are judged at once")]
    TooMany {
        /// The folder.
        folder: String,
        /// Photographs in it.
        count: usize,
        /// Most that are taken.
        most: usize,
    },
    /// A picture's bytes are none.
    #[error("{file}: is no photograph that can be read ({source_text})")]
    Picture {
        /// The file.
        file: String,
        /// What the decoder said.
        source_text: String,
    },
    /// The focus area is too small a part of these pictures.
    #[error("{file}: {message}; give a larger --area")]
    Area {
        /// The picture.
        file: String,
        /// What is too small.
        message: String,
    },
    /// No picture focused by hand could be read.
    #[error("{folder}: no photograph in by-hand can be used: {first}")]
    ByHand {
        /// The folder.
        folder: String,
        /// The first reason.
        first: String,
    },
}
