//! The luma plane of a decoded frame, without a copy where that can be.

use ffmpeg_next::format::Pixel;
use ffmpeg_next::software::scaling;
use ffmpeg_next::{Error as FfError, color, ffi, frame};

use super::levels::{self, Layout};
use super::{Chroma, Depth, LumaFrame};
use crate::units::StoredTime;

const GRAY16: Pixel = if cfg!(target_endian = "big") {
    Pixel::GRAY16BE
} else {
    Pixel::GRAY16LE
};

/// Reads frames of one size and pixel format.
#[derive(Default)]
pub(super) struct LumaReader {
    converter: Option<(scaling::Context, frame::Video)>,
    bytes: Vec<u8>,
    words: Vec<u16>,
}

/// Plane 0 as FFmpeg holds it: rows may run upwards in memory.
struct Plane<'a> {
    frame: &'a frame::Video,
    width: usize,
    height: usize,
}

impl LumaReader {
    /// The frame's luma.
    pub(super) fn read<'a>(
        &'a mut self,
        frame: &'a frame::Video,
        time: StoredTime,
    ) -> Result<LumaFrame<'a>, FfError> {
        let pixel = frame.format();
        let layout = levels::layout(pixel);
        let full = layout.is_full(pixel, frame.color_range());
        let size = (frame.width() as usize, frame.height() as usize);
        let key = frame.is_key();
        let chroma = if layout.direct {
            Chroma::of(frame, full)
        } else {
            None
        };
        let (source, layout, full) = if layout.direct {
            (frame, layout, full)
        } else {
            let gray = convert(&mut self.converter, frame, layout, full)?;
            (gray, levels::layout(gray.format()), true)
        };
        let plane = Plane {
            frame: source,
            width: size.0,
            height: size.1,
        };
        let (samples, stride) = if layout.bits == 8 {
            plane
                .samples(&mut self.bytes)
                .map(|(s, n)| (Depth::Eight(s), n))
        } else {
            plane
                .samples(&mut self.words)
                .map(|(s, n)| (Depth::Sixteen(s), n))
        }
        .ok_or(FfError::InvalidData)?;
        Ok(LumaFrame {
            time,
            size,
            samples,
            stride,
            levels: layout.levels(full),
            key,
            chroma,
        })
    }
}

impl<'a> Plane<'a> {
    /// The visible samples and the stride in samples: the decoder's own memory,
    /// or `scratch` where rows run upwards or are not aligned.
    fn samples<T: Copy + Default>(&self, scratch: &'a mut Vec<T>) -> Option<(&'a [T], usize)> {
        let unit = size_of::<T>();
        // SAFETY: reads two fields of a live frame.
        let (data, line) = unsafe {
            let raw = &*self.frame.as_ptr();
            (raw.data[0].cast_const(), raw.linesize[0] as isize)
        };
        if data.is_null() || self.height == 0 || line.unsigned_abs() < self.width * unit {
            return None;
        }
        let aligned = data.align_offset(align_of::<T>()) == 0 && line.unsigned_abs() % unit == 0;
        if line > 0 && aligned {
            let stride = line.unsigned_abs() / unit;
            let length = stride * (self.height - 1) + self.width;
            // SAFETY: a frame's plane holds `height` rows `line` bytes apart,
            // each at least `width` samples long (checked above), and lives as
            // long as the frame; the last row's padding is left out.
            return Some((
                unsafe { std::slice::from_raw_parts(data.cast(), length) },
                stride,
            ));
        }
        scratch.clear();
        scratch.resize(self.width * self.height, T::default());
        for (y, row) in scratch.chunks_exact_mut(self.width).enumerate() {
            // SAFETY: as above; with a negative `line` the rows lie before
            // `data`. The bytes may be unaligned, hence copied as bytes.
            unsafe {
                let from = data.offset(y as isize * line);
                std::ptr::copy_nonoverlapping(from, row.as_mut_ptr().cast(), self.width * unit);
            }
        }
        Some((scratch, self.width))
    }
}

/// Turns any other pixel format into full-range gray of the same depth class.
fn convert<'a>(
    converter: &'a mut Option<(scaling::Context, frame::Video)>,
    frame: &frame::Video,
    layout: Layout,
    full: bool,
) -> Result<&'a frame::Video, FfError> {
    let (context, gray) = match converter {
        Some(made) => made,
        empty => empty.insert((scaler(frame, layout, full)?, frame::Video::empty())),
    };
    context.run(frame, gray)?;
    Ok(gray)
}

fn scaler(frame: &frame::Video, layout: Layout, full: bool) -> Result<scaling::Context, FfError> {
    let (width, height) = (frame.width(), frame.height());
    let gray = if layout.bits > 8 {
        GRAY16
    } else {
        Pixel::GRAY8
    };
    let flags = scaling::Flags::POINT | scaling::Flags::ACCURATE_RND | scaling::Flags::BITEXACT;
    let mut context =
        scaling::Context::get(frame.format(), width, height, gray, width, height, flags)?;
    let matrix = match frame.color_space() {
        color::Space::BT709 => ffi::SWS_CS_ITU709,
        color::Space::FCC => ffi::SWS_CS_FCC,
        color::Space::SMPTE240M => ffi::SWS_CS_SMPTE240M,
        color::Space::BT2020NCL | color::Space::BT2020CL => ffi::SWS_CS_BT2020,
        _ => ffi::SWS_CS_DEFAULT,
    };
    // SAFETY: the context is live and exclusively ours; the coefficients are
    // constants. The binding has no call for it.
    unsafe {
        let table = ffi::sws_getCoefficients(matrix);
        // A pair of formats without such details refuses, and needs none.
        ffi::sws_setColorspaceDetails(
            context.as_mut_ptr(),
            table,
            i32::from(full),
            table,
            1,
            0,
            1 << 16,
            1 << 16,
        );
    }
    Ok(context)
}
