//! A decoder as every part of this room opens it: of bounded size.

use ffmpeg_next::codec::{self, Parameters, threading};
use ffmpeg_next::{Error as FfError, Packet, Rational, decoder, ffi, frame};

/// Longest side of a frame in px.
pub(super) const MAX_SIDE: i64 = 16_384;
/// Largest frame in px: that of the highest level of ITU-T H.265 (6.2, table
/// A.8), a little more than 8K.
pub(super) const MAX_AREA: i64 = 35_651_584;
/// Most px that pictures kept for reference may have together: six of the
/// largest (ITU-T H.265, A.4.2; H.264 allows less, table A-1).
pub(super) const MAX_REFERENCES: i64 = 6 * MAX_AREA;

/// Calls for a frame that may fail in a row before the decoder is given up.
const PATIENCE: usize = 10_000;

/// Opens a decoder. With more than one thread a damaged clip may decode to
/// different pixels from machine to machine, a sound one does not.
///
/// A strict one refuses a packet where a lenient one shows what it has without
/// a word: FFmpeg's HEVC decoder flags nothing.
pub(super) fn open(
    parameters: Parameters,
    time_base: Rational,
    strict: bool,
    threads: usize,
) -> Result<decoder::Video, FfError> {
    let mut context = codec::Context::from_parameters(parameters)?;
    context.set_threading(threading::Config {
        kind: threading::Type::Frame,
        count: threads,
        ..threading::Config::default()
    });
    let mut decoder = context.decoder();
    decoder.set_packet_time_base(time_base);
    // SAFETY: the context is ours and not yet opened; the binding has no
    // setter for the first field, and one for the second that
    // does not take what was set before.
    unsafe {
        (*decoder.as_mut_ptr()).max_pixels = MAX_AREA;
        if strict {
            (*decoder.as_mut_ptr()).err_recognition |= ffi::AV_EF_EXPLODE;
        }
    }
    decoder.video()
}

/// Pictures that the stream has kept for reference, as far as its decoder
/// tells; 1 where it does not.
pub(super) fn references(decoder: &decoder::Video) -> i64 {
    // SAFETY: reads a field of a live context.
    i64::from(unsafe { (*decoder.as_ptr()).refs })
}

/// What the decoder did with a packet.
pub(super) enum Fed {
    /// Took it.
    Taken,
    /// Refused it as damaged.
    Refused,
}

/// Gives the decoder a packet (`None`: no more will come) and passes every
/// frame that is ready to `take`, which returns the frame to be filled next.
pub(super) fn feed<E: From<FfError>>(
    decoder: &mut decoder::Video,
    packet: Option<&Packet>,
    mut take: impl FnMut(frame::Video) -> Result<frame::Video, E>,
    mut spare: frame::Video,
) -> Result<(Fed, frame::Video), E> {
    let sent = match packet {
        Some(packet) => decoder.send_packet(packet),
        None => decoder.send_eof(),
    };
    let mut fed = verdict(sent)?;
    let mut failures = 0;
    loop {
        match decoder.receive_frame(&mut spare) {
            Ok(()) => spare = take(spare)?,
            Err(
                FfError::Eof
                | FfError::Other {
                    errno: ffmpeg_next::error::EAGAIN,
                },
            ) => break,
            Err(error) => {
                verdict(Err(error))?;
                fed = Fed::Refused;
                failures += 1;
                if failures > PATIENCE {
                    break;
                }
            }
        }
    }
    Ok((fed, spare))
}

/// Lack of memory ends the work, any other failure is one packet's.
fn verdict(result: Result<(), FfError>) -> Result<Fed, FfError> {
    match result {
        Ok(()) | Err(FfError::Eof) => Ok(Fed::Taken),
        Err(
            error @ FfError::Other {
                errno: ffmpeg_next::error::ENOMEM,
            },
        ) => Err(error),
        Err(_) => Ok(Fed::Refused),
    }
}

/// Whether no picture of this codec refers to another.
pub(super) fn intra_only(id: codec::Id) -> bool {
    // SAFETY: returns null or a pointer to a constant.
    unsafe {
        ffi::avcodec_descriptor_get(id.into())
            .as_ref()
            .is_some_and(|d| d.props & ffi::AV_CODEC_PROP_INTRA_ONLY != 0)
    }
}
