//! Writes a timing file whole or not at all.

use std::io::{self, BufWriter, Write};
use std::path::Path;

use super::error::StoreError;
use super::schema::Timing;
use crate::beside::{beside, write_whole};

/// Writes pretty JSON with a closing newline: to a temporary file in the same
/// folder first, renamed once it is complete. The same timing gives the same
/// bytes.
///
/// # Errors
/// Where the folder cannot be written or the disk is full; what stood there
/// before stays untouched.
pub fn write_timing(path: &Path, timing: &Timing) -> Result<(), StoreError> {
    let text = to_text(timing).map_err(|e| fault(path, e))?;
    write_whole(path, text.as_bytes()).map_err(|e| fault(path, e))
}

/// Writes any file whole or not at all.
///
/// # Errors
/// As [`write_timing`].
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    write_whole(path, bytes).map_err(|e| fault(path, e))
}

fn to_text(timing: &Timing) -> io::Result<String> {
    let mut text = serde_json::to_string_pretty(timing)?;
    text.push('\n');
    Ok(text)
}

/// Writes any file whole or not at all, piece by piece; what `fill` gives comes
/// back.
///
/// # Errors
/// As [`write_timing`]; what `fill` reports.
pub fn write_pieces<T>(
    path: &Path,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<T>,
) -> Result<T, StoreError> {
    let whole = || {
        let part = beside(path)?;
        let mut out = BufWriter::new(part.file()?);
        let given = fill(&mut out)?;
        out.flush()?;
        part.keep(path)?;
        Ok(given)
    };
    whole().map_err(|e| fault(path, e))
}

fn fault(path: &Path, source: io::Error) -> StoreError {
    // The name of the temporary file in between tells a person nothing.
    let said = source.to_string();
    let source = match said.split_once(" at path ") {
        Some((cause, _)) => io::Error::new(source.kind(), cause.to_owned()),
        None => source,
    };
    StoreError::Write {
        file: path.display().to_string(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing};
    use crate::store::read_timing;

    #[test]
    fn written_and_read_back_the_same_bytes_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("kit-amber.timing.json");
        let made = timing(
            "kit-amber",
            vec![clip("a", swings(&[Some(201.125), None, Some(319.000_1)]))],
        );
        write_timing(&path, &made).unwrap();
        let first = std::fs::read(&path).unwrap();
        let back = read_timing(&path).unwrap();
        assert_eq!(back, made);
        write_timing(&path, &back).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), first);
        assert!(first.ends_with(b"}\n"));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_named() {
        let path = Path::new("no-such-folder/kit.timing.json");
        let error = write_timing(path, &timing("k", vec![])).unwrap_err();
        assert!(
            error
                .to_string()
                .starts_with("no-such-folder/kit.timing.json")
        );
    }
}
