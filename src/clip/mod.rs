//! A clip: frames in presentation order, each with its time.
//!
//! In: one local file. Out: a [`ClipIndex`] (what the headers and the packet
//! stamps tell) from [`probe()`] and, through [`decode()`], luma frames in
//! presentation order. [`LumaFrame::row`] gives luma as `0..=1` after black
//! and white level are taken out; times are seconds from the first shown
//! frame on the container's time line. [`LumaFrame::chroma`] gives the colour planes
//! where they can be read, and [`sound()`] the sound track on the same time line.
//!
//! A frame arrives once, the last one included, or is named in the
//! [`DecodeReport`]: frames that are damaged, or that were predicted from a
//! damaged one, are dropped, never shown as good. The result does not depend
//! on the number of threads. Damage that FFmpeg's decoders do not notice (a
//! flipped bit often decodes to another valid picture) cannot be told from the
//! film. Failures: [`ClipError`].
//!
//! The only room that knows ffmpeg-next. Sources: ISO/IEC 14496-12 (edit
//! lists, display matrix), ISO/IEC 14496-15 and ITU-T H.264, H.265 (where
//! decoding may begin), ITU-T H.273 (levels).

mod cage;
mod chroma;
mod codecs;
mod crew;
mod damage;
mod decode;
mod decoder;
mod demux;
mod encode;
mod encode_sound;
mod encode_spec;
mod entry;
mod error;
mod first;
mod frame;
mod hash;
mod index;
mod levels;
mod luma;
mod open;
mod orientation;
mod probe;
mod promise;
mod queue;
mod rate;
mod report;
mod scan;
mod sound;
mod spool;
mod stamps;
mod still;
mod stretch;
mod tables;
#[cfg(test)]
mod tests;
mod track;
mod turn;
mod watch;
mod worker;

pub(crate) use chroma::Chroma;
pub use crew::{Crew, Turn};
pub use decode::{FrameSink, decode, decode_until};
pub(crate) use encode::Encoder;
pub use encode_spec::{Codec, EncodeError, EncodeSpec, Planes};
pub use error::ClipError;
pub use frame::{Depth, LumaFrame, light};
pub(crate) use hash::sha256;
pub use index::{ClipIndex, Orientation};
pub use open::ProbeOptions;
pub use probe::{first_picture, probe};
pub use report::{DecodeReport, Gap};
pub use sound::{Sound, sound};
pub(crate) use spool::spool_stdin;
pub(crate) use still::Still;

/// The version of FFmpeg this program runs on, such as `5.1.9`.
pub fn ffmpeg_version() -> String {
    // SAFETY: returns a constant, terminated string.
    let text = unsafe { std::ffi::CStr::from_ptr(ffmpeg_next::ffi::av_version_info()) };
    let text = text.to_string_lossy();
    // Distributions append their own revision to a release's number after a
    // dash; builds between releases have no such number.
    match text.split_once('-') {
        Some((number, _)) if number.starts_with(|c: char| c.is_ascii_digit()) => number.to_owned(),
        _ => text.into_owned(),
    }
}
