use super::*;

fn spec() -> EncodeSpec {
    EncodeSpec {
        size: (64, 48),
        ..EncodeSpec::default()
    }
}

fn gray(encoder: &mut Encoder, pts: i64) -> Result<(), EncodeError> {
    let chroma = [128; 32 * 24];
    encoder.push(
        Planes::Eight {
            luma: &[100; 64 * 48],
            cb: &chroma,
            cr: &chroma,
        },
        pts,
    )
}

#[test]
fn what_cannot_be_written_is_said_before_anything_is() {
    let dir = tempfile::tempdir().unwrap();
    let create = |name: &str, spec: &EncodeSpec| {
        Encoder::create(&dir.path().join(name), spec)
            .err()
            .map(|e| e.to_string())
    };
    let with = |change: fn(&mut EncodeSpec)| {
        let mut spec = spec();
        change(&mut spec);
        spec
    };
    for (name, spec, word) in [
        ("clip.wmv", spec(), ".mp4, .mov or .mkv"),
        ("clip.mp4", with(|s| s.size = (63, 48)), "63x48"),
        ("clip.mp4", with(|s| s.depth = 12), "12 bits"),
        ("clip.mp4", with(|s| s.codec = Codec::Ffv1), "ffv1"),
        ("clip.mkv", with(|s| s.quarter_turns = 1), "rotation"),
        ("no/such/folder/clip.mp4", spec(), "cannot be written"),
    ] {
        let got = create(name, &spec).unwrap();
        assert!(got.contains(word) && got.contains(name), "{got}");
    }
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
}

#[test]
fn stamps_must_rise_and_planes_must_fit() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("clip.mp4");
    let mut encoder = Encoder::create(&path, &spec()).unwrap();
    gray(&mut encoder, 0).unwrap();
    assert!(
        gray(&mut encoder, 0)
            .unwrap_err()
            .to_string()
            .contains("does not rise")
    );
    let bad = Planes::Eight {
        luma: &[1; 10],
        cb: &[1; 10],
        cr: &[1; 10],
    };
    assert!(
        encoder
            .push(bad, 1000)
            .unwrap_err()
            .to_string()
            .contains("do not fit")
    );
    drop(encoder);
    // A file that was not finished leaves nothing behind.
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
}

#[test]
fn a_finished_file_stands_under_its_name() {
    let dir = tempfile::tempdir().unwrap();
    for name in ["a.mp4", "b.mov", "c.mkv"] {
        let path = dir.path().join(name);
        let mut encoder = Encoder::create(&path, &spec()).unwrap();
        for k in 0..5 {
            gray(&mut encoder, k * 1000).unwrap();
        }
        assert!(!path.exists());
        encoder.finish().unwrap();
        assert!(path.exists());
    }
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 3);
}
