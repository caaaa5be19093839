//! One film in the dresses that phones, recorders and copying give it, timed by
//! the whole tool and held to its truth. Stored without loss, the dress must
//! change nothing: what the screen showed is the same to the pixel.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "odd_clips/film.rs"]
mod film;
#[path = "support/pair.rs"]
mod pair;
mod support;
#[path = "support/timed.rs"]
mod timed;

use film::{CORNERS, Film, SIZE, WHOLE, agrees, cut, plain, refusal, rig, same, swing, time};
use focuslag::store::schema::Verdict;
use support::{Bench, find, patched};

#[test]
fn an_upright_phone() {
    for degrees in [90, 270] {
        let container = format!("{WHOLE}rotation = {degrees}\n");
        let clip = Film::stored("upright.mp4", &container).timed("");
        // The grid of tiles lies along the stored picture.
        same(&plain().clip.trials, &clip.trials, 1.0, 0.5);
    }
}

/// The matrix in the track header (ISO/IEC 14496-12, 8.3.2) mirrors the stored
/// picture, or stands it on its head.
#[test]
fn a_mirrored_film_and_one_upside_down() {
    let [tl, tr, br, bl] = CORNERS.map(|[x, y]| [SIZE[0] - x, y]);
    let mirrored = [tr, tl, bl, br];
    let turned = CORNERS.map(|[x, y]| [SIZE[0] - x, SIZE[1] - y]);
    for (a, d, corners) in [(-1, 1, mirrored), (-1, -1, turned)] {
        let folder = tempfile::tempdir().unwrap();
        let path = plain().copy(folder.path());
        let at = find(&path, b"tkhd") + 4 + 40;
        for (at, value) in [(at, a), (at + 16, d)] {
            let bytes = patched(&path, at, &i32::to_be_bytes(value << 16));
            std::fs::write(&path, bytes).unwrap();
        }
        let clip = time(&path, corners, "", folder.path());
        agrees(&plain().truth, &clip);
        same(&plain().clip.trials, &clip.trials, 1.0, 0.5);
    }
}

#[test]
fn slow_motion_that_says_its_rate() {
    let container = format!("{WHOLE}stored_fps = 30\ncapture_tag = true\n");
    let clip = Film::stored("said.mp4", &container).timed("");
    same(&plain().clip.trials, &clip.trials, 1.0, 0.1);
}

#[test]
fn slow_motion_that_does_not_say_its_rate() {
    let film = Film::stored("silent.mkv", &format!("{WHOLE}stored_fps = 30\n"));
    let said = refusal(&film.path, &rig(&swing(), ""), film.folder.path());
    for word in ["silent.mkv", "`capture.fps`", "30.00 frames"] {
        assert!(said.contains(word), "{said}");
    }
    let clip = film.timed("[capture]\nfps = 240\n");
    same(&plain().clip.trials, &clip.trials, 1.0, 0.1);
}

/// Frames up to 0.29 of a frame early or late, 3 in 100 lost, the first stamp
/// at 1.5 s; in Matroska rounded to milliseconds. Other frames are taken at
/// other instants, so only the truth can be asked. Naming the true rate must
/// not stretch stamps that run at it.
#[test]
fn stamps_that_are_not_even() {
    let odd = format!("{WHOLE}drop_share = 0.03\njitter_ms = 1.2\nfirst_stamp_s = 1.5\n");
    for name in ["uneven.mp4", "uneven.mkv"] {
        let film = Film::stored(name, &odd);
        for more in ["", "[capture]\nfps = 240\n"] {
            let clip = film.timed(more);
            let gaps = |w: &String| w.contains("steps between frames longer");
            assert!(clip.warnings.iter().any(gaps), "{:?}", clip.warnings);
            assert_eq!(clip.frames, film.truth.frames as u64);
        }
    }
}

/// Rounding to other levels may move a crossing by an update, hence a refresh.
#[test]
fn ten_bits_and_full_range() {
    let hevc = "codec = \"hevc\"\nquality = 4\npreset = \"ultrafast\"\ndepth = 10\n";
    for (name, container) in [
        ("hevc10.mp4", hevc.to_owned()),
        ("full.mp4", format!("{WHOLE}full_range = true\n")),
        (
            "full10.mov",
            format!("{WHOLE}full_range = true\ndepth = 10\n"),
        ),
    ] {
        if name.starts_with("hevc") && Bench::with(&["libx265"]).is_none() {
            continue;
        }
        let clip = Film::stored(name, &container).timed("");
        same(&plain().clip.trials, &clip.trials, 17.0, 0.5);
    }
}

/// Pictures decoded out of order, shown from an edit list's start on.
#[test]
fn pictures_predicted_from_both_sides() {
    // Nothing is predicted from both sides where every bit is kept.
    let container = "quality = 4\npreset = \"ultrafast\"\nb_frames = 3\n";
    let film = Film::stored("both.mp4", container);
    find(&film.path, b"ctts");
    find(&film.path, b"elst");
    let clip = film.timed("");
    // Other bits may show a picture sharp an update sooner; time is the same.
    let plain = &plain().clip.trials;
    same(plain, &clip.trials, 17.0, 0.5);
    for (a, b) in plain.iter().zip(&clip.trials) {
        assert!((a.onset_s - b.onset_s).abs() < 1e-3);
    }
}

/// 60 pictures a second, which stored slow motion may have as well.
#[test]
fn a_recorded_feed() {
    let film = Film::shot(
        "feed.mp4",
        "[film]\nfeed = true\nsize = [320, 250]\n",
        WHOLE,
    );
    let folder = film.folder.path();
    let said = refusal(&film.path, &rig("feed = true", ""), folder);
    assert!(said.contains("`capture.fps`"), "{said}");
    let told = rig("feed = true", "[capture]\nfps = 60\n");
    let clip = timed::timed(&film.path, &told, folder, 2).clips.remove(0);
    assert_eq!(clip.screen.corners, None);
    agrees(&film.truth, &clip);
}

#[test]
fn a_cut_copy_with_its_index_at_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let copy = cut(&plain().copy(folder.path()));
    let said = refusal(&copy, &rig(&swing(), ""), folder.path());
    assert!(
        said.contains("cut-plain.mp4") && said.contains("cut short") && said.contains("copy"),
        "{said}"
    );
}

/// The first trial as in the whole clip, the one that the cut touches void.
#[test]
fn a_cut_copy_that_still_opens() {
    let mkv = Film::stored("whole.mkv", WHOLE);
    let mut clips = vec![(mkv.path.clone(), mkv.timed(""))];
    same(&plain().clip.trials, &clips[0].1.trials, 1.0, 0.1);
    let bench = Bench::with(&[]);
    if let Some(bench) = &bench {
        let copy = plain().copy(mkv.folder.path());
        for (name, flags) in [
            ("first.mp4", "faststart"),
            ("parts.mp4", "frag_keyframe+empty_moov"),
        ] {
            let args = format!("-i {} -c copy -movflags {flags}", copy.display());
            clips.push((bench.make(name, &args), plain().clip.clone()));
        }
    }
    for (path, whole) in clips {
        let clip = time(&cut(&path), CORNERS, "", mkv.folder.path());
        let [first, touched] = clip.trials.as_slice() else {
            panic!("{path:?}: {:?}", clip.trials);
        };
        let kept = &whole.trials[0];
        assert_eq!(
            (first.onset_s, first.settle_s, first.verdict),
            (kept.onset_s, kept.settle_s, kept.verdict)
        );
        assert_eq!(touched.verdict, Verdict::Void, "{touched:?}");
        assert_eq!(touched.reason.as_deref(), Some("cut"));
        assert!(touched.latency_ms.is_none() && touched.settle_s.is_none());
        let early = |w: &String| w.contains("clip ends early");
        assert!(clip.warnings.iter().any(early), "{:?}", clip.warnings);
    }
}
