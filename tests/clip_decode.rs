//! Cut decoding gives the frames and times of the reference decoder (the
//! `ffmpeg` and `ffprobe` tools), one by one, whatever the number of workers.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/frames.rs"]
mod kept;
mod support;

use std::path::Path;

use focuslag::clip::{ClipIndex, ProbeOptions, probe};
use kept::{Seen, frames, threaded};
use support::{Bench, reference_hashes, reference_times};

/// Checks a clip against the reference; returns its index, its frames and the
/// number of stretches.
fn same_as_reference(path: &Path) -> (ClipIndex, Vec<Seen>, usize) {
    let index = probe(path, &ProbeOptions::default()).unwrap();
    let (one, stretches, report) = frames(&index, 1);
    let (two, _, report_two) = frames(&index, 2);
    assert!(
        one == two && report == report_two,
        "{path:?}: workers differ"
    );
    let (many, _, report_many) = threaded(&index, 2, 3);
    assert!(
        one == many && report == report_many && report.is_whole(&index),
        "{path:?}: FFmpeg's own threads differ"
    );
    assert_eq!(report.warnings, Vec::<String>::new(), "{path:?}");
    let times = reference_times(path);
    assert_eq!(one.len(), times.len(), "{path:?}: number of frames");
    for (frame, time) in one.iter().zip(&times) {
        // ffprobe prints microseconds.
        assert!(
            (frame.time - time).abs() < 1.5e-6,
            "{path:?}: {} {time}",
            frame.time
        );
    }
    let hashes: Vec<&str> = one.iter().map(|f| f.hash.as_str()).collect();
    assert_eq!(hashes, reference_hashes(path), "{path:?}: pixels");
    assert_eq!(index.stamps.len(), one.len(), "{path:?}: index");
    for (frame, stamp) in one.iter().zip(&index.stamps) {
        assert!((frame.time - stamp).abs() < 1e-9, "{path:?}: index");
    }
    (index, one, stretches)
}

#[test]
fn closed_gop_h264_with_b_frames() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let args = "-c:v libx264 -bf 3 -g 50 -keyint_min 50 -sc_threshold 0 -pix_fmt yuv420p";
    for name in ["a.mp4", "a.mkv", "a.ts", "a.mov"] {
        let clip = bench.moving(name, "320x240", "240", 200, args);
        let (_, _, stretches) = same_as_reference(&clip);
        assert_eq!(stretches, 4, "{name}");
    }
}

#[test]
fn open_gop_h264_is_only_cut_at_idr() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let args = "-c:v libx264 -bf 3 -pix_fmt yuv420p -x264-params \
                open-gop=1:keyint=50:min-keyint=25:scenecut=0:b-pyramid=normal";
    let clip = bench.moving("open.mp4", "320x240", "240", 200, args);
    let (_, frames, stretches) = same_as_reference(&clip);
    assert_eq!(stretches, 1);
    assert!(frames[0].key);
}

#[test]
fn hevc_is_cut_at_cra_with_leading_pictures() {
    let Some(bench) = Bench::with(&["libx265"]) else {
        return;
    };
    for (open, name) in [(1, "cra"), (0, "idr")] {
        let args = format!(
            "-c:v libx265 -pix_fmt yuv420p -x265-params \
             open-gop={open}:keyint=60:min-keyint=60:bframes=4:scenecut=0:log-level=none"
        );
        for end in ["mp4", "mkv", "ts"] {
            let clip = bench.moving(&format!("{name}.{end}"), "320x240", "240", 240, &args);
            let (_, _, stretches) = same_as_reference(&clip);
            assert_eq!(stretches, 4, "{name}.{end}");
        }
    }
}

#[test]
fn other_codecs_and_containers() {
    let table = [
        ("mpeg2video", "m2.ts", "-q:v 4 -g 60 -bf 2", 2),
        ("mpeg2video", "m2.mpg", "-q:v 4 -g 60 -bf 2", 0),
        ("mpeg4", "m4.mp4", "-q:v 4 -g 60 -bf 2", 2),
        (
            "libvpx",
            "v8.webm",
            "-g 60 -deadline realtime -auto-alt-ref 0",
            2,
        ),
        (
            "libvpx-vp9",
            "v9.webm",
            "-g 60 -deadline realtime -cpu-used 8",
            2,
        ),
        (
            "libaom-av1",
            "av1.mkv",
            "-g 60 -usage realtime -cpu-used 8",
            0,
        ),
        ("mjpeg", "mj.avi", "-q:v 4 -pix_fmt yuvj420p", 3),
        ("prores_ks", "pr.mov", "-profile:v 0", 3),
        ("dnxhd", "dn.mov", "-profile:v dnxhr_lb -pix_fmt yuv422p", 3),
        ("ffv1", "f.mkv", "-g 1", 3),
        ("huffyuv", "h.avi", "-pix_fmt yuv422p", 3),
        ("rawvideo", "r.nut", "-pix_fmt yuv420p", 3),
    ];
    for (encoder, name, args, stretches) in table {
        let Some(bench) = Bench::with(&[encoder]) else {
            continue;
        };
        let args = format!("-c:v {encoder} {args}");
        let clip = bench.moving(name, "320x240", "50", 150, &args);
        let (_, _, found) = same_as_reference(&clip);
        assert!(
            stretches == 0 || found == stretches,
            "{name}: {found} stretches"
        );
    }
}

#[test]
fn uneven_stamps_late_and_negative_starts() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let coded = "-c:v libx264 -bf 2 -g 48 -pix_fmt yuv420p";
    let uneven =
        "-vf select='not(eq(mod(n\\,7)\\,3))' -fps_mode passthrough -enc_time_base 1/90000";
    let clip = bench.moving(
        "vfr.mp4",
        "160x120",
        "120",
        120,
        &format!("{uneven} {coded}"),
    );
    let (index, _, _) = same_as_reference(&clip);
    assert!(
        (index.stored_fps - 120.0).abs() < 0.01,
        "{}",
        index.stored_fps
    );
    assert!(index.gaps > 10);

    let late = format!("{coded} -output_ts_offset 10");
    let (index, frames, _) =
        same_as_reference(&bench.moving("late.mkv", "160x120", "60", 60, &late));
    assert_eq!((index.stamps[0], frames[0].time), (0.0, 0.0));
    let early = format!("{coded} -bf 0 -output_ts_offset -1 -avoid_negative_ts disabled");
    let (index, frames, _) =
        same_as_reference(&bench.moving("early.asf", "160x120", "60", 60, &early));
    assert_eq!((index.stamps[0], frames[0].time), (0.0, 0.0));
    assert!(
        (index.duration_s - 1.0).abs() < 0.02,
        "{}",
        index.duration_s
    );
}

#[test]
fn edit_lists_hide_frames_and_can_be_overruled() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let coded = "-c:v libx264 -bf 2 -g 100 -pix_fmt yuv420p";
    let whole = bench.moving("whole.mp4", "160x120", "60", 200, coded);
    let from = format!("-ss 0.5 -i {} -c copy", whole.display());
    let cut = bench.make("cut.mp4", &from);
    let (index, seen, _) = same_as_reference(&cut);
    assert!(index.hidden_frames >= 28, "{}", index.hidden_frames);
    assert!(index.warnings.iter().any(|w| w.contains("edit list")));
    let all = ProbeOptions {
        honour_edit_list: false,
        ..ProbeOptions::default()
    };
    let index = probe(&cut, &all).unwrap();
    let (every, _, _) = frames(&index, 2);
    assert_eq!(every.len(), 200);
    assert_eq!(every[every.len() - seen.len()..][0].hash, seen[0].hash);
    assert_eq!(index.stamps.len(), 200);
}

/// Leading pictures of the very first key picture have no reference; players
/// do not show them either.
#[test]
fn a_clip_that_begins_at_an_open_key_picture() {
    let Some(bench) = Bench::with(&["libx265"]) else {
        return;
    };
    let args = "-c:v libx265 -pix_fmt yuv420p -x265-params \
                keyint=60:min-keyint=60:bframes=4:scenecut=0:open-gop=1:log-level=none";
    let whole = bench.moving("whole.mp4", "160x120", "60", 240, args);
    let from = format!("-ss 1.2 -i {} -c copy", whole.display());
    let (index, seen, _) = same_as_reference(&bench.make("cut.ts", &from));
    assert_eq!((seen[0].time, seen[0].key), (0.0, true));
    let told = index
        .warnings
        .iter()
        .any(|w| w.contains("before the first"));
    assert!(told, "{:?}", index.warnings);
}

/// AVI keeps no presentation stamps; the last frames of a reordered stream
/// come out of the decoder without any, and are not lost.
#[test]
fn reordered_avi_keeps_its_last_frames() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let args = "-c:v libx264 -bf 2 -pix_fmt yuv420p";
    let clip = bench.moving("b.avi", "160x120", "60", 100, args);
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    let (seen, _, report) = frames(&index, 2);
    assert!(report.warnings.is_empty(), "{report:?}");
    let hashes: Vec<&str> = seen.iter().map(|f| f.hash.as_str()).collect();
    assert_eq!(hashes, reference_hashes(&clip));
    for (i, (frame, stamp)) in seen.iter().zip(&index.stamps).enumerate() {
        assert!((frame.time - i as f64 / 60.0).abs() < 1e-9);
        assert!((frame.time - stamp).abs() < 1e-9);
    }
}

#[test]
fn coarse_ticks_still_tell_the_rate() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let coded = "-c:v libx264 -preset ultrafast -pix_fmt yuv420p";
    let clip = bench.moving("ms.mkv", "160x120", "240", 240, coded);
    let (index, _, _) = same_as_reference(&clip);
    assert!(
        (index.stored_fps - 240.0).abs() < 1.0,
        "{}",
        index.stored_fps
    );
    assert_eq!(index.gaps, 0);
    let tagged = format!(
        "{coded} -video_track_timescale 600 -movflags use_metadata_tags \
         -metadata com.android.capture.fps=240.000000"
    );
    let clip = bench.moving("tagged.mov", "160x120", "240", 240, &tagged);
    let (index, _, _) = same_as_reference(&clip);
    assert!(
        (index.stored_fps - 240.0).abs() < 1.0,
        "{}",
        index.stored_fps
    );
    assert_eq!(index.stated_fps, Some(240.0));
    // No camera reaches this: it is said, and not used.
    for wild in ["100000", "1e7", "0.001"] {
        let tagged = tagged.replace("240.000000", wild);
        let clip = bench.moving("wild.mov", "160x120", "240", 24, &tagged);
        let (index, _, _) = same_as_reference(&clip);
        assert_eq!(index.stated_fps, None);
        let told = index.warnings.iter().any(|w| w.contains("no camera"));
        assert!(told, "{:?}", index.warnings);
    }
}
