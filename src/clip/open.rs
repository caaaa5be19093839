//! Opens one local file, and nothing else, as a film.
//!
//! The file is opened here and handed to FFmpeg as a byte stream, without a
//! name: a path that looks like a URL or a script is just a file name, and
//! every protocol is shut, so that no container can make FFmpeg open a second
//! file or a connection.

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Once;

use ffmpeg_next::format::context::{Input, StreamIo};
use ffmpeg_next::{Dictionary, Error as FfError, format, log};

use super::{ClipError, codecs, tables};

/// Containers that hold their frames themselves. Playlists, scripts, session
/// descriptions and numbered pictures are left out on purpose.
const CONTAINERS: &str = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,h264,hevc,\
m4v,mjpeg,ivf,ogg,flv,asf,mxf,nut,yuv4mpegpipe,dv,obu,gxf,swf,wtv";

/// Largest piece of memory that FFmpeg may ask for, bytes: a packed picture of
/// the largest size at 16 bits a colour.
const LARGEST_PIECE: usize = 320 << 20;

/// Read-ahead of the demuxer in bytes.
const READ_AHEAD: usize = 256 * 1024;

/// What a caller may want otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProbeOptions {
    /// Leave out the frames an edit list hides (as a player does).
    pub honour_edit_list: bool,
    /// The clip is slowed down in parts: long steps between frames are no oddity.
    pub slow_parts: bool,
}

impl Default for ProbeOptions {
    fn default() -> Self {
        Self {
            honour_edit_list: true,
            slow_parts: false,
        }
    }
}

/// Opens `path` as an ordinary local file; the second value is its length.
pub(super) fn local_file(path: &Path) -> Result<(File, u64), ClipError> {
    let facts = std::fs::metadata(path).map_err(|e| io_error(path, e))?;
    let owned = || path.to_path_buf();
    if facts.is_dir() {
        return Err(ClipError::Folder { path: owned() });
    }
    if !facts.is_file() {
        return Err(ClipError::NotAFile { path: owned() });
    }
    if facts.len() == 0 {
        return Err(ClipError::Empty { path: owned() });
    }
    let file = File::open(path).map_err(|e| io_error(path, e))?;
    Ok((file, facts.len()))
}

/// The error for a failed look at or read from `path`.
pub(super) fn io_error(path: &Path, source: std::io::Error) -> ClipError {
    let path = path.to_path_buf();
    match source.kind() {
        std::io::ErrorKind::NotFound => ClipError::Missing { path },
        _ => ClipError::Io { path, source },
    }
}

/// Opens the file as a film and reads its headers.
pub(super) fn open(path: &Path, options: ProbeOptions) -> Result<(Input, u64), ClipError> {
    start_ffmpeg();
    let (mut file, length) = local_file(path)?;
    tables::check(path, &mut file, length)?;
    let stream = StreamIo::from_read_seek_with_capacity(file, READ_AHEAD)
        .map_err(|e| decoder_error(path, e))?;
    let mut settings = Dictionary::new();
    settings.set("format_whitelist", CONTAINERS);
    settings.set("protocol_whitelist", "none");
    settings.set("codec_whitelist", &codecs::decoders());
    if !options.honour_edit_list {
        settings.set("ignore_editlist", "1");
    }
    let input = format::input_from_stream(stream, None, Some(settings))
        .map_err(|e| cannot_open(path, e))?;
    Ok((input, length))
}

/// An error of FFmpeg's that no other kind describes.
pub(super) fn decoder_error(path: &Path, error: FfError) -> ClipError {
    ClipError::Decoder {
        path: path.to_path_buf(),
        detail: error.to_string(),
    }
}

fn start_ffmpeg() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Registering can only fail on FFmpeg versions that no longer build.
        let _ = ffmpeg_next::init();
        log::set_level(log::Level::Quiet);
        // SAFETY: sets a number, before any other call; the binding has no
        // function for it.
        unsafe { ffmpeg_next::ffi::av_max_alloc(LARGEST_PIECE) };
    });
}

fn cannot_open(path: &Path, error: FfError) -> ClipError {
    let detail = match error {
        FfError::Other {
            errno: ffmpeg_next::error::EINVAL,
        } => "a playlist, script, sound, picture or other kind of file".to_owned(),
        FfError::InvalidData if is_box_file(path) => {
            return ClipError::Unfinished {
                path: path.to_path_buf(),
            };
        }
        FfError::Eof => "it ends within its header".to_owned(),
        FfError::InvalidData => "its content is no known container".to_owned(),
        other => other.to_string(),
    };
    ClipError::NotAFilm {
        path: path.to_path_buf(),
        detail,
    }
}

/// Whether the file begins like MP4 or MOV (ISO/IEC 14496-12, 4.2: size, type).
fn is_box_file(path: &Path) -> bool {
    let mut head = [0; 8];
    let read = File::open(path).and_then(|mut f| {
        f.seek(SeekFrom::Start(0))?;
        f.read_exact(&mut head)
    });
    read.is_ok()
        && [b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip"]
            .contains(&&[head[4], head[5], head[6], head[7]])
}
