//! What is no clip gets one clear sentence, and makes FFmpeg open nothing else.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use std::path::Path;

use focuslag::clip::{ClipError, ProbeOptions, probe, sound};
use support::{Bench, find, patched};

fn refused(path: &Path) -> ClipError {
    let error = probe(path, &ProbeOptions::default()).unwrap_err();
    let message = error.to_string();
    assert!(
        message.starts_with(&path.display().to_string()),
        "{message}"
    );
    assert!(
        !message.contains('\n') && message.contains("; "),
        "{message}"
    );
    error
}

macro_rules! assert_is {
    ($error:expr, $kind:pat) => {
        let error = $error;
        assert!(matches!(error, $kind), "{error:?}");
    };
}

#[test]
fn files_that_are_no_film() {
    let dir = tempfile::tempdir().unwrap();
    let file = |name: &str, content: &[u8]| {
        let path = dir.path().join(name);
        std::fs::write(&path, content).unwrap();
        path
    };
    assert_is!(refused(dir.path()), ClipError::Folder { .. });
    assert_is!(
        refused(&dir.path().join("none.mp4")),
        ClipError::Missing { .. }
    );
    assert_is!(refused(&file("empty.mp4", b"")), ClipError::Empty { .. });
    assert_is!(
        refused(&file("text.mp4", b"Not a film at all.\n")),
        ClipError::NotAFilm { .. }
    );
    let noise: Vec<u8> = (0..50_000_u32)
        .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    assert_is!(
        refused(&file("noise.mp4", &noise)),
        ClipError::NotAFilm { .. }
    );
}

/// Each names a film that exists; none may lead FFmpeg to it.
#[test]
fn playlists_scripts_and_descriptions_posing_as_a_clip() {
    let Some(bench) = Bench::with(&["mpeg4", "png"]) else {
        return;
    };
    let real = bench.moving("real.ts", "64x48", "25", 50, "-c:v mpeg4");
    let picture = bench.moving("p01.png", "64x48", "25", 1, "-c:v png -update 1");
    let real = real.display().to_string();
    let contents = [
        format!("#EXTM3U\n#EXT-X-VERSION:3\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\n{real}\n#EXT-X-ENDLIST\n"),
        format!("ffconcat version 1.0\nfile '{real}'\n"),
        "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=video 5004 RTP/AVP 96\na=rtpmap:96 H264/90000\n".to_owned(),
        format!("<?xml version=\"1.0\"?>\n<MPD xmlns=\"urn:mpeg:dash:schema:mpd:2011\" type=\"static\" mediaPresentationDuration=\"PT2S\"><Period><AdaptationSet><Representation id=\"0\" mimeType=\"video/mp2t\"><BaseURL>{real}</BaseURL></Representation></AdaptationSet></Period></MPD>\n"),
    ];
    for content in contents {
        let posing = bench.file("posing.mp4", content.as_bytes());
        assert_is!(refused(&posing), ClipError::NotAFilm { .. });
    }
    let still = bench.file("still.mp4", &std::fs::read(&picture).unwrap());
    assert_is!(refused(&still), ClipError::NotAFilm { .. });
    assert_is!(refused(&bench.path("p%02d.png")), ClipError::Missing { .. });
    assert_is!(
        refused(Path::new("concat:a.ts|b.ts")),
        ClipError::Missing { .. }
    );
    assert_is!(
        refused(Path::new("http://127.0.0.1:1/a.mp4")),
        ClipError::Missing { .. }
    );
}

#[cfg(unix)]
#[test]
fn a_pipe_is_no_clip_and_a_strange_name_is_none_of_its_business() {
    use std::os::unix::ffi::OsStrExt;

    let Some(bench) = Bench::with(&["mpeg4"]) else {
        return;
    };
    let pipe = bench.path("pipe.mp4");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    if made.is_ok_and(|status| status.success()) {
        assert_is!(refused(&pipe), ClipError::NotAFile { .. });
    }
    let clip = bench.moving("a.mp4", "64x48", "25", 5, "-c:v mpeg4");
    for name in [
        &b"-x.mp4"[..],
        b"http:x.mp4",
        b"concat:a|b.mp4",
        b"pipe:0",
        b"%03d.mp4",
        b"\xff\xfe.mp4",
    ] {
        let strange = bench.path("").join(std::ffi::OsStr::from_bytes(name));
        if std::fs::copy(&clip, &strange).is_ok() {
            let index = probe(&strange, &ProbeOptions::default()).unwrap();
            assert_eq!(index.stamps.len(), 5);
        }
    }
}

#[test]
fn films_without_a_usable_picture() {
    let Some(bench) = Bench::with(&["libx264", "aac", "mjpeg"]) else {
        return;
    };
    let sound = bench.make("sound.m4a", "-f lavfi -i sine=duration=1 -c:a aac");
    assert_is!(refused(&sound), ClipError::NoVideo { .. });
    let coded = "-c:v libx264 -pix_fmt yuv420p";
    let fields = format!("{coded} -flags +ildct+ilme -x264-params tff=1");
    let clip = bench.moving("fields.mp4", "64x48", "25", 10, &fields);
    assert_is!(refused(&clip), ClipError::Interlaced { .. });
    let clip = bench.moving("whole.mp4", "64x48", "25", 50, coded);
    let bytes = std::fs::read(&clip).unwrap();
    let cut = bench.file("cut.mp4", &bytes[..bytes.len() / 2]);
    assert_is!(refused(&cut), ClipError::Unfinished { .. });
    let none = bench.moving("none.avi", "64x48", "25", 0, "-c:v mjpeg");
    assert_is!(refused(&none), ClipError::NoFrames { .. });
}

/// A header of 65535x65535 is refused by its words, before memory is asked for.
#[test]
fn a_giant_header_is_refused() {
    let Some(bench) = Bench::with(&["qtrle", "rawvideo"]) else {
        return;
    };
    let clip = bench.moving("rle.mov", "64x48", "25", 3, "-c:v qtrle -pix_fmt rgb24");
    // Visual sample entry: 32 bytes after its name come width and height.
    let at = find(&clip, b"rle ") + 28;
    let giant = bench.file("giant.mov", &patched(&clip, at, &[0xff; 4]));
    assert_is!(
        refused(&giant),
        ClipError::TooLarge { .. } | ClipError::NoSize { .. }
    );
    let clip = bench.moving("raw.avi", "64x48", "25", 3, "-c:v rawvideo -pix_fmt bgr24");
    // BITMAPINFOHEADER: size 40, then width and height, little-endian.
    let at = find(&clip, b"strf") + 12;
    let giant = bench.file(
        "giant.avi",
        &patched(&clip, at, &[0xff, 0xff, 0, 0, 0xff, 0xff, 0, 0]),
    );
    assert_is!(
        refused(&giant),
        ClipError::TooLarge { .. } | ClipError::NoSize { .. }
    );
}

/// FFmpeg has hundreds of decoders; a stranger's file does not choose among
/// them.
#[test]
fn only_codecs_of_cameras_and_editors_are_decoded() {
    let Some(bench) = Bench::with(&["flv", "cinepak", "wmav2", "libx264", "mpeg4"]) else {
        return;
    };
    for (name, codec) in [("a.flv", "flv"), ("a.avi", "cinepak")] {
        let clip = bench.moving(name, "64x48", "25", 5, &format!("-c:v {codec}"));
        let error = refused(&clip);
        assert!(error.to_string().contains("convert the clip to H.264"));
        assert_is!(error, ClipError::Codec { .. });
    }
    // Of two tracks the one that can be read.
    let both = bench.make(
        "both.mkv",
        "-f lavfi -i testsrc2=s=320x240:r=25:d=1 -f lavfi -i testsrc2=s=64x48:r=25:d=1 -map 0 \
         -map 1 -c:v:0 flv -c:v:1 mpeg4",
    );
    let index = probe(&both, &ProbeOptions::default()).unwrap();
    assert_eq!(index.orientation.stored, (64, 48));
    let heard = bench.make(
        "a.mkv",
        "-f lavfi -i testsrc2=s=64x48:r=25:d=1 -f lavfi -i sine=d=1 -c:v libx264 -c:a wmav2",
    );
    let index = probe(&heard, &ProbeOptions::default()).unwrap();
    let error = sound(&index).unwrap_err();
    assert!(error.to_string().contains("wmav2 (its sound)"), "{error}");
    assert_is!(error, ClipError::Codec { .. });
}

/// Sixteen references of 13.8 megapixels: 220 of them together, more than the
/// highest level of H.264 or H.265 allows.
#[test]
fn more_reference_pictures_than_any_level_allows_are_refused() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let coded = "-c:v libx264 -preset ultrafast -qp 50 -x264-params ref=16:log-level=none";
    let clip = bench.moving("many.mp4", "4800x2880", "25", 2, coded);
    let error = refused(&clip);
    assert!(
        error.to_string().contains("16 kept for reference"),
        "{error}"
    );
    assert_is!(error, ClipError::TooCostly { .. });
    let clip = bench.moving("few.mp4", "4800x2880", "25", 2, &coded.replace("=16", "=2"));
    assert!(probe(&clip, &ProbeOptions::default()).is_ok());
}

/// Eighty-nine million frames in a table of twelve bytes.
#[test]
fn tables_of_millions_of_frames_are_refused_unread() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let clip = bench.moving("a.mp4", "64x48", "25", 10, "-c:v libx264");
    // ISO/IEC 14496-12, 8.7.3: version, size of each, number.
    let at = find(&clip, b"stsz") + 8;
    let many = [&1u32.to_be_bytes()[..], &89_000_000u32.to_be_bytes()].concat();
    let long = bench.file("long.mp4", &patched(&clip, at, &many));
    let error = refused(&long);
    assert!(
        error.to_string().contains("list 89000000 frames"),
        "{error}"
    );
    assert_is!(error, ClipError::TooLong { .. });
    let name = find(&clip, b"stbl");
    let packed = bench.file("packed.mp4", &patched(&clip, name, b"cmov"));
    assert_is!(refused(&packed), ClipError::TooLong { .. });
}

/// Rates that no camera reaches are said and not used.
#[test]
fn a_capture_rate_beyond_all_cameras_is_not_believed() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    for (fps, believed) in [
        ("7680", true),
        ("60000", false),
        ("1e7", false),
        ("-3", false),
    ] {
        let coded = format!(
            "-c:v libx264 -movflags use_metadata_tags -metadata com.android.capture.fps={fps}"
        );
        let clip = bench.moving("a.mp4", "64x48", "25", 5, &coded);
        let index = probe(&clip, &ProbeOptions::default()).unwrap();
        assert_eq!(index.stated_fps.is_some(), believed, "{fps}");
        let said = index
            .warnings
            .iter()
            .any(|w| w.contains("no camera reaches"));
        assert_eq!(
            said,
            !believed && fps != "-3",
            "{fps}: {:?}",
            index.warnings
        );
    }
}
