//! Session and timing files named on the command line.

use std::path::{Path, PathBuf};

use super::exit::{Stop, refuse};
use super::stdin;
use super::talk::Talk;
use crate::beside::folder_of;
use crate::rig::Session;
use crate::stats::compare::Named;
use crate::store::schema::Timing;
use crate::store::{StoreError, doubts, read_timing, read_timing_from};

/// Files of a folder that are named.
const MOST_NAMED: usize = 4;
/// Trials of a file whose doubts are told one by one.
const MOST_DOUBTS: usize = 3;
const NAME_ONE: &str = "name a timing file, as focuslag time writes it";

/// The one session file, and its folder; `known` clips count as there, `advice`
/// is for who named several files, or a clip.
pub fn session(
    files: &[PathBuf],
    known: &[PathBuf],
    advice: [&str; 2],
) -> Result<(Session, PathBuf), Stop> {
    let [file] = files else {
        let (n, advice) = (files.len(), advice[0]);
        let message = format!("{n} files, but one session file is wanted; {advice}");
        return Err(format!("command line: {message}").into());
    };
    let session = if stdin::named(file) {
        let text = stdin::text("session file")?;
        Session::parse_knowing(&text, stdin::NAME, Path::new(""), known)?
    } else if stdin::binary(file) {
        let (name, advice) = (file.display(), advice[1]);
        return Err(format!("{name}: is no session file (it is not text); {advice}").into());
    } else {
        Session::read_knowing(file, known)?
    };
    Ok((session, folder_of(file).to_path_buf()))
}

/// Reads them all, or says what is wrong with each.
pub fn opened(files: &[PathBuf], talk: Talk) -> Result<Vec<(String, Timing)>, Stop> {
    let read = timings(files)?;
    doubted(&read, talk);
    Ok(read)
}

/// Warns of trials whose keys say two things.
pub fn doubted(read: &[(String, Timing)], talk: Talk) {
    for (file, timing) in read {
        let doubts = doubts(timing);
        for doubt in doubts.iter().take(MOST_DOUBTS) {
            talk.warn(&format!("{file}: {doubt}"));
        }
        if let Some(more @ 1..) = doubts.len().checked_sub(MOST_DOUBTS) {
            talk.warn(&format!("{file}: the same of {more} more trials"));
        }
    }
}

/// What was read, as it is compared.
pub fn named(read: &[(String, Timing)]) -> Vec<Named<'_>> {
    read.iter()
        .map(|(file, timing)| Named { file, timing })
        .collect()
}

/// Reads them all, or says of every one what is wrong with it.
pub fn timings(files: &[PathBuf]) -> Result<Vec<(String, Timing)>, Stop> {
    refuse(piped_twice(files))?;
    let mut read = Vec::new();
    let mut errors = Vec::new();
    for file in files {
        match timing(file) {
            Ok(timing) => read.push((name(file), timing)),
            Err(error) => errors.push(error),
        }
    }
    refuse(errors)?;
    Ok(read)
}

/// What is wrong where standard input is named twice.
pub fn piped_twice(files: &[PathBuf]) -> Option<String> {
    let piped = files.iter().filter(|f| stdin::named(f)).count();
    let twice = "command line: `-` is named twice; standard input holds one timing file";
    (piped > 1).then(|| twice.to_owned())
}

/// Reads one, or says what is wrong with it.
pub fn timing(file: &Path) -> Result<Timing, String> {
    let read = match stdin::named(file) {
        true => read_timing_from(std::io::stdin().lock(), stdin::NAME),
        false => read_timing(file),
    };
    read.map_err(|e| advised(file, &e))
}

/// The message, with what to do where the wrong file was named.
fn advised(file: &Path, error: &StoreError) -> String {
    let elsewhere = match error {
        StoreError::Read { .. } => true,
        StoreError::Json { whole, .. } => *whole,
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
    let Ok(text) = stdin::text_of(file, "timing file") else {
        return format!("{error}; {NAME_ONE}");
    };
    match toml_kind(&text) {
        Some("policy") => format!("{name}: is a policy, not a timing file; give it as --policy"),
        Some(kind) => format!("{name}: is a {kind}, not a timing file; {first}"),
        None if text.trim().is_empty() => format!("{name}: is empty; {NAME_ONE}"),
        None if !text.trim_start().starts_with('{') => {
            format!("{name}: is a text, but not a timing file; {NAME_ONE}")
        }
        None => format!("{error}; {NAME_ONE}"),
    }
}

/// `name its files: a.timing.json b.timing.json`, as far as there are any.
fn inside(folder: &Path) -> String {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let paths = entries.map(|entry| entry.path().display().to_string());
    let mut names: Vec<String> = paths.filter(|p| p.ends_with(".timing.json")).collect();
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

/// What messages call it.
pub fn name(file: &Path) -> String {
    if stdin::named(file) {
        return stdin::NAME.to_owned();
    }
    file.display().to_string()
}
