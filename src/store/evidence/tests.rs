use std::collections::BTreeMap;
use std::path::Path;

use super::*;
use crate::stats::fixtures::{clip, swings, timing};

fn pack(sha256: &str) -> Pack {
    let grey = Grey {
        width: 64,
        height: 48,
        pixels: (0..64 * 48).map(|k| (k * 7 % 251) as u8).collect(),
    };
    Pack {
        index: Index {
            format: FORMAT.to_owned(),
            version: VERSION,
            setup: "kit-amber".to_owned(),
            timing_sha256: None,
            clips: vec![ClipEvidence {
                path: "a.mp4".to_owned(),
                sha256: sha256.to_owned(),
                curve: Some(SignalCurve {
                    period_s: 0.5,
                    shown_s: vec![0.5, 1.0, 1.5],
                    sharpness: vec![1.0, 2.0, 3.0],
                }),
                trials: vec![TrialEvidence {
                    index: 0,
                    onset_s: 1.0,
                    blur: None,
                    stills: vec![StillRecord {
                        moment: Moment::Onset,
                        time_s: 1.0,
                        frame: 240,
                        file: "0/0-onset.jpg".to_owned(),
                        screen: None,
                    }],
                }],
            }],
        },
        pictures: BTreeMap::from([("0/0-onset.jpg".to_owned(), grey.to_jpeg().unwrap())]),
    }
}

/// Archives come from strangers: what cannot be is refused before it is drawn.
#[test]
fn numbers_out_of_range_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("kit-amber.timing.json");
    let curve = |change: &dyn Fn(&mut SignalCurve)| {
        let mut kept = pack("0a");
        change(kept.index.clips[0].curve.as_mut().unwrap());
        write_evidence(&at, &kept).unwrap();
        Evidence::of(&at)
    };
    assert!(curve(&|_| ()).is_ok());
    let changes: [&dyn Fn(&mut SignalCurve); 5] = [
        &|c| c.sharpness[1] = -2.0,
        &|c| c.sharpness[1] = 1e300,
        &|c| c.shown_s[2] = 1e18,
        &|c| c.shown_s.swap(0, 2),
        &|c| c.period_s = -1.0,
    ];
    for (k, change) in changes.into_iter().enumerate() {
        assert!(
            matches!(curve(change), Err(NoEvidence::Unusable { .. })),
            "{k}"
        );
    }
    let mut kept = pack("0a");
    kept.index.clips[0].trials[0].blur = Some(BlurCurve {
        first: usize::MAX,
        permille: vec![1.0],
    });
    write_evidence(&at, &kept).unwrap();
    assert!(Evidence::of(&at).is_err());
}

/// A pipe that nobody writes to would be waited for without end.
#[cfg(unix)]
#[test]
fn a_pipe_is_no_archive() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("kit-amber.evidence.zip");
    let made = std::process::Command::new("mkfifo").arg(&path).status();
    assert!(made.unwrap().success());
    assert!(matches!(
        Evidence::open(&path),
        Err(NoEvidence::Unusable { .. })
    ));
}

#[test]
fn an_archive_is_the_same_bytes_again_and_found_after_a_move() {
    let folder = tempfile::tempdir().unwrap();
    let made = timing("kit-amber", vec![clip("a", swings(&[Some(200.0)]))]);
    let kept = pack(&made.clips[0].sha256);
    let at = folder.path().join("kit-amber.timing.json");
    let path = write_evidence(&at, &kept).unwrap();
    assert_eq!(path.file_name().unwrap(), "kit-amber.evidence.zip");
    let first = std::fs::read(&path).unwrap();
    write_evidence(&at, &kept).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), first);

    let elsewhere = folder.path().join("moved");
    std::fs::create_dir(&elsewhere).unwrap();
    std::fs::rename(&path, elsewhere.join("kit-amber.evidence.zip")).unwrap();
    let mut found = Evidence::of(&elsewhere.join("kit-amber.timing.json")).unwrap();
    assert!(found.misfits(&made).is_empty());
    let trial = found.trial(&made.clips[0], &made.clips[0].trials[0]);
    let name = trial.unwrap().stills[0].file.clone();
    let picture = Grey::from_jpeg(&found.picture(&name).unwrap()).unwrap();
    assert_eq!((picture.width, picture.height), (64, 48));
    assert!(found.picture("0/9-onset.jpg").is_none());
}

#[test]
fn another_film_and_a_moved_onset_are_said() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("k.timing.json");
    let mut made = timing("kit-amber", vec![clip("a", swings(&[Some(200.0)]))]);
    write_evidence(&at, &pack("00")).unwrap();
    let said = Evidence::of(&at).unwrap().misfits(&made);
    assert!(said[0].contains("another film"), "{said:?}");
    write_evidence(&at, &pack(&made.clips[0].sha256)).unwrap();
    made.clips[0].trials[0].onset_s = 1.2;
    let said = Evidence::of(&at).unwrap().misfits(&made);
    assert!(said[0].contains("1 of 1 trials"), "{said:?}");
}

/// A run that was cut short between the two files leaves the evidence of the
/// result before.
#[test]
fn evidence_of_an_earlier_result_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("k.timing.json");
    let made = timing("kit-amber", vec![clip("a", swings(&[Some(200.0)]))]);
    crate::store::write_timing(&at, &made).unwrap();
    write_evidence(&at, &pack(&made.clips[0].sha256)).unwrap();
    let said = || Evidence::of(&at).unwrap().misfits(&made);
    assert!(said().is_empty(), "{:?}", said());
    // Line ends as another system's editor leaves them are no other result.
    let text = std::fs::read_to_string(&at).unwrap();
    std::fs::write(&at, text.replace('\n', "\r\n")).unwrap();
    assert!(said().is_empty(), "{:?}", said());
    let mut later = made.clone();
    later.clips[0].trials[0].uncertainty_ms = Some(3.25);
    crate::store::write_timing(&at, &later).unwrap();
    assert!(
        said()[0].contains("was kept with another result"),
        "{:?}",
        said()
    );
}

/// A list of millions of members costs what is read of it, no more.
#[test]
fn a_list_longer_than_any_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("k.evidence.zip");
    let mut zip = zip::ZipWriter::new(std::fs::File::create(&path).unwrap());
    let plain = zip::write::SimpleFileOptions::default();
    // 66,000 members whose names fill a list of 9 MB.
    for k in 0..66_000 {
        zip.start_file(format!("{k:0100}"), plain).unwrap();
    }
    zip.finish().unwrap();
    let said = Evidence::open(&path).err().unwrap().to_string();
    assert!(said.contains("longer than any"), "{said}");
}

#[test]
fn what_is_no_evidence_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path().join("k.evidence.zip");
    assert!(matches!(Evidence::open(&at), Err(NoEvidence::Missing(_))));
    std::fs::write(&at, b"PK\x03\x04 cut short").unwrap();
    assert!(matches!(
        Evidence::open(&at),
        Err(NoEvidence::Unusable { .. })
    ));
    let mut newer = pack("00");
    newer.index.version = VERSION + 1;
    write_evidence(&folder.path().join("k.timing.json"), &newer).unwrap();
    let said = Evidence::open(&at).err().unwrap().to_string();
    assert!(said.contains("reads up to 1"), "{said}");
}

#[test]
fn names_beside() {
    let name = |n: &str| beside(Path::new(n)).display().to_string();
    assert_eq!(name("a/kit.timing.json"), "a/kit.evidence.zip");
    assert_eq!(name("kit.json"), "kit.evidence.zip");
}

#[test]
fn a_curve_is_a_staircase() {
    let curve = pack("00").index.clips[0].curve.clone().unwrap();
    assert_eq!(curve.between(0.9, 1.5), 1..2);
    assert_eq!((curve.place(0.2), curve.place(1.2)), (None, Some(1)));
}
