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
    out.close().unwrap().keep().unwrap();
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

/// A disk with room for so many bytes.
struct Small(std::io::Cursor<Vec<u8>>, usize);

impl std::io::Write for Small {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        if self.0.get_ref().len() + bytes.len() > self.1 {
            return Err(std::io::ErrorKind::StorageFull.into());
        }
        self.0.write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

impl std::io::Seek for Small {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.0.seek(to)
    }
}

/// The failure is told once, and what follows it neither fails nor counts.
#[test]
fn a_full_disk_is_told_once() {
    use std::io::Write;
    let small = Small(std::io::Cursor::default(), 1000);
    let mut zip = zip::ZipWriter::new(write::UntilFailed::new(small));
    let plain =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    zip.start_file("a.npy", plain).unwrap();
    let told = zip.write_all(&[7; 4000]).unwrap_err();
    assert_eq!(told.kind(), std::io::ErrorKind::StorageFull);
    let ended = zip.finish().expect("what follows is quiet");
    assert!(ended.whole().is_err(), "but it is no file of signals");
}

/// An array of 2⁴⁰ rows, a header of nested brackets, and ten megabytes of what
/// it says of itself: refused at once, before anything is taken in.
#[test]
fn more_than_a_film_needs_is_refused() {
    use std::io::Write;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.npz");
    let packed = |about: &str, shape: &str| {
        let mut zip = zip::ZipWriter::new(std::fs::File::create(&path).unwrap());
        let plain = zip::write::SimpleFileOptions::default();
        zip.start_file(ABOUT, plain).unwrap();
        zip.write_all(about.as_bytes()).unwrap();
        zip.start_file("time_s.npy", plain).unwrap();
        let dict = format!("{{'descr': '<f8', 'fortran_order': False, 'shape': {shape}, }}\n");
        zip.write_all(b"\x93NUMPY\x01\x00").unwrap();
        let length = u16::try_from(dict.len()).unwrap();
        zip.write_all(&length.to_le_bytes()).unwrap();
        zip.write_all(dict.as_bytes()).unwrap();
        zip.write_all(&[0; 64]).unwrap();
        zip.finish().unwrap();
    };
    let plain = serde_json::to_string(&about()).unwrap();
    let told = || {
        let read = SignalsReader::open(&path).and_then(|mut f| f.numbers::<f64>("time_s"));
        read.unwrap_err().to_string()
    };
    packed(&plain, "(8,)");
    assert_eq!(
        SignalsReader::open(&path)
            .unwrap()
            .numbers::<f64>("time_s")
            .unwrap(),
        [0.0; 8]
    );
    packed(&plain, "(1099511627776,)");
    assert!(told().contains("more rows"), "{}", told());
    packed(&plain, &format!("({}8{},)", "[".repeat(60), "]".repeat(60)));
    assert!(told().contains("header"), "{}", told());
    packed(&plain.replace("ab", &"ab".repeat(200_000)), "(8,)");
    assert!(told().contains("longer"), "{}", told());
}
