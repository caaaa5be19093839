//! What can be wrong with a clip.

use std::path::PathBuf;

/// A clip that cannot be used: which file, what is wrong, what to do.
#[derive(Debug, thiserror::Error)]
pub enum ClipError {
    /// The file cannot be opened or read.
    #[error("{path}: cannot be read: {source}; check the file's permissions and the disk", path = path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// There is no such file.
    #[error("{path}: no such file; check the name and the folder", path = path.display())]
    Missing {
        /// The file as given.
        path: PathBuf,
    },
    /// A folder was given.
    #[error("{path}: is a folder; name the clip inside it", path = path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// A pipe, a socket or a device was given.
    #[error("{path}: is not an ordinary file; save the clip to disk first, or pipe it in as `-`", path = path.display())]
    NotAFile {
        /// What was given.
        path: PathBuf,
    },
    /// The file holds nothing.
    #[error("{path}: is empty (0 bytes); copy the clip from the camera again", path = path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// The file is no film in a container that is opened here.
    #[error("{path}: is not a film that can be opened ({detail}); give an MP4, MOV, MKV, WebM, AVI or MPEG file", path = path.display())]
    NotAFilm {
        /// The file.
        path: PathBuf,
        /// What was found instead.
        detail: String,
    },
    /// An MP4 or MOV without a readable table of frames.
    #[error("{path}: no table of frames (`moov`) can be found, the recording or the copy was cut short or is damaged; copy the clip again or film it anew", path = path.display())]
    Unfinished {
        /// The file.
        path: PathBuf,
    },
    /// Sound or data only.
    #[error("{path}: holds no video track; give the film itself", path = path.display())]
    NoVideo {
        /// The file.
        path: PathBuf,
    },
    /// The video track is empty.
    #[error("{path}: the video track holds no frame; copy the clip again or film it anew", path = path.display())]
    NoFrames {
        /// The file.
        path: PathBuf,
    },
    /// No decoder for the codec.
    #[error("{path}: this FFmpeg cannot decode {codec}; convert the clip to H.264 without changing its frame rate", path = path.display())]
    NoDecoder {
        /// The file.
        path: PathBuf,
        /// FFmpeg's name of the codec.
        codec: String,
    },
    /// Not a single frame came out of the decoder.
    #[error("{path}: none of its {packets} packets decodes, the file is damaged; copy the clip again", path = path.display())]
    Undecodable {
        /// The file.
        path: PathBuf,
        /// Packets that were tried.
        packets: usize,
    },
    /// Frames without presentation times.
    #[error("{path}: its frames carry no time stamps; put the clip into a container that has them (MP4, MOV or MKV)", path = path.display())]
    NoStamps {
        /// The file.
        path: PathBuf,
    },
    /// The header asks for a picture beyond the limits.
    #[error("{path}: frames of {width}x{height} are beyond the limit ({side} px a side, {area} megapixels); film at a smaller size", path = path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Width in px.
        width: i64,
        /// Height in px.
        height: i64,
        /// Largest side in px.
        side: i64,
        /// Largest area in megapixels.
        area: i64,
    },
    /// The header gives no size that makes sense, and no frame does.
    #[error("{path}: neither header nor frames give a usable picture size (at most {side} px a side); copy the clip again", path = path.display())]
    NoSize {
        /// The file.
        path: PathBuf,
        /// Largest side in px.
        side: i64,
    },
    /// Interlaced material.
    #[error("{path}: the clip is interlaced, two instants share a frame; film progressive (a rate ending in `p`)", path = path.display())]
    Interlaced {
        /// The file.
        path: PathBuf,
    },
    /// The file is not the one that was indexed.
    #[error("{path}: the file changed while it was being read; wait until the copy is complete and start again", path = path.display())]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// The person wanted no more.
    #[error("{path}: stopped before its end; run the same command again to go on", path = path.display())]
    Stopped {
        /// The file.
        path: PathBuf,
    },
    /// The decoder or the converter broke down, whatever the packet.
    #[error("{path}: decoding stopped: {detail}; copy the clip again, or convert it without changing its frame rate", path = path.display())]
    Decoder {
        /// The file.
        path: PathBuf,
        /// FFmpeg's words.
        detail: String,
    },
    /// The codec is none of those that cameras and editors write.
    #[error("{path}: is coded as {codec}, which neither cameras nor editors write, and is not decoded; convert the clip to H.264 without changing its frame rate, and its sound to AAC", path = path.display())]
    Codec {
        /// The file.
        path: PathBuf,
        /// FFmpeg's name of the codec.
        codec: String,
    },
    /// The tables list more frames than any film has, or cannot be counted.
    #[error("{path}: {what}; if it is no damaged file, cut it into shorter ones, or put it into another container", path = path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
        /// What there is too much of.
        what: String,
    },
    /// Decoding it costs far more than it may.
    #[error("{path}: is given up: {what}; if it is no damaged file, convert it to H.264 at a smaller size, without changing its frame rate", path = path.display())]
    TooCostly {
        /// The file.
        path: PathBuf,
        /// What it would take.
        what: String,
    },
    /// Standard input does not fit on the disk.
    #[error("standard input: cannot be copied to {folder}: {source}; free some space there, or set TMPDIR to another folder", folder = folder.display())]
    Spool {
        /// Folder of temporary files.
        folder: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// Standard input could not be taken in.
    #[error("standard input: {detail}; pipe a clip in, or name a file")]
    Stdin {
        /// Why.
        detail: String,
    },
}
