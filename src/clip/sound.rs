//! The sound of a clip as one channel on the picture's time line.
//!
//! In: a probed clip. Out: [`Sound`], or `None` where there is no sound track.
//! The track has a time base and a start of its own; both are honoured, and so
//! is an edit list that takes off what the coder put before the first sample.
//! Failures: [`ClipError`]. How well camera and coder kept sound and picture
//! together when they wrote the file cannot be seen in it.

use std::path::Path;

use ffmpeg_next::codec::{self, Parameters};
use ffmpeg_next::format::{Sample, context::Input, sample::Type};
use ffmpeg_next::{Error as FfError, Packet, Rational, decoder, frame, media};

use super::open::decoder_error;
use super::watch::Watch;
use super::{ClipError, ClipIndex, cage, codecs, open, scan};
use crate::units::StoredTime;

/// The sound of a clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// Samples per stored second.
    pub rate: u32,
    /// Time of the first sample; below 0 where the sound starts before the
    /// first shown frame.
    pub start: StoredTime,
    /// Mean of the channels, full scale ± 32767.
    pub samples: Vec<i16>,
}

/// Stamps that differ from the count of samples by more than this are
/// believed, seconds: below lies what containers round.
const STEP_S: f64 = 0.010;
/// How far sound is kept beyond the last picture, seconds.
const BEYOND_S: f64 = 10.0;
/// Highest rate that is used, samples per second: four times what any camera
/// writes.
const HIGHEST_RATE: u32 = 768_000;

/// Most samples that are kept: an hour and a half at 48 kHz, half a gigabyte.
const MOST_SAMPLES: usize = 1 << 28;

/// Decodes the sound track.
///
/// # Errors
/// The file changed or cannot be read, or no decoder takes the track.
pub fn sound(index: &ClipIndex) -> Result<Option<Sound>, ClipError> {
    let path = &index.path;
    let (mut input, length) = open::open(path, index.plan.options)?;
    if length != index.plan.length {
        return Err(ClipError::Changed { path: path.clone() });
    }
    let best = input.streams().best(media::Type::Audio);
    let Some((track, base, parameters)) =
        best.map(|s| (s.index(), s.time_base(), s.parameters().clone()))
    else {
        return Ok(None);
    };
    let codec = parameters.id().name();
    if !codecs::is_sound(codec) {
        return Err(ClipError::Codec {
            path: path.clone(),
            codec: format!("{codec} (its sound)"),
        });
    }
    let no_decoder = || ClipError::NoDecoder {
        path: path.clone(),
        codec: parameters.id().name().to_owned(),
    };
    let mut decoder = opened(parameters.clone(), base).map_err(|_| no_decoder())?;
    scan::only(&mut input, track);
    let mut tape = Tape {
        tick_s: f64::from(base),
        origin_s: index.plan.origin as f64 * f64::from(index.plan.time_base),
        until_s: index.stamps.last().copied().unwrap_or(0.0) + BEYOND_S,
        sound: None,
        full: false,
    };
    // Made before the cage shuts.
    let watch = Watch::reading(length);
    cage::shut_in(|| play(&mut input, (path, track), &mut decoder, &mut tape, &watch))?;
    if tape.full {
        return Err(ClipError::TooLong {
            path: path.clone(),
            what: format!("its sound has more than {MOST_SAMPLES} samples, more than any film"),
        });
    }
    Ok(tape.sound)
}

/// Decodes the whole track.
fn play(
    input: &mut Input,
    (path, track): (&Path, usize),
    decoder: &mut decoder::Audio,
    tape: &mut Tape,
    watch: &Watch,
) -> Result<(), ClipError> {
    let mut damaged = 0;
    while let Some(packet) = scan::next_packet(input, track, path, &mut damaged)? {
        watch.check(path)?;
        feed(decoder, Some(&packet), tape).map_err(|e| decoder_error(path, e))?;
    }
    feed(decoder, None, tape).map_err(|e| decoder_error(path, e))
}

fn opened(parameters: Parameters, base: Rational) -> Result<decoder::Audio, FfError> {
    let context = codec::Context::from_parameters(parameters)?;
    let mut decoder = context.decoder();
    decoder.set_packet_time_base(base);
    decoder.audio()
}

/// Gives the decoder a packet; damaged ones leave a hole.
fn feed(
    decoder: &mut decoder::Audio,
    packet: Option<&Packet>,
    tape: &mut Tape,
) -> Result<(), FfError> {
    let sent = match packet {
        Some(packet) => decoder.send_packet(packet),
        None => decoder.send_eof(),
    };
    let no_memory = |e: &FfError| {
        matches!(
            e,
            FfError::Other {
                errno: ffmpeg_next::error::ENOMEM
            }
        )
    };
    match sent {
        Err(e) if no_memory(&e) => return Err(e),
        _ => {}
    }
    let mut frame = frame::Audio::empty();
    loop {
        match decoder.receive_frame(&mut frame) {
            Ok(()) => tape.add(&frame),
            Err(e) if no_memory(&e) => return Err(e),
            Err(_) => return Ok(()),
        }
    }
}

/// Samples put where their stamps say.
struct Tape {
    tick_s: f64,
    origin_s: f64,
    /// Nothing later is kept: silence that stamps ask for is bounded by the film.
    until_s: f64,
    sound: Option<Sound>,
    /// There is more than is kept.
    full: bool,
}

impl Tape {
    fn add(&mut self, frame: &frame::Audio) {
        let rate = frame.rate();
        if rate == 0 || rate > HIGHEST_RATE || frame.samples() == 0 {
            return;
        }
        let at = frame
            .timestamp()
            .map(|t| t as f64 * self.tick_s - self.origin_s);
        if at.is_some_and(|t| t > self.until_s) {
            return;
        }
        let mixed = mono(frame);
        let sound = self.sound.get_or_insert_with(|| Sound {
            rate,
            start: StoredTime(at.unwrap_or(-self.origin_s)),
            samples: Vec::new(),
        });
        if sound.rate != rate {
            return;
        }
        let per_s = f64::from(rate);
        let due = sound.start.0 + sound.samples.len() as f64 / per_s;
        if due > self.until_s {
            return;
        }
        let jump = at.map_or(0.0, |t| t - due);
        let mut skip = 0;
        let silent = (jump.max(0.0) * per_s).round() as usize;
        if sound.samples.len().saturating_add(silent) > MOST_SAMPLES {
            self.full = true;
            return;
        }
        if jump > STEP_S {
            sound.samples.resize(sound.samples.len() + silent, 0);
        } else if jump < -STEP_S {
            skip = ((-jump * per_s).round() as usize).min(mixed.len());
        }
        sound.samples.extend_from_slice(&mixed[skip..]);
    }
}

/// The mean of the channels.
fn mono(frame: &frame::Audio) -> Vec<i16> {
    /// Full scale of 16 bits.
    const FULL: f32 = 32767.0;
    match frame.format() {
        Sample::U8(t) => mixed(frame, t, |v: u8| (f32::from(v) - 128.0) / 128.0 * FULL),
        Sample::I16(t) => mixed(frame, t, |v: i16| f32::from(v)),
        Sample::I32(t) => mixed(frame, t, |v: i32| (f64::from(v) / 65536.0) as f32),
        Sample::F32(t) => mixed(frame, t, |v: f32| v * FULL),
        Sample::F64(t) => mixed(frame, t, |v: f64| v as f32 * FULL),
        Sample::I64(_) | Sample::None => vec![0; frame.samples()],
    }
}

fn mixed<T: Copy + frame::audio::Sample>(
    frame: &frame::Audio,
    kind: Type,
    value: impl Fn(T) -> f32,
) -> Vec<i16> {
    let channels = usize::from(frame.channels()).max(1);
    let n = frame.samples();
    let mut sum = vec![0.0f32; n];
    if kind == Type::Planar {
        for plane in 0..frame.planes() {
            let samples = sum.iter_mut().zip(frame.plane::<T>(plane));
            samples.for_each(|(s, v)| *s += value(*v));
        }
    } else if frame.planes() > 0 {
        let groups = frame.plane::<T>(0).chunks_exact(channels);
        for (s, group) in sum.iter_mut().zip(groups) {
            *s = group.iter().map(|v| value(*v)).sum();
        }
    }
    let share = 1.0 / channels as f32;
    let clipped = |s: f32| (s * share).round().clamp(-32768.0, 32767.0) as i16;
    sum.into_iter().map(clipped).collect()
}
