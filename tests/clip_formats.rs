//! Pixel formats, levels, sizes and orientation.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/frames.rs"]
mod kept;
mod support;

use focuslag::clip::{ProbeOptions, probe};
use kept::frames;
use support::{Bench, find, patched, reference_hashes};

/// Formats whose luma plane is handed on as it is, bit by bit.
#[test]
fn luma_planes_are_handed_on_untouched() {
    let limited = (16.0, 235.0);
    let table = [
        // Encoder, name, arguments, size, black and white (ITU-T H.273).
        (
            "libvpx-vp9",
            "odd.webm",
            "-deadline realtime -pix_fmt yuv420p",
            "322x241",
            limited,
        ),
        ("mpeg4", "odd.avi", "-pix_fmt yuv420p", "321x241", limited),
        ("libx264", "odd.mkv", "-pix_fmt yuv444p", "323x241", limited),
        (
            "libx264",
            "crop.mp4",
            "-pix_fmt yuv420p",
            "322x242",
            limited,
        ),
        (
            "libx264",
            "full.mp4",
            "-pix_fmt yuvj420p -color_range pc",
            "64x48",
            (0.0, 255.0),
        ),
        (
            "libx264",
            "ten.mp4",
            "-pix_fmt yuv420p10le",
            "322x242",
            (64.0, 940.0),
        ),
        (
            "libx265",
            "ten.mkv",
            "-pix_fmt yuv422p10le -x265-params log-level=none",
            "320x240",
            (64.0, 940.0),
        ),
        (
            "ffv1",
            "gray.mkv",
            "-pix_fmt gray -color_range pc",
            "321x241",
            (0.0, 255.0),
        ),
        (
            "ffv1",
            "gray10.mkv",
            "-pix_fmt gray10le -color_range pc",
            "64x48",
            (0.0, 1023.0),
        ),
        (
            "ffv1",
            "twelve.mkv",
            "-pix_fmt yuv420p12le",
            "64x48",
            (256.0, 3760.0),
        ),
        ("rawvideo", "nv12.nut", "-pix_fmt nv12", "322x242", limited),
        ("rawvideo", "nv21.nut", "-pix_fmt nv21", "64x48", limited),
        (
            "rawvideo",
            "yuv411.nut",
            "-pix_fmt yuv411p",
            "64x48",
            limited,
        ),
        (
            "mjpeg",
            "jpeg.mov",
            "-pix_fmt yuvj422p",
            "322x241",
            (0.0, 255.0),
        ),
    ];
    for (encoder, name, args, size, levels) in table {
        let Some(bench) = Bench::with(&[encoder]) else {
            continue;
        };
        let scale = size.replace('x', ":");
        let args = format!("-vf scale={scale} -c:v {encoder} {args}");
        let clip = bench.moving(name, "320x240", "60", 6, &args);
        let index = probe(&clip, &ProbeOptions::default()).unwrap();
        let (seen, _, report) = frames(&index, 1);
        assert!(report.warnings.is_empty(), "{name}: {report:?}");
        let hashes: Vec<&str> = seen.iter().map(|f| f.hash.as_str()).collect();
        assert_eq!(hashes, reference_hashes(&clip), "{name}");
        for frame in &seen {
            assert_eq!(format!("{}x{}", frame.size.0, frame.size.1), size, "{name}");
            assert_eq!(frame.levels, levels, "{name}");
        }
    }
}

/// A picture white above and black below: what reaches a sink is 1 and 0
/// whatever the format, bottom-up AVI included. Of pure red, luma is 0.299
/// (ITU-R BT.601, the matrix assumed where RGB states none).
#[test]
fn every_format_comes_out_upright_and_on_one_scale() {
    let table = [
        ("rawvideo", "up.avi", "-pix_fmt bgr24"),
        ("rawvideo", "rgb.nut", "-pix_fmt rgb24"),
        ("rawvideo", "deep.nut", "-pix_fmt rgb48be"),
        ("rawvideo", "packed.nut", "-pix_fmt yuyv422"),
        ("rawvideo", "be.nut", "-pix_fmt yuv420p10be"),
        (
            "rawvideo",
            "gray16.nut",
            "-pix_fmt gray16le -color_range pc",
        ),
        ("qtrle", "rle.mov", "-pix_fmt rgb24"),
        ("png", "png.mov", "-pix_fmt rgb24"),
        ("png", "pal.mov", "-pix_fmt pal8"),
        ("libx264", "yuv.mp4", "-pix_fmt yuv420p"),
        ("libx264rgb", "gbr.mkv", "-pix_fmt rgb24 -qp 0"),
    ];
    let sides = "-f lavfi -i color=white:s=33x18:r=30 -f lavfi -i color=COLOUR:s=33x18:r=30 \
                 -filter_complex vstack,format=rgb24 -frames:v 4";
    for (encoder, name, args) in table {
        let Some(bench) = Bench::with(&[encoder]) else {
            continue;
        };
        let even = if name.ends_with("mp4") {
            "34x18"
        } else {
            "33x18"
        };
        for (colour, luma) in [("black", 0.0), ("red", 0.299)] {
            let sides = sides.replace("COLOUR", colour).replace("33x18", even);
            let clip = bench.make(name, &format!("{sides} -c:v {encoder} {args}"));
            let index = probe(&clip, &ProbeOptions::default()).unwrap();
            let (seen, _, report) = frames(&index, 1);
            assert_eq!(seen.len(), 4, "{name}: {report:?}");
            for frame in seen {
                let (top, bottom) = frame.ends;
                assert!((top - 1.0).abs() < 0.01, "{name} {colour}: white is {top}");
                assert!((bottom - luma).abs() < 0.01, "{name} {colour}: {bottom}");
            }
        }
    }
}

/// The matrix is written into the track header (ISO/IEC 14496-12, 8.3.2), so
/// that no muxer has a say in it.
#[test]
fn the_display_matrix_turns_and_mirrors() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let clip = bench.moving("t.mp4", "64x48", "30", 3, "-c:v libx264 -pix_fmt yuv420p");
    let matrix_at = find(&clip, b"tkhd") + 4 + 40;
    for (abcd, turns, mirrored) in [
        ([0, 1, -1, 0], 1, false),
        ([-1, 0, 0, -1], 2, false),
        ([0, -1, 1, 0], 3, false),
        ([-1, 0, 0, 1], 0, true),
    ] {
        let [a, b, c, d] = abcd.map(|v: i32| v << 16);
        let bytes: Vec<u8> = [a, b, 0, c, d, 0, 0, 0, 1 << 30]
            .iter()
            .flat_map(|v| v.to_be_bytes())
            .collect();
        let turned = bench.file("turned.mp4", &patched(&clip, matrix_at, &bytes));
        let found = probe(&turned, &ProbeOptions::default())
            .unwrap()
            .orientation;
        assert_eq!((found.quarter_turns, found.mirrored), (turns, mirrored));
        let upright = if turns % 2 == 1 { (48, 64) } else { (64, 48) };
        assert_eq!(found.upright_size(), upright);
    }
}

#[test]
fn oddities_are_told() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let warned = |args: &str, word: &str| {
        let clip = bench.moving("odd.mp4", "64x48", "30", 3, args);
        let index = probe(&clip, &ProbeOptions::default()).unwrap();
        let found = index.warnings.iter().any(|w| w.contains(word));
        assert!(found, "{word}: {:?}", index.warnings);
        index
    };
    let coded = "-c:v libx264 -pix_fmt yuv420p";
    warned(&format!("{coded} -vf setsar=4/3"), "not square");
    let hlg = format!("{coded} -color_trc arib-std-b67");
    assert_eq!(warned(&hlg, "dynamic range").transfer, "arib-std-b67");
    let two = format!("-filter_complex [0]split[a][b] -map [a] -map [b] {coded}");
    warned(&two, "2 video tracks");
}

#[test]
fn a_picture_that_changes_size_ends_the_clip_there() {
    let Some(bench) = Bench::with(&["mjpeg"]) else {
        return;
    };
    let coded = "-c:v mjpeg -pix_fmt yuvj420p";
    let small = bench.moving("a.mjpeg", "64x48", "25", 120, coded);
    let large = bench.moving("b.mjpeg", "96x64", "25", 120, coded);
    let mut both = std::fs::read(small).unwrap();
    both.extend(std::fs::read(large).unwrap());
    let clip = bench.file("both.mjpeg", &both);
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    for workers in [1, 2] {
        let (seen, _, report) = frames(&index, workers);
        assert_eq!(seen.len(), 120);
        assert_eq!(report.warnings.len(), 1, "{report:?}");
        assert!(report.warnings[0].contains("64x48"), "{report:?}");
    }
}
