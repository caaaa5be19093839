//! Reads every packet of the track.

use std::path::Path;

use ffmpeg_next::codec::packet::Ref;
use ffmpeg_next::format::context::Input;
use ffmpeg_next::{Error as FfError, Packet, ffi};

use super::first::{FirstFrame, FirstLook};
use super::open::{decoder_error, io_error};
use super::stretch::PacketNote;
use super::track::Track;
use super::watch::Watch;
use super::{ClipError, Still};

/// Damaged packets in a row after which a file is given up.
const PATIENCE: usize = 1000;

/// Most frames of a clip: nearly five hours at 240 a second.
const MOST_FRAMES: usize = 1 << 22;
/// Packets from one look at what the clip has cost to the next.
const ASKED_EVERY: usize = 16;

/// Refuses more frames than any film has.
pub(super) fn count(path: &Path, frames: usize) -> Result<(), ClipError> {
    if frames > MOST_FRAMES {
        return Err(ClipError::TooLong {
            path: path.to_path_buf(),
            what: format!("it has {frames} frames, more than any film"),
        });
    }
    Ok(())
}

/// What the packets tell.
pub(super) struct Scan {
    pub notes: Vec<PacketNote>,
    pub first: FirstFrame,
    pub still: Option<Still>,
    pub damaged_packets: usize,
    /// The strict decoder had nothing against the beginning of the clip.
    pub strict: bool,
}

/// Lets the demuxer skip every track but this one.
pub(super) fn only(input: &mut Input, index: usize) {
    for other in 0..input.nb_streams() as usize {
        if other != index
            && let Some(mut stream) = input.stream_mut(other)
        {
            // SAFETY: the stream is exclusively borrowed; the binding has no
            // setter for this field.
            unsafe { (*stream.as_mut_ptr()).discard = ffi::AVDiscard::AVDISCARD_ALL };
        }
    }
}

/// Reads the next packet of track `index`; `None` at the end of the file.
/// Damaged stretches are passed over and counted in `damaged`.
pub(super) fn next_packet(
    input: &mut Input,
    index: usize,
    path: &Path,
    damaged: &mut usize,
) -> Result<Option<Packet>, ClipError> {
    let mut failures = 0;
    loop {
        let mut packet = Packet::empty();
        match packet.read(input) {
            Ok(()) if packet.stream() == index => return Ok(Some(packet)),
            Ok(()) => failures = 0,
            Err(FfError::Eof) => return Ok(None),
            Err(FfError::InvalidData) if failures < PATIENCE => {
                failures += 1;
                *damaged += 1;
            }
            Err(FfError::InvalidData) => return Ok(None),
            Err(FfError::Other { errno }) => {
                return Err(io_error(path, std::io::Error::from_raw_os_error(errno)));
            }
            Err(error) => return Err(decoder_error(path, error)),
        }
    }
}

/// Whether an edit list hides the packet's frame.
pub(super) fn is_hidden(packet: &Packet) -> bool {
    // SAFETY: reads a field of a live packet; the binding's own flags leave
    // this one out.
    unsafe { (*packet.as_ptr()).flags & ffi::AV_PKT_FLAG_DISCARD != 0 }
}

/// Reads the whole track.
pub(super) fn scan(
    input: &mut Input,
    track: &Track,
    path: &Path,
    watch: &Watch,
) -> Result<Scan, ClipError> {
    only(input, track.index);
    let mut look = FirstLook::new(input, track, path)?;
    let mut notes = Vec::new();
    let mut damaged_packets = 0;
    let mut headers = Headers::default();
    while let Some(packet) = next_packet(input, track.index, path, &mut damaged_packets)? {
        notes.push(PacketNote {
            pts: packet.pts(),
            dts: packet.dts(),
            duration: packet.duration(),
            hidden: is_hidden(&packet),
            entry: headers.entry(track, &packet),
        });
        look.feed(Some(&packet))?;
        if notes.len() % ASKED_EVERY == 0 {
            watch.check(path)?;
            count(path, notes.len())?;
        }
    }
    if notes.is_empty() {
        return Err(ClipError::NoFrames { path: path.into() });
    }
    look.feed(None)?;
    let strict = look.is_strict();
    let (first, still) = look.found(notes.len())?;
    Ok(Scan {
        notes,
        first,
        still,
        damaged_packets,
        strict,
    })
}

/// Reads up to the first frame.
pub(super) fn first(
    input: &mut Input,
    track: &Track,
    path: &Path,
) -> Result<Option<Still>, ClipError> {
    only(input, track.index);
    let mut look = FirstLook::new(input, track, path)?;
    let (mut packets, mut damaged) = (0, 0);
    while !look.is_done()
        && let Some(packet) = next_packet(input, track.index, path, &mut damaged)?
    {
        packets += 1;
        look.feed(Some(&packet))?;
    }
    look.feed(None)?;
    Ok(look.found(packets)?.1)
}

/// Parameter sets that came inside the stream: a fresh decoder does not know
/// them unless the packet it begins with repeats them.
#[derive(Default)]
struct Headers {
    inside: bool,
    replaced: bool,
}

impl Headers {
    fn entry(&mut self, track: &Track, packet: &Packet) -> bool {
        let head = track
            .entry_rule
            .head(packet.data().unwrap_or(&[]), packet.is_key());
        let new_extradata = packet
            .side_data()
            .any(|d| d.kind() == ffmpeg_next::packet::side_data::Type::NewExtraData);
        self.inside |= head.parameter_sets;
        self.replaced |= new_extradata;
        head.entry && !self.replaced && (head.parameter_sets || !self.inside)
    }
}
