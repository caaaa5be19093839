use super::*;
use ffmpeg_next::format::Pixel;

/// 8-bit Y, Cb, Cr of the 100 % colour bars: yellow, cyan, green, magenta, red,
/// blue (tables of ITU-R BT.801 for BT.601, and of Poynton, Digital Video and
/// HD, 2nd ed., for BT.709; typed from memory, they follow from K_R and K_B).
const BARS: [([f32; 3], [f32; 3], [f32; 3]); 6] = [
    ([1.0, 1.0, 0.0], [210.0, 16.0, 146.0], [219.0, 16.0, 138.0]),
    ([0.0, 1.0, 1.0], [170.0, 166.0, 16.0], [188.0, 154.0, 16.0]),
    ([0.0, 1.0, 0.0], [145.0, 54.0, 34.0], [173.0, 42.0, 26.0]),
    ([1.0, 0.0, 1.0], [106.0, 202.0, 222.0], [78.0, 214.0, 230.0]),
    ([1.0, 0.0, 0.0], [81.0, 90.0, 240.0], [63.0, 102.0, 240.0]),
    ([0.0, 0.0, 1.0], [41.0, 240.0, 110.0], [32.0, 240.0, 118.0]),
];

#[test]
fn colour_bars_have_their_published_values() {
    for (rgb, sd, hd) in BARS {
        for (matrix, want) in [(Matrix::BT601, sd), (Matrix::BT709, hd)] {
            let [y, cb, cr] = matrix.of_rgb(rgb);
            let got = [16.0 + 219.0 * y, 128.0 + 224.0 * cb, 128.0 + 224.0 * cr];
            for (g, w) in got.iter().zip(want) {
                assert!((g.round() - w).abs() < 0.5, "{rgb:?} {got:?} {want:?}");
            }
        }
    }
}

/// Pixel format, bytes of each plane, full range, and what must be read.
type Case = (Pixel, Vec<(usize, Vec<u8>)>, bool, [f32; 2]);

/// A frame with these samples of Cb and Cr everywhere.
fn filled(pixel: Pixel, planes: &[(usize, &[u8])]) -> frame::Video {
    let mut frame = frame::Video::new(pixel, 16, 8);
    for (plane, pattern) in planes {
        for (i, byte) in frame.data_mut(*plane).iter_mut().enumerate() {
            *byte = pattern[i % pattern.len()];
        }
    }
    frame
}

/// H.273, 8.3: Cb is 128 + 224 of 8 bits in limited range, 2⁹ + 896 of 10
/// bits, and 2⁷ + 255 in full range.
#[test]
fn planes_are_read_in_every_usual_layout() {
    let word = |v: u16| v.to_le_bytes();
    let (a, b) = (word(512 + 224), word(512 - 112));
    let (p, q) = (word((512 + 224) << 6), word((512 - 112) << 6));
    let cases: [Case; 5] = [
        (
            Pixel::YUV420P,
            vec![(1, vec![184]), (2, vec![100])],
            false,
            [0.25, -0.125],
        ),
        (
            Pixel::YUVJ444P,
            vec![(1, vec![184]), (2, vec![100])],
            true,
            [56.0 / 255.0, -28.0 / 255.0],
        ),
        (
            Pixel::NV12,
            vec![(1, vec![184, 100])],
            false,
            [0.25, -0.125],
        ),
        (
            Pixel::YUV420P10LE,
            vec![(1, a.to_vec()), (2, b.to_vec())],
            false,
            [0.25, -0.125],
        ),
        (
            Pixel::P010LE,
            vec![(1, [p, q].concat())],
            false,
            [0.25, -0.125],
        ),
    ];
    for (pixel, planes, full, want) in cases {
        let planes: Vec<(usize, &[u8])> = planes.iter().map(|(n, p)| (*n, p.as_slice())).collect();
        let frame = filled(pixel, &planes);
        let chroma = Chroma::of(&frame, full).unwrap_or_else(|| panic!("{pixel:?}"));
        for (x, y) in [(0, 0), (15, 7), (7, 3)] {
            let got = chroma
                .at(x, y)
                .unwrap_or_else(|| panic!("{pixel:?} {x},{y}"));
            for (g, w) in got.iter().zip(want) {
                assert!((g - w).abs() < 1e-6, "{pixel:?}: {got:?}");
            }
        }
    }
    for none in [Pixel::GRAY8, Pixel::YUYV422, Pixel::RGB24] {
        assert!(Chroma::of(&frame::Video::new(none, 16, 8), false).is_none());
    }
}

/// Red, green, blue and grey through ITU-R BT.601, 709 and 2020 and back: the
/// strongest colour of each.
#[test]
fn the_strongest_colour_is_told_from_luma_and_chroma() {
    for matrix in [Matrix::BT601, Matrix::BT709, Matrix::BT2020] {
        for rgb in [
            [0.9, 0.1, 0.2],
            [0.1, 0.8, 0.3],
            [0.0, 0.2, 0.7],
            [0.4, 0.4, 0.4],
        ] {
            let [y, cb, cr] = matrix.of_rgb(rgb);
            let want = rgb.into_iter().fold(0.0, f32::max);
            assert!(
                (matrix.strongest(y, [cb, cr]) - want).abs() < 1e-5,
                "{rgb:?}"
            );
        }
    }
}
