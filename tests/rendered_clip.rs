//! Rendered clips as another program sees them: `ffprobe`, where it is on PATH.

// Helpers of tests may stop the test.
#![allow(clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::process::Command;

use focuslag::render::{Scene, render};

/// A second of a small film; `extra` is more TOML.
fn film(dir: &Path, name: &str, extra: &str) -> Option<serde_json::Value> {
    let text = format!(
        "[motion]\nlead_ms = 100\ntail_ms = 500\n[[trial]]\n[screen]\nbezel_px = 6\n{extra}"
    );
    let scene = Scene::from_toml(&text, "small.toml").expect("a scene");
    let clip = dir.join(name);
    render(&scene, dir, &clip, |_, _| ()).expect("a clip");
    let out = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-show_streams",
            "-show_frames",
            "-show_format",
        ])
        .args(["-of", "json"])
        .arg(&clip)
        .output();
    match out {
        Ok(out) => Some(serde_json::from_slice(&out.stdout).expect("JSON")),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
            eprintln!("no ffprobe on PATH: not checked");
            None
        }
        Err(e) => panic!("{e}"),
    }
}

fn stamps(probe: &serde_json::Value) -> Vec<f64> {
    let frames = probe["frames"].as_array().expect("frames");
    let time = |f: &serde_json::Value| f["pts_time"].as_str().and_then(|t| t.parse().ok());
    frames.iter().map(|f| time(f).expect("a stamp")).collect()
}

const SMALL: &str = "[film]\nfps = 120\nsize = [160, 120]\n";

#[test]
fn a_plain_clip_has_a_frame_every_period() {
    let dir = tempfile::tempdir().expect("a folder");
    let Some(probe) = film(dir.path(), "plain.mp4", SMALL) else {
        return;
    };
    let stamps = stamps(&probe);
    // 0.1 s lead, 0.344 s to rest, 0.5 s more, at 120 per second.
    assert_eq!(stamps.len(), 113);
    for (k, t) in stamps.iter().enumerate() {
        assert!((t - k as f64 / 120.0).abs() < 1e-6);
    }
    let stream = &probe["streams"][0];
    assert_eq!(stream["width"], 160);
    assert_eq!(stream["color_range"], "tv");
    assert!(stream["tags"].get("encoder").is_none());
    assert!(probe["format"]["tags"].get("creation_time").is_none());
}

#[test]
fn slow_motion_is_stored_slow_and_says_so_if_told() {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, tag) in [("said.mp4", true), ("silent.mov", false)] {
        let extra = format!("{SMALL}[container]\nstored_fps = 30\ncapture_tag = {tag}\n");
        let Some(probe) = film(dir.path(), name, &extra) else {
            return;
        };
        let stamps = stamps(&probe);
        assert!((stamps[8] - 8.0 / 30.0).abs() < 1e-6);
        let said = &probe["format"]["tags"]["com.android.capture.fps"];
        assert_eq!(said.as_str(), tag.then_some("120.000000"));
    }
}

#[test]
fn an_upright_film_is_stored_turned() {
    let dir = tempfile::tempdir().expect("a folder");
    for (degrees, shown) in [(90, -90), (180, 180), (270, 90)] {
        let extra =
            format!("[film]\nfps = 120\nsize = [120, 160]\n[container]\nrotation = {degrees}\n");
        let Some(probe) = film(dir.path(), "turned.mp4", &extra) else {
            return;
        };
        let stream = &probe["streams"][0];
        let stored = if degrees == 180 { 120 } else { 160 };
        assert_eq!(stream["width"], stored);
        let angle = stream["side_data_list"][0]["rotation"]
            .as_i64()
            .expect("an angle");
        // ffprobe counts anticlockwise.
        assert!((angle - shown) % 360 == 0, "{degrees}: {angle}");
    }
}

#[test]
fn odd_stamps_stay_as_they_were_made() {
    let dir = tempfile::tempdir().expect("a folder");
    let extra = format!("{SMALL}[container]\nfirst_stamp_s = 1.5\ndropped = [3, 4]\n");
    let Some(probe) = film(dir.path(), "odd.mp4", &extra) else {
        return;
    };
    let stamps = stamps(&probe);
    assert_eq!(stamps.len(), 111);
    assert!((stamps[0] - 1.5).abs() < 1e-6);
    assert!((stamps[3] - stamps[2] - 3.0 / 120.0).abs() < 1e-6);
}

#[test]
fn depth_range_and_codec_are_as_asked_for() {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, extra, codec, pixel) in [
        (
            "a.mkv",
            "codec = \"ffv1\"\ndepth = 10",
            "ffv1",
            "yuv420p10le",
        ),
        (
            "b.mp4",
            "codec = \"mpeg4\"\nquality = 3",
            "mpeg4",
            "yuv420p",
        ),
        (
            "c.mov",
            "full_range = true\nb_frames = 2",
            "h264",
            "yuvj420p",
        ),
        ("d.mp4", "depth = 10", "h264", "yuv420p10le"),
        ("e.mp4", "codec = \"hevc\"", "hevc", "yuv420p"),
    ] {
        let Some(probe) = film(dir.path(), name, &format!("{SMALL}[container]\n{extra}\n")) else {
            return;
        };
        let stream = &probe["streams"][0];
        assert_eq!(stream["codec_name"], codec);
        assert_eq!(stream["pix_fmt"], pixel);
        let stamps = stamps(&probe);
        assert_eq!(stamps.len(), 113, "{name}");
        assert!(stamps.windows(2).all(|w| w[1] > w[0]), "{name}");
        assert!(stamps[0].abs() < 1e-6, "{name}");
    }
}

#[test]
fn a_feed_has_one_frame_per_picture() {
    let dir = tempfile::tempdir().expect("a folder");
    let extra = "[film]\nfeed = true\nsize = [160, 120]\n";
    let Some(probe) = film(dir.path(), "feed.mp4", extra) else {
        return;
    };
    let stamps = stamps(&probe);
    assert!((stamps[30] - 0.5).abs() < 1e-6);
}
