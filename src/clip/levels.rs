//! Where a pixel format keeps its luma, and which values are black and white.

use ffmpeg_next::format::Pixel;
use ffmpeg_next::{color, ffi};

/// How luma is stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    /// Significant bits of a sample.
    pub bits: u32,
    /// Unused bits below them.
    pub shift: u32,
    /// Plane 0 is luma and nothing else, in the machine's byte order.
    pub direct: bool,
    /// Full range unless the stream says otherwise.
    pub full_by_default: bool,
}

const UNREADABLE: u64 = (ffi::AV_PIX_FMT_FLAG_PAL
    | ffi::AV_PIX_FMT_FLAG_BITSTREAM
    | ffi::AV_PIX_FMT_FLAG_HWACCEL
    | ffi::AV_PIX_FMT_FLAG_RGB
    | ffi::AV_PIX_FMT_FLAG_BAYER
    | ffi::AV_PIX_FMT_FLAG_FLOAT) as u64;

/// The layout of a pixel format, read from FFmpeg's own description of it.
pub(super) fn layout(pixel: Pixel) -> Layout {
    let Some(descriptor) = pixel.descriptor() else {
        return Layout {
            bits: 8,
            shift: 0,
            direct: false,
            full_by_default: true,
        };
    };
    // SAFETY: FFmpeg's descriptions are constants.
    let raw = unsafe { &*descriptor.as_ptr() };
    let luma = &raw.comp[0];
    let big = raw.flags & ffi::AV_PIX_FMT_FLAG_BE as u64 != 0;
    let native = luma.depth <= 8 || big == cfg!(target_endian = "big");
    let alone = luma.plane == 0
        && luma.offset == 0
        && match luma.depth {
            8 => luma.step == 1 && luma.shift == 0,
            9..=16 => luma.step == 2,
            _ => false,
        };
    let gray = raw.nb_components <= 2;
    let rgb = raw.flags & (ffi::AV_PIX_FMT_FLAG_RGB | ffi::AV_PIX_FMT_FLAG_PAL) as u64 != 0;
    let jpeg = matches!(
        pixel,
        Pixel::YUVJ420P | Pixel::YUVJ411P | Pixel::YUVJ422P | Pixel::YUVJ440P | Pixel::YUVJ444P
    );
    Layout {
        bits: luma.depth.unsigned_abs(),
        shift: luma.shift.unsigned_abs(),
        direct: alone && native && raw.flags & UNREADABLE == 0,
        full_by_default: gray || rgb || jpeg,
    }
}

impl Layout {
    /// Whether the values run over the full range.
    pub(super) fn is_full(self, pixel: Pixel, range: color::Range) -> bool {
        let jpeg = matches!(
            pixel,
            Pixel::YUVJ420P | Pixel::YUVJ411P | Pixel::YUVJ422P | Pixel::YUVJ440P | Pixel::YUVJ444P
        );
        match range {
            _ if jpeg => true,
            color::Range::JPEG => true,
            color::Range::MPEG => false,
            color::Range::Unspecified => self.full_by_default,
        }
    }

    /// Raw values of black and white (ITU-T H.273, 8.3: full range, and
    /// 16..235 of 8 bits scaled to the depth).
    pub(super) fn levels(self, full: bool) -> (f32, f32) {
        let unit = (1_u32 << self.shift) as f32;
        if full {
            (0.0, ((1_u32 << self.bits) - 1) as f32 * unit)
        } else {
            let scale = (1_u32 << (self.bits - 8)) as f32 * unit;
            (16.0 * scale, 235.0 * scale)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_follow_depth_range_and_alignment() {
        let limited = |p: Pixel| layout(p).levels(false);
        assert_eq!(limited(Pixel::YUV420P), (16.0, 235.0));
        assert_eq!(limited(Pixel::YUV420P10LE), (64.0, 940.0));
        assert_eq!(limited(Pixel::P010LE), (64.0 * 64.0, 940.0 * 64.0));
        assert_eq!(layout(Pixel::YUV444P12LE).levels(true), (0.0, 4095.0));
        assert_eq!(layout(Pixel::GRAY16LE).levels(true), (0.0, 65535.0));
    }

    #[test]
    fn luma_planes_are_told_from_mixed_ones() {
        for direct in [
            Pixel::YUV420P,
            Pixel::YUVJ422P,
            Pixel::YUV440P,
            Pixel::YUV411P,
            Pixel::NV12,
            Pixel::NV21,
            Pixel::GRAY8,
            Pixel::GRAY10LE,
            Pixel::P010LE,
            Pixel::YUVA420P,
        ] {
            assert!(layout(direct).direct, "{direct:?}");
        }
        for mixed in [
            Pixel::RGB24,
            Pixel::PAL8,
            Pixel::GBRP,
            Pixel::YUYV422,
            Pixel::UYVY422,
            Pixel::YUV420P10BE,
            Pixel::MonoBlack,
            Pixel::YA8,
            Pixel::None,
        ] {
            assert!(!layout(mixed).direct, "{mixed:?}");
        }
    }

    #[test]
    fn unspecified_range_is_limited_for_video_and_full_for_the_rest() {
        let full = |p: Pixel, r| layout(p).is_full(p, r);
        assert!(!full(Pixel::YUV420P, color::Range::Unspecified));
        assert!(full(Pixel::YUVJ420P, color::Range::Unspecified));
        assert!(full(Pixel::GRAY8, color::Range::Unspecified));
        assert!(full(Pixel::RGB24, color::Range::Unspecified));
        assert!(full(Pixel::YUV420P, color::Range::JPEG));
        assert!(!full(Pixel::GRAY8, color::Range::MPEG));
    }
}
