//! Arrays come back as they were written, or the damage is told.

use std::path::Path;

use super::*;

fn about() -> About {
    About {
        format: FORMAT.to_owned(),
        version: VERSION,
        made_by: BTreeMap::from([("focuslag".to_owned(), "0".to_owned())]),
        clip: "../a.mp4".to_owned(),
        sha256: "ab".repeat(32),
        rig: serde_json::json!({ "screen": { "feed": true } }),
        facts: serde_json::json!({ "third": 1.0 / 3.0 }),
    }
}

fn written(path: &Path, about: &About) {
    let mut out = SignalsWriter::create(path).unwrap();
    out.about(about).unwrap();
    out.numbers("time_s", [0.0, 1.0 / 3.0, 1e300].into_iter())
        .unwrap();
    let mut k = 0u16;
    out.changes("codes", (500, 3), |row: &mut Vec<u16>| {
        row.extend([k, 65535 - k, 7]);
        k += 131;
        Ok(())
    })
    .unwrap();
    out.close().unwrap();
}

#[test]
fn arrays_come_back_and_the_same_arrays_are_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let (a, b) = (folder.path().join("a.npz"), folder.path().join("b.npz"));
    written(&a, &about());
    written(&b, &about());
    assert_eq!(std::fs::read(&a).unwrap(), std::fs::read(&b).unwrap());
    let mut back = SignalsReader::open(&a).unwrap();
    assert_eq!(back.about(), &about());
    let times: Vec<f64> = back.numbers("time_s").unwrap();
    assert_eq!(times, [0.0, 1.0 / 3.0, 1e300]);
    let mut k = 0u16;
    let rows = back.changes("codes", 3, |row: &[u16]| {
        assert_eq!(row, [k, 65535 - k, 7]);
        k += 131;
        Ok(())
    });
    assert_eq!(rows.unwrap(), 500);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn what_cannot_be_believed_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.npz");
    written(&path, &about());
    let mut back = SignalsReader::open(&path).unwrap();
    let missing = back.numbers::<f64>("light").unwrap_err().to_string();
    assert!(missing.starts_with("light:"), "{missing}");
    assert!(back.numbers::<f32>("time_s").is_err(), "another type");
    assert!(back.rows("codes", 4, |_: &[u16]| Ok(())).is_err(), "width");
    let newer = About {
        version: VERSION + 1,
        ..about()
    };
    let other = folder.path().join("b.npz");
    written(&other, &newer);
    let said = SignalsReader::open(&other).err().unwrap().to_string();
    assert!(said.contains("newer"), "{said}");
    // A bit turned over in the packed numbers.
    let whole = std::fs::read(&path).unwrap();
    let at = whole.windows(9).position(|w| w == b"codes.npy").unwrap() + 60;
    let mut bytes = whole.clone();
    bytes[at] ^= 0x10;
    std::fs::write(&path, &bytes).unwrap();
    let opened = SignalsReader::open(&path);
    assert!(
        opened.is_err()
            || opened
                .unwrap()
                .changes("codes", 3, |_: &[u16]| Ok(()))
                .is_err()
    );
    // Cut short, empty, something else.
    for bytes in [&whole[..whole.len() / 2], b"", b"no archive at all"] {
        std::fs::write(&path, bytes).unwrap();
        assert!(SignalsReader::open(&path).is_err());
    }
}
