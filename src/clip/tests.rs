//! Checks that need the inside of this room.

#[path = "../../tests/support/mod.rs"]
mod support;

use ffmpeg_next::format::Pixel;
use ffmpeg_next::{color, frame};
use support::{Bench, hash, reference_hashes};

use super::luma::LumaReader;
use super::{Depth, FrameSink, LumaFrame, ProbeOptions, decode, probe, stretch};
use crate::units::StoredTime;

/// A picture of 5×4 samples counted up from 0, `step` apart.
fn counted(pixel: Pixel, bytes: usize, step: u16) -> frame::Video {
    let mut picture = frame::Video::new(pixel, 5, 4);
    let stride = picture.stride(0);
    for (y, row) in picture.data_mut(0).chunks_mut(stride).take(4).enumerate() {
        for (x, sample) in row.chunks_mut(bytes).take(5).enumerate() {
            let value = step * u16::try_from(y * 5 + x).unwrap();
            sample.copy_from_slice(&value.to_le_bytes()[..bytes]);
        }
    }
    picture
}

fn rows(reader: &mut LumaReader, picture: &frame::Video) -> Vec<Vec<f32>> {
    let luma = reader.read(picture, StoredTime(0.0)).unwrap();
    let row = |y| {
        let mut out = vec![0.0; 5];
        luma.row(y, 0, &mut out);
        out
    };
    (0..4).map(row).collect()
}

#[test]
fn rows_that_run_upwards_in_memory_are_walked_backwards() {
    let mut picture = counted(Pixel::GRAY8, 1, 1);
    let upright = rows(&mut LumaReader::default(), &picture);
    assert_eq!(upright[3][4], 19.0 / 255.0);
    // SAFETY: still inside the frame's own buffer: from the last row upwards.
    unsafe {
        let raw = picture.as_mut_ptr();
        let line = (*raw).linesize[0];
        (*raw).data[0] = (*raw).data[0].offset(3 * line as isize);
        (*raw).linesize[0] = -line;
    }
    let mut flipped = rows(&mut LumaReader::default(), &picture);
    flipped.reverse();
    assert_eq!(flipped, upright);
}

#[test]
fn misaligned_samples_are_copied() {
    let mut picture = counted(Pixel::GRAY16LE, 2, 1000);
    let upright = rows(&mut LumaReader::default(), &picture);
    // SAFETY: moves the rows by one byte inside the frame's padded buffer.
    unsafe {
        let raw = picture.as_mut_ptr();
        let line = (*raw).linesize[0] as usize;
        for y in 0..4 {
            let row = (*raw).data[0].add(y * line);
            std::ptr::copy(row, row.add(1), 10);
        }
        (*raw).data[0] = (*raw).data[0].add(1);
    }
    assert_eq!(rows(&mut LumaReader::default(), &picture), upright);
}

/// P010 keeps its ten bits at the top of the word: black 64, white 940
/// (ITU-T H.273) become 4096 and 60160.
#[test]
fn high_aligned_samples_come_out_on_the_same_scale() {
    let mut picture = counted(Pixel::P010LE, 2, 64 * 46);
    picture.set_color_range(color::Range::MPEG);
    let luma = rows(&mut LumaReader::default(), &picture);
    assert!((luma[0][0] + 64.0 / 876.0).abs() < 1e-6);
    assert!((luma[3][4] - (19.0 * 46.0 - 64.0) / 876.0).abs() < 1e-6);
}

#[derive(Default)]
struct Hashes(Vec<String>);

impl FrameSink for Hashes {
    type Out = Vec<String>;

    fn frame(&mut self, frame: &LumaFrame<'_>) {
        let Depth::Eight(samples) = frame.samples else {
            return;
        };
        let (w, _) = frame.size;
        let rows = samples.chunks(frame.stride).map(|row| &row[..w]);
        self.0.push(hash(&rows.collect::<Vec<_>>().concat()));
    }

    fn finish(self) -> Vec<String> {
        self.0
    }
}

/// In one go, in stretches, and by the reference decoder: the same frames.
#[test]
fn a_cut_clip_decodes_as_a_whole_one() {
    let Some(bench) = Bench::with(&["libx265"]) else {
        return;
    };
    let args = "-c:v libx265 -pix_fmt yuv420p -x265-params \
                keyint=60:min-keyint=60:bframes=4:scenecut=0:open-gop=1:log-level=none";
    let clip = bench.moving("cra.mp4", "160x120", "240", 240, args);
    let mut index = probe(&clip, &ProbeOptions::default()).unwrap();
    let leading = index
        .plan
        .stretches
        .iter()
        .filter(|s| s.tail_end > s.end + 1);
    assert_eq!(leading.count(), 3, "the clip has leading pictures");
    let pass = |index: &super::ClipIndex| {
        let mut all = Vec::new();
        let joined = |part: Vec<String>| all.extend(part);
        decode(index, 2, |_| Hashes::default(), joined, |_| {}).unwrap();
        all
    };
    let cut = pass(&index);
    index.plan.stretches = stretch::plan(&[]);
    let whole = pass(&index);
    assert_eq!(cut, whole);
    assert_eq!(cut, reference_hashes(&clip));
}

#[test]
fn the_version_of_ffmpeg_is_a_number_with_dots() {
    let version = super::ffmpeg_version();
    let released = version.starts_with(|c: char| c.is_ascii_digit());
    assert!(!released || !version.contains('-'), "{version}");
    assert!(!version.is_empty());
}
