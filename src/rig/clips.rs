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
/// stand beside clips as results. `known` are files that count as there though
/// they are not, by their [`identity`]. The error says what is wrong and what
/// to do.
pub(super) fn find(folder: &Path, written: &str, known: &[PathBuf]) -> Result<Found, String> {
    let exact = folder.join(written);
    if is_there(&exact, known) {
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
    matches(folder, written, known).map(Found::Matches)
}

/// Whether a file is there, or counts as there.
pub(super) fn is_there(path: &Path, known: &[PathBuf]) -> bool {
    path.is_file() || (!known.is_empty() && known.contains(&identity(path)))
}

fn matches(folder: &Path, written: &str, known: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
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
    for path in known.iter().filter(|p| !p.is_file()) {
        files.extend(by_pattern(folder, written, path, options));
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

/// A file that only counts as there, by the path that the folder gives it, if
/// the pattern fits.
fn by_pattern(
    folder: &Path,
    written: &str,
    known: &Path,
    options: MatchOptions,
) -> Option<PathBuf> {
    let here = folder.join(".").canonicalize().ok()?;
    let (shown, inside) = if Path::new(written).is_absolute() {
        (known.to_path_buf(), known.to_path_buf())
    } else {
        let inside = pathdiff::diff_paths(known, &here)?;
        (folder.join(&inside), inside)
    };
    let pattern = Pattern::new(written.trim_start_matches("./")).ok()?;
    pattern.matches_path_with(&inside, options).then_some(shown)
}

/// What makes two paths the same file: also for one that is not there, as long
/// as its folder is.
pub fn identity(path: &Path) -> PathBuf {
    if let Ok(real) = path.canonicalize() {
        return real;
    }
    let folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    match (folder.canonicalize(), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path.to_owned(),
    }
}
