//! Which video track, and what its headers say.

use std::ffi::c_int;
use std::path::Path;

use ffmpeg_next::codec::{self, packet};
use ffmpeg_next::format::context::Input;
use ffmpeg_next::format::stream::Stream;
use ffmpeg_next::{Rational, color, decoder, ffi, media};

use super::entry::EntryRule;
use super::{ClipError, codecs, orientation};
use crate::units::CAPTURE_FPS;

/// Tracks that hold a picture for a cover or a list, not a film.
const NOT_A_FILM: c_int = ffi::AV_DISPOSITION_ATTACHED_PIC
    | ffi::AV_DISPOSITION_TIMED_THUMBNAILS
    | ffi::AV_DISPOSITION_STILL_IMAGE;

/// The headers of the chosen track.
pub(super) struct Track {
    pub index: usize,
    /// As the header counts them, 0 where it does not.
    pub frames: i64,
    pub codec: codec::Id,
    pub time_base: Rational,
    pub size: (i64, i64),
    pub interlaced: bool,
    pub transfer: String,
    pub square_pixels: bool,
    pub matrix: Option<[i32; 9]>,
    pub stated_fps: Option<f64>,
    pub mean_fps: Option<f64>,
    pub entry_rule: EntryRule,
    pub warnings: Vec<String>,
}

/// Picks the film: the track flagged as default, then the one with the most
/// frames, then the largest, then the first; never a cover picture or an empty
/// track.
pub(super) fn choose(input: &Input) -> Option<Track> {
    let films: Vec<Stream<'_>> = input.streams().filter(is_film).collect();
    let best = films.iter().max_by_key(|stream| {
        let facts = facts(stream);
        (
            holds_frames(input, stream),
            codecs::is_picture(facts.codec.name()) && decoder::find(facts.codec).is_some(),
            stream.disposition().bits() & ffi::AV_DISPOSITION_DEFAULT != 0,
            stream.frames(),
            facts.size.0 * facts.size.1,
            std::cmp::Reverse(stream.index()),
        )
    })?;
    let mut track = facts(best);
    let filled = films.iter().filter(|s| holds_frames(input, s)).count();
    if filled > 1 {
        track.warnings.push(format!(
            "{filled} video tracks; track {} ({}x{}) is used",
            track.index, track.size.0, track.size.1
        ));
    }
    track.stated_fps = track.stated_fps.or_else(|| stated(&input.metadata()));
    if let Some(fps) = track.stated_fps.filter(|f| !CAPTURE_FPS.contains(f)) {
        track.warnings.push(format!(
            "its metadata state a capture rate of {fps} frames per second, which no camera reaches: \
             that is not used"
        ));
        track.stated_fps = None;
    }
    Some(track)
}

impl Track {
    /// Whether it may be decoded, by its header.
    pub(super) fn check(&self, path: &Path) -> Result<(), ClipError> {
        let codec = self.codec.name();
        if !codecs::is_picture(codec) {
            return Err(ClipError::Codec {
                path: path.to_path_buf(),
                codec: codec.to_owned(),
            });
        }
        super::scan::count(path, usize::try_from(self.frames).unwrap_or(0))
    }
}

fn is_film(stream: &Stream<'_>) -> bool {
    // SAFETY: the stream lives as long as the input it is borrowed from; the
    // binding's own flags leave out two of the three asked for.
    let disposition = unsafe { (*stream.as_ptr()).disposition };
    stream.parameters().medium() == media::Type::Video && disposition & NOT_A_FILM == 0
}

/// MP4 and MOV list their frames beforehand, others are taken on trust.
fn holds_frames(input: &Input, stream: &Stream<'_>) -> bool {
    !is_mov(input) || stream.frames() > 0 || listed_frames(stream).is_some()
}

/// Whether the container is of the MP4 and MOV family.
pub(super) fn is_mov(input: &Input) -> bool {
    input.format().name().split(',').any(|name| name == "mov")
}

/// Frames in the container's own table: shown and in all; `None` without one.
pub(super) fn listed_frames(stream: &Stream<'_>) -> Option<(usize, usize)> {
    // SAFETY: the table belongs to the stream, which the borrow keeps alive;
    // nothing between the two calls and the read of an entry changes it.
    unsafe {
        let ptr = stream.as_ptr().cast_mut();
        let all = ffi::avformat_index_get_entries_count(ptr);
        let shown = (0..all)
            .filter_map(|i| ffi::avformat_index_get_entry(ptr, i).as_ref())
            .filter(|entry| entry.flags() & ffi::AVINDEX_DISCARD_FRAME == 0)
            .count();
        (all > 0).then_some((shown, usize::try_from(all).unwrap_or(0)))
    }
}

fn facts(stream: &Stream<'_>) -> Track {
    let parameters = stream.parameters();
    // SAFETY: the parameters belong to the stream, which the borrow keeps
    // alive; extradata is null or `extradata_size` bytes long.
    let (raw, extradata) = unsafe {
        let raw = &*parameters.as_ptr();
        let extradata: &[u8] = if raw.extradata.is_null() {
            &[]
        } else {
            std::slice::from_raw_parts(
                raw.extradata,
                usize::try_from(raw.extradata_size).unwrap_or(0),
            )
        };
        (raw, extradata)
    };
    let codec = parameters.id();
    let aspect = (raw.sample_aspect_ratio.num, raw.sample_aspect_ratio.den);
    let matrix = stream
        .side_data()
        .find(|data| data.kind() == packet::side_data::Type::DisplayMatrix)
        .and_then(|data| orientation::matrix_from_bytes(data.data()));
    Track {
        index: stream.index(),
        frames: stream.frames(),
        codec,
        time_base: stream.time_base(),
        size: (i64::from(raw.width), i64::from(raw.height)),
        interlaced: !matches!(
            raw.field_order,
            ffi::AVFieldOrder::AV_FIELD_UNKNOWN | ffi::AVFieldOrder::AV_FIELD_PROGRESSIVE
        ),
        transfer: color::TransferCharacteristic::from(raw.color_trc)
            .name()
            .unwrap_or("unspecified")
            .to_owned(),
        square_pixels: aspect.0 == 0 || aspect.0 == aspect.1,
        matrix,
        stated_fps: stated(&stream.metadata()),
        mean_fps: positive(f64::from(stream.avg_frame_rate())),
        entry_rule: EntryRule::new(codec, super::decoder::intra_only(codec), extradata),
        warnings: Vec::new(),
    }
}

/// A capture rate in the metadata.
fn stated(metadata: &ffmpeg_next::DictionaryRef<'_>) -> Option<f64> {
    metadata
        .get("com.android.capture.fps")
        .and_then(|text| text.trim().parse().ok())
        .and_then(positive)
}

fn positive(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}
