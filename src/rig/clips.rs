//! Names and patterns → files.

use std::path::{Path, PathBuf};

use glob::{MatchOptions, Pattern};

/// What a name or pattern stands for.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// The file of exactly this name.
    File(PathBuf),
    /// The files a pattern matches, sorted by path; never empty.
    Matches(Vec<PathBuf>),
}

/// Looks a name or pattern up, relative to `folder`.
///
/// A file of exactly this name goes first, so that a name with brackets is
/// found as it is. A pattern passes over folders and over `.json` files, which
/// stand beside clips as results. The error says what is wrong and what to do.
pub(super) fn find(folder: &Path, written: &str) -> Result<Found, String> {
    let exact = folder.join(written);
    if exact.is_file() {
        return Ok(Found::File(exact));
    }
    if !written.contains(['*', '?', '[']) {
        let trouble = if exact.is_dir() {
            "is a folder"
        } else {
            "is not there"
        };
        let path = exact.display();
        return Err(format!(
            "{path} {trouble}; name a clip, or a pattern such as \"amber-*.mp4\""
        ));
    }
    matches(folder, written).map(Found::Matches)
}

fn matches(folder: &Path, written: &str) -> Result<Vec<PathBuf>, String> {
    let folder_text = folder.to_string_lossy();
    let whole = if Path::new(written).is_absolute() || folder_text.is_empty() {
        written.to_owned()
    } else {
        format!("{}/{written}", Pattern::escape(&folder_text))
    };
    let options = MatchOptions {
        require_literal_separator: true,
        require_literal_leading_dot: true,
        ..MatchOptions::new()
    };
    let paths = glob::glob_with(&whole, options).map_err(|e| {
        format!(
            "is no pattern that can be used ({}); use * for any text and ? for one character",
            e.msg
        )
    })?;
    let mut files = Vec::new();
    for path in paths {
        let path =
            path.map_err(|e| format!("cannot be looked up ({e}); check the folder's permissions"))?;
        if path.is_file() && path.extension().is_none_or(|e| e != "json") {
            files.push(path);
        }
    }
    files.sort();
    if files.is_empty() {
        let shown = if folder_text.is_empty() {
            ".".into()
        } else {
            folder_text
        };
        return Err(format!(
            "matches no file in {shown}; check the pattern and the folder"
        ));
    }
    Ok(files)
}

/// What makes two paths the same file.
pub(super) fn identity(path: &Path) -> PathBuf {
    path.canonicalize().unwrap_or_else(|_| path.to_owned())
}
