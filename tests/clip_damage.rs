//! Damaged clips: the same result whatever the number of workers, nothing bad
//! passed on as good where the decoder notices, everything missing named.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/frames.rs"]
mod kept;
mod support;

use std::collections::HashMap;

use focuslag::clip::{ProbeOptions, probe};
use kept::frames;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use support::{Bench, find};

#[test]
fn a_cut_copy_ends_early_and_says_so() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let coded = "-c:v libx264 -bf 2 -g 60 -pix_fmt yuv420p -movflags faststart";
    for (name, said) in [
        ("c.mp4", "of 300 frames"),
        ("c.mkv", "of 300 frames"),
        ("c.ts", ""),
    ] {
        let clip = bench.moving(name, "320x240", "240", 300, coded);
        let bytes = std::fs::read(&clip).unwrap();
        let cut = bench.file(&format!("cut-{name}"), &bytes[..bytes.len() * 6 / 10]);
        let index = probe(&cut, &ProbeOptions::default()).unwrap();
        let (seen, _, report) = frames(&index, 2);
        assert!(
            seen.len() > 100 && seen.len() < 300,
            "{name}: {}",
            seen.len()
        );
        let early = report
            .warnings
            .iter()
            .any(|w| w.contains("ends early") && w.contains(said));
        assert!(early || said.is_empty(), "{name}: {report:?}");
        let whole = probe(&clip, &ProbeOptions::default()).unwrap();
        let (truth, _, _) = frames(&whole, 1);
        for cut in &seen {
            let whole = truth.iter().find(|f| f.time == cut.time).unwrap();
            assert_eq!(cut, whole, "{name}");
        }
    }
}

#[test]
fn flipped_bits_do_the_same_harm_to_one_worker_and_to_two() {
    let Some(bench) = Bench::with(&["libx264", "libx265"]) else {
        return;
    };
    let table = [
        ("a.mp4", "-c:v libx264 -bf 3 -g 50 -sc_threshold 0"),
        (
            "b.mp4",
            "-c:v libx265 -x265-params keyint=60:min-keyint=60:scenecut=0:log-level=none",
        ),
        ("c.mov", "-c:v prores_ks -profile:v 0"),
    ];
    for (name, args) in table {
        let pixels = if name == "c.mov" {
            "yuv422p10le"
        } else {
            "yuv420p"
        };
        let args = format!("{args} -pix_fmt {pixels} -movflags faststart");
        let clip = bench.moving(name, "320x240", "240", 240, &args);
        let (truth, _, _) = frames(&probe(&clip, &ProbeOptions::default()).unwrap(), 1);
        let truth: HashMap<u64, &str> = truth
            .iter()
            .map(|f| (f.time.to_bits(), f.hash.as_str()))
            .collect();
        let mut bytes = std::fs::read(&clip).unwrap();
        let body = find(&clip, b"mdat") + 4000;
        let mut rng = ChaCha8Rng::seed_from_u64(20);
        for _ in 0..12 {
            let at = rng.random_range(body..bytes.len());
            bytes[at] ^= 1 << rng.random_range(0..8);
        }
        let hurt = bench.file("hurt.mp4", &bytes);
        let index = probe(&hurt, &ProbeOptions::default()).unwrap();
        let (one, stretches, report) = frames(&index, 1);
        assert!(stretches > 2, "{name}");
        for workers in [2, 3] {
            let (more, _, report_more) = frames(&index, workers);
            assert!(
                one == more && report == report_more,
                "{name}: {workers} workers"
            );
        }
        let total = report.frames + report.damaged_frames;
        assert_eq!(total, 240, "{name}: {report:?}");
        let wrong = one
            .iter()
            .filter(|f| truth[&f.time.to_bits()] != f.hash)
            .count();
        println!(
            "{name}: {} dropped, {wrong} of {} passed on with other pixels",
            report.damaged_frames,
            one.len()
        );
    }
}

#[test]
fn a_spoilt_picture_takes_its_dependants_along_and_no_others() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let args = "-c:v libx264 -bf 3 -g 60 -sc_threshold 0 -pix_fmt yuv420p -movflags faststart";
    let clip = bench.moving("a.mp4", "320x240", "240", 240, args);
    let (truth, _, _) = frames(&probe(&clip, &ProbeOptions::default()).unwrap(), 1);
    let mut bytes = std::fs::read(&clip).unwrap();
    // A long run of zeros in the middle of the second of four groups.
    let body = find(&clip, b"mdat") + 4;
    let middle = body + (bytes.len() - body) * 3 / 8;
    bytes[middle..middle + 600].fill(0);
    let index = probe(&bench.file("hurt.mp4", &bytes), &ProbeOptions::default()).unwrap();
    let (seen, _, report) = frames(&index, 2);
    assert!(report.damaged_frames > 0, "{report:?}");
    assert!(!report.gaps.is_empty());
    for gap in &report.gaps {
        assert!(gap.from <= gap.to && gap.to.0 < 120.0 / 240.0, "{gap:?}");
        assert!(
            !seen
                .iter()
                .any(|f| (gap.from.0..=gap.to.0).contains(&f.time))
        );
    }
    for frame in &seen {
        let same = truth.iter().find(|t| t.time == frame.time).unwrap();
        assert_eq!(frame.hash, same.hash, "at {}", frame.time);
    }
}
