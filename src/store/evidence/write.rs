//! Writes an evidence archive whole or not at all.

use std::collections::BTreeMap;
use std::io::{self, Cursor, Write};
use std::path::{Path, PathBuf};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::record::Index;
use super::{INDEX, beside, timing_sha256};
use crate::beside::write_whole;
use crate::store::error::StoreError;

/// An archive to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct Pack {
    /// What there is.
    pub index: Index,
    /// Pictures by the names that the index gives them.
    pub pictures: BTreeMap<String, Vec<u8>>,
}

/// Writes the evidence of `timing`, which is written already, beside it and says where. The same pack
/// gives the same bytes.
///
/// # Errors
/// Where the folder cannot be written or the disk is full; what stood there
/// before stays untouched.
pub fn write_evidence(timing: &Path, pack: &Pack) -> Result<PathBuf, StoreError> {
    let path = beside(timing);
    let index = Index {
        timing_sha256: timing_sha256(timing),
        ..pack.index.clone()
    };
    let write = || write_whole(&path, &to_bytes(&index, &pack.pictures)?);
    match write() {
        Ok(()) => Ok(path),
        Err(source) => Err(StoreError::Write {
            file: path.display().to_string(),
            source,
        }),
    }
}

fn to_bytes(index: &Index, pictures: &BTreeMap<String, Vec<u8>>) -> io::Result<Vec<u8>> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    // The earliest time a zip can say: no clock, so the same bytes again.
    let plain = SimpleFileOptions::default()
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644)
        .compression_method(CompressionMethod::Stored);
    let packed = plain.compression_method(CompressionMethod::Deflated);
    zip.start_file(INDEX, packed)?;
    zip.write_all(&serde_json::to_vec(index)?)?;
    for (name, bytes) in pictures {
        zip.start_file(name.as_str(), plain)?;
        zip.write_all(bytes)?;
    }
    Ok(zip.finish()?.into_inner())
}
