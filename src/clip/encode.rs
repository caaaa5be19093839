//! Writes luma and chroma planes into a video file.
//!
//! In: planar 4:2:0 pictures with presentation stamps. Out: a file that stands
//! under its name only once it is complete (it is written beside it first and
//! renamed by [`Encoder::finish`]). With one FFmpeg build, the same pictures
//! and the same [`EncodeSpec`] give the same bytes: one thread, no writer
//! string, no date.

use std::path::{Path, PathBuf};

use ffmpeg_next as ffmpeg;

use ffmpeg::format::{Pixel, context::Output};
use ffmpeg::util::error::EAGAIN;
use ffmpeg::{Dictionary, Packet, Rational, codec, color, encoder, frame};

use super::encode_sound::SoundTrack;
use super::encode_spec::{Codec, EncodeError, EncodeSpec, Planes};
use super::turn;
use crate::beside::{Part, beside};

/// An open video file.
pub struct Encoder {
    target: PathBuf,
    part: Part,
    output: Output,
    encoder: encoder::Video,
    sound: Option<SoundTrack>,
    spec: EncodeSpec,
    pixel: Pixel,
    base: Rational,
    stream_base: Rational,
    last_pts: Option<i64>,
}

impl Encoder {
    /// Opens `path` for writing; its extension chooses the container
    /// (`mp4`, `mov`, `mkv`).
    ///
    /// # Errors
    /// Where the folder cannot be written, the extension or the codec is not
    /// known to the FFmpeg at hand, or the size is odd.
    pub fn create(path: &Path, spec: &EncodeSpec) -> Result<Self, EncodeError> {
        let container = container_of(path)?;
        spec.check(path, container)?;
        ffmpeg::init().map_err(|e| failed(path, "starting FFmpeg", e))?;
        ffmpeg::log::set_level(ffmpeg::log::Level::Fatal);
        let (chosen, name) = spec.codec.choose(path)?;
        // The binding takes paths as UTF-8 only.
        if path.to_str().is_none() {
            return Err(EncodeError::Unfit {
                path: path.to_path_buf(),
                what: "the name must be UTF-8".into(),
            });
        }
        let part = beside(path).map_err(|source| EncodeError::Io {
            path: path.to_path_buf(),
            source,
        })?;
        open(path, part, container, spec, chosen, name)
    }

    /// Ticks per second of the stamps given to [`Self::push`].
    pub fn ticks_per_second(&self) -> i64 {
        i64::from(self.base.denominator())
    }

    /// Encodes one picture shown from `pts` on, in ticks of
    /// [`Self::ticks_per_second`]; stamps must rise.
    ///
    /// # Errors
    /// Where a plane has the wrong size, stamps do not rise, or FFmpeg refuses.
    pub fn push(&mut self, planes: Planes<'_>, pts: i64) -> Result<(), EncodeError> {
        if self.last_pts.is_some_and(|last| pts <= last) {
            return Err(self.misuse(format!("stamp {pts} does not rise")));
        }
        let (w, h) = self.spec.size;
        let mut picture = frame::Video::new(self.pixel, px(w), px(h));
        let chroma = (w / 2, h / 2);
        let fits = match planes {
            Planes::Eight { luma, cb, cr } => {
                self.spec.depth == 8
                    && fill(&mut picture, 0, luma, (w, h))
                    && fill(&mut picture, 1, cb, chroma)
                    && fill(&mut picture, 2, cr, chroma)
            }
            Planes::Sixteen { luma, cb, cr } => {
                self.spec.depth == 10
                    && fill16(&mut picture, 0, luma, (w, h))
                    && fill16(&mut picture, 1, cb, chroma)
                    && fill16(&mut picture, 2, cr, chroma)
            }
        };
        if !fits {
            return Err(self.misuse("planes do not fit the size and depth".into()));
        }
        picture.set_pts(Some(pts));
        self.last_pts = Some(pts);
        self.encoder
            .send_frame(&picture)
            .map_err(|e| failed(&self.target, "encoding", e))?;
        self.drain()
    }

    /// Encodes samples of sound (one channel, full scale ± 32767) that follow
    /// those given before; without [`EncodeSpec::sound_rate`] they are dropped.
    ///
    /// # Errors
    /// Where FFmpeg refuses.
    pub fn push_sound(&mut self, samples: &[i16]) -> Result<(), EncodeError> {
        match &mut self.sound {
            Some(track) => track.push(&self.target, &mut self.output, samples),
            None => Ok(()),
        }
    }

    /// The sound starts so many samples late.
    pub fn delay_sound(&mut self, samples: i64) {
        if let Some(track) = &mut self.sound {
            track.skip(samples);
        }
    }

    /// Writes what is still held back, closes the file and gives it its name.
    ///
    /// # Errors
    /// Where the rest cannot be written (disk full, say).
    pub fn finish(mut self) -> Result<(), EncodeError> {
        self.encoder
            .send_eof()
            .map_err(|e| failed(&self.target, "encoding", e))?;
        self.drain()?;
        if let Some(track) = &mut self.sound {
            track.finish(&self.target, &mut self.output)?;
        }
        self.output
            .write_trailer()
            .map_err(|e| failed(&self.target, "closing", e))?;
        let io = |source| EncodeError::Io {
            path: self.target.clone(),
            source,
        };
        if self.spec.quarter_turns != 0 {
            turn::write(self.part.path(), self.spec.quarter_turns, self.spec.size).map_err(io)?;
        }
        self.part.keep(&self.target).map_err(io)
    }

    fn drain(&mut self) -> Result<(), EncodeError> {
        let mut packet = Packet::empty();
        loop {
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {}
                Err(ffmpeg::Error::Eof | ffmpeg::Error::Other { errno: EAGAIN }) => return Ok(()),
                Err(e) => return Err(failed(&self.target, "encoding", e)),
            }
            packet.set_stream(0);
            packet.rescale_ts(self.base, self.stream_base);
            packet
                .write_interleaved(&mut self.output)
                .map_err(|e| failed(&self.target, "writing", e))?;
        }
    }

    fn misuse(&self, what: String) -> EncodeError {
        EncodeError::Unfit {
            path: self.target.clone(),
            what,
        }
    }
}

fn open(
    path: &Path,
    part: Part,
    container: &str,
    spec: &EncodeSpec,
    chosen: Codec,
    name: &str,
) -> Result<Encoder, EncodeError> {
    let err = |what: &'static str| move |e| failed(path, what, e);
    let codec = encoder::find_by_name(name).ok_or_else(|| EncodeError::NoEncoder {
        path: path.to_path_buf(),
        codec: chosen.name(),
    })?;
    let mut output = ffmpeg::format::output_as(part.path(), container).map_err(err("opening"))?;
    let mut video = codec::context::Context::new_with_codec(codec)
        .encoder()
        .video()
        .map_err(err("opening the encoder"))?;
    let base = Rational::new(1, chosen.ticks());
    let pixel = pixel(chosen, spec);
    video.set_width(px(spec.size.0));
    video.set_height(px(spec.size.1));
    video.set_format(pixel);
    video.set_time_base(base);
    video.set_frame_rate(Some(Rational::from(spec.nominal_fps)));
    video.set_gop(spec.keyint);
    video.set_max_b_frames(spec.b_frames);
    video.set_color_range(if spec.full_range {
        color::Range::JPEG
    } else {
        color::Range::MPEG
    });
    video.set_colorspace(color::Space::BT709);
    video.set_color_primaries(color::Primaries::BT709);
    video.set_color_transfer_characteristic(color::TransferCharacteristic::BT709);
    video.set_threading(codec::threading::Config::count(1));
    let mut flags = codec::Flags::BITEXACT;
    if output
        .format()
        .flags()
        .contains(ffmpeg::format::Flags::GLOBAL_HEADER)
    {
        flags |= codec::Flags::GLOBAL_HEADER;
    }
    let plain_flags = flags;
    if chosen == Codec::Mpeg4 {
        flags |= codec::Flags::QSCALE;
        video.set_global_quality(spec.mpeg4_lambda());
    }
    video.set_flags(flags);
    let encoder = video
        .open_with(dictionary(&spec.options(chosen)))
        .map_err(err("opening the encoder"))?;
    let mut stream = output.add_stream(codec).map_err(err("opening"))?;
    stream.set_parameters(&encoder);
    stream.set_time_base(base);
    stream.set_avg_frame_rate(Rational::from(spec.nominal_fps));
    let mut sound = spec
        .sound_rate
        .map(|rate| SoundTrack::open(path, &mut output, container, rate, plain_flags))
        .transpose()?;
    output.set_metadata(dictionary(&spec.metadata));
    let mut mux = vec![("fflags".to_owned(), "+bitexact".to_owned())];
    if container != "matroska" {
        mux.push(("video_track_timescale".into(), chosen.ticks().to_string()));
        mux.push(("movflags".into(), "use_metadata_tags".into()));
    }
    output
        .write_header_with(dictionary(&mux))
        .map_err(err("writing the header"))?;
    let stream_base = output.stream(0).map_or(base, |s| s.time_base());
    if let Some(track) = &mut sound {
        track.begin(&output);
    }
    Ok(Encoder {
        sound,
        target: path.to_path_buf(),
        part,
        output,
        encoder,
        spec: EncodeSpec {
            codec: chosen,
            ..spec.clone()
        },
        pixel,
        base,
        stream_base,
        last_pts: None,
    })
}

fn container_of(path: &Path) -> Result<&'static str, EncodeError> {
    let extension = path
        .extension()
        .map(|e| e.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("mp4" | "m4v") => Ok("mp4"),
        Some("mov") => Ok("mov"),
        Some("mkv") => Ok("matroska"),
        _ => Err(EncodeError::Container {
            path: path.to_path_buf(),
        }),
    }
}

fn pixel(codec: Codec, spec: &EncodeSpec) -> Pixel {
    match (spec.depth, codec, spec.full_range) {
        (10, _, _) => Pixel::YUV420P10LE,
        // The "J" formats are the one way every encoder takes full range.
        (_, Codec::H264, true) => Pixel::YUVJ420P,
        _ => Pixel::YUV420P,
    }
}

fn dictionary(pairs: &[(String, String)]) -> Dictionary<'static> {
    let mut out = Dictionary::new();
    for (key, value) in pairs {
        out.set(key, value);
    }
    out
}

fn failed(path: &Path, step: &'static str, source: ffmpeg::Error) -> EncodeError {
    EncodeError::Ffmpeg {
        path: path.to_path_buf(),
        step,
        why: source.to_string(),
    }
}

fn px(n: usize) -> u32 {
    n as u32
}

fn fill(picture: &mut frame::Video, plane: usize, from: &[u8], (w, h): (usize, usize)) -> bool {
    let stride = picture.stride(plane);
    if from.len() != w * h || stride < w {
        return false;
    }
    let rows = picture.data_mut(plane).chunks_mut(stride);
    for (to, row) in rows.zip(from.chunks_exact(w)) {
        to[..w].copy_from_slice(row);
    }
    true
}

fn fill16(picture: &mut frame::Video, plane: usize, from: &[u16], (w, h): (usize, usize)) -> bool {
    let stride = picture.stride(plane);
    if from.len() != w * h || stride < 2 * w {
        return false;
    }
    let rows = picture.data_mut(plane).chunks_mut(stride);
    for (to, row) in rows.zip(from.chunks_exact(w)) {
        for (bytes, value) in to.chunks_exact_mut(2).zip(row) {
            bytes.copy_from_slice(&value.to_le_bytes());
        }
    }
    true
}

#[cfg(test)]
#[path = "encode_tests.rs"]
mod tests;
