//! The file of a setup's photographs.

use std::path::{Path, PathBuf};

use super::record::Photos;
use crate::names;
use crate::rig::safe_name;
use crate::store::write_file;

/// Where it is written: `NAME.photos.json`.
pub(crate) fn photos_file(setup: &str, out: &Path) -> PathBuf {
    out.join(format!("{}.photos.json", safe_name(setup)))
}

/// Writes it whole; gives the path back.
///
/// # Errors
/// What the system said, with the file's name.
pub(crate) fn write_photos(path: &Path, photos: &Photos) -> Result<PathBuf, String> {
    let text = serde_json::to_string_pretty(photos).map_err(|e| e.to_string())?;
    let text = names::json(&text) + "\n";
    write_file(path, text.as_bytes()).map_err(|e| e.to_string())?;
    Ok(path.to_path_buf())
}
