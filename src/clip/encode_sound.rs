//! The sound track of a video file to be written: one channel, AAC in MP4 and
//! plain samples in QuickTime and Matroska, which every FFmpeg can write.

use std::path::Path;

use ffmpeg_next as ffmpeg;

use ffmpeg::format::{Sample, context::Output, sample::Type};
use ffmpeg::util::error::EAGAIN;
use ffmpeg::{ChannelLayout, Packet, Rational, codec, encoder, frame};

use super::encode_spec::EncodeError;

/// Samples that are encoded at a time.
const BLOCK: usize = 1024;
/// Bits per second of AAC.
const BIT_RATE: usize = 128_000;

/// An open sound track.
pub(super) struct SoundTrack {
    encoder: encoder::audio::Encoder,
    stream: usize,
    base: Rational,
    stream_base: Rational,
    coded: bool,
    waiting: Vec<i16>,
    next: i64,
}

fn failed(path: &Path, step: &'static str) -> impl Fn(ffmpeg::Error) -> EncodeError {
    move |e| EncodeError::Ffmpeg {
        path: path.to_path_buf(),
        step,
        why: e.to_string(),
    }
}

impl SoundTrack {
    /// Adds a track of `rate` samples a second to a file whose header is not
    /// yet written.
    pub(super) fn open(
        path: &Path,
        output: &mut Output,
        container: &str,
        rate: i32,
        flags: codec::Flags,
    ) -> Result<Self, EncodeError> {
        let coded = container == "mp4";
        let name = if coded { "aac" } else { "pcm_s16le" };
        let codec = encoder::find_by_name(name).ok_or_else(|| EncodeError::NoEncoder {
            path: path.to_path_buf(),
            codec: if coded { "AAC" } else { "PCM" },
        })?;
        let err = failed(path, "opening the sound's encoder");
        let mut audio = codec::context::Context::new_with_codec(codec)
            .encoder()
            .audio()
            .map_err(&err)?;
        let base = Rational::new(1, rate);
        audio.set_rate(rate);
        audio.set_format(if coded {
            Sample::F32(Type::Planar)
        } else {
            Sample::I16(Type::Packed)
        });
        audio.set_channel_layout(ChannelLayout::MONO);
        audio.set_time_base(base);
        if coded {
            audio.set_bit_rate(BIT_RATE);
        }
        audio.set_flags(flags);
        let encoder = audio.open().map_err(&err)?;
        let mut stream = output.add_stream(codec).map_err(&err)?;
        stream.set_parameters(&encoder);
        stream.set_time_base(base);
        Ok(Self {
            stream: stream.index(),
            encoder,
            base,
            stream_base: base,
            coded,
            waiting: Vec::new(),
            next: 0,
        })
    }

    /// Once the header is written: the time base the container chose.
    pub(super) fn begin(&mut self, output: &Output) {
        self.stream_base = output
            .stream(self.stream)
            .map_or(self.base, |s| s.time_base());
    }

    /// Leaves out `samples` before the first.
    pub(super) fn skip(&mut self, samples: i64) {
        self.next += samples;
    }

    /// Encodes samples that follow those before.
    pub(super) fn push(
        &mut self,
        path: &Path,
        output: &mut Output,
        samples: &[i16],
    ) -> Result<(), EncodeError> {
        self.waiting.extend_from_slice(samples);
        while self.waiting.len() >= BLOCK {
            let block: Vec<i16> = self.waiting.drain(..BLOCK).collect();
            self.encode(path, output, &block)?;
        }
        Ok(())
    }

    /// Writes what is left.
    pub(super) fn finish(&mut self, path: &Path, output: &mut Output) -> Result<(), EncodeError> {
        let rest = std::mem::take(&mut self.waiting);
        if !rest.is_empty() {
            self.encode(path, output, &rest)?;
        }
        let err = failed(path, "encoding sound");
        self.encoder.send_eof().map_err(err)?;
        self.drain(path, output)
    }

    fn encode(
        &mut self,
        path: &Path,
        output: &mut Output,
        block: &[i16],
    ) -> Result<(), EncodeError> {
        let mut sound = frame::Audio::new(self.encoder.format(), block.len(), ChannelLayout::MONO);
        sound.set_rate(u32::try_from(self.base.denominator()).unwrap_or(0));
        if self.coded {
            let plane = sound.plane_mut::<f32>(0);
            for (to, v) in plane.iter_mut().zip(block) {
                *to = f32::from(*v) / 32768.0;
            }
        } else {
            sound.plane_mut::<i16>(0)[..block.len()].copy_from_slice(block);
        }
        sound.set_pts(Some(self.next));
        self.next += block.len() as i64;
        let err = failed(path, "encoding sound");
        self.encoder.send_frame(&sound).map_err(err)?;
        self.drain(path, output)
    }

    fn drain(&mut self, path: &Path, output: &mut Output) -> Result<(), EncodeError> {
        let mut packet = Packet::empty();
        loop {
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {}
                Err(ffmpeg::Error::Eof | ffmpeg::Error::Other { errno: EAGAIN }) => return Ok(()),
                Err(e) => return Err(failed(path, "encoding sound")(e)),
            }
            packet.set_stream(self.stream);
            packet.rescale_ts(self.base, self.stream_base);
            packet
                .write_interleaved(output)
                .map_err(failed(path, "writing sound"))?;
        }
    }
}
