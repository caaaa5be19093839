//! Timing files named on the command line.

use std::path::{Path, PathBuf};

use super::stdin;
use crate::store::schema::Timing;
use crate::store::{StoreError, read_timing, read_timing_from};

/// Files of a folder that are named.
const MOST_NAMED: usize = 4;

/// Reads them all, or says of every one what is wrong with it.
pub fn timings(files: &[PathBuf]) -> Result<Vec<(String, Timing)>, Vec<String>> {
    if files.iter().filter(|f| stdin::named(f)).count() > 1 {
        let twice = "command line: `-` is named twice; standard input holds one timing file";
        return Err(vec![twice.to_owned()]);
    }
    let mut read = Vec::new();
    let mut errors = Vec::new();
    for file in files {
        match timing(file) {
            Ok(timing) => read.push((name(file), timing)),
            Err(e) => errors.push(advised(file, &e)),
        }
    }
    if errors.is_empty() {
        Ok(read)
    } else {
        Err(errors)
    }
}

fn timing(file: &Path) -> Result<Timing, StoreError> {
    if stdin::named(file) {
        read_timing_from(std::io::stdin().lock(), stdin::NAME)
    } else {
        read_timing(file)
    }
}

/// The message, with what to do where the wrong file was named.
fn advised(file: &Path, error: &StoreError) -> String {
    let elsewhere = match error {
        StoreError::Read { .. } => true,
        StoreError::Json { key, .. } => key == ".",
        _ => false,
    };
    if !elsewhere || stdin::named(file) {
        return error.to_string();
    }
    let name = file.display();
    let first = "run focuslag time first, then name a timing file it writes (NAME.timing.json)";
    if file.is_dir() {
        return format!("{name}: is a folder; {}", inside(file));
    }
    if stdin::binary(file) {
        return format!("{name}: is a film or another binary file, not a timing file; {first}");
    }
    match stdin::text_of(file, "timing file").map(|text| toml_kind(&text)) {
        Ok(Some("policy")) => {
            format!("{name}: is a policy, not a timing file; give it as --policy")
        }
        Ok(Some(kind)) => format!("{name}: is a {kind}, not a timing file; {first}"),
        _ => format!("{error}; name a timing file, as focuslag time writes it"),
    }
}

/// `name its files: a.timing.json b.timing.json`, as far as there are any.
fn inside(folder: &Path) -> String {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path().display().to_string())
        .filter(|path| path.ends_with(".timing.json"))
        .collect();
    names.sort();
    let more = names.len().saturating_sub(MOST_NAMED);
    names.truncate(MOST_NAMED);
    match (names.is_empty(), more) {
        (true, _) => "it holds no .timing.json: run focuslag time first".to_owned(),
        (false, 0) => format!("name its files: {}", names.join(" ")),
        (false, more) => format!("name its files: {} and {more} more", names.join(" ")),
    }
}

/// What a TOML text of this tool is, by the headings it has.
fn toml_kind(text: &str) -> Option<&'static str> {
    let has = |heading: &str| text.lines().any(|l| l.trim_start().starts_with(heading));
    if has("[[setup]]") {
        Some("session file")
    } else if has("[stimulus]") || has("[capture]") {
        Some("rig file")
    } else if has("[require]") || has("[change]") {
        Some("policy")
    } else {
        None
    }
}

fn name(file: &Path) -> String {
    if stdin::named(file) {
        stdin::NAME.to_owned()
    } else {
        file.display().to_string()
    }
}
