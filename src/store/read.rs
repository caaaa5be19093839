//! Reads a timing file: only the fixed keys are needed, unknown keys pass,
//! the stored summary is not looked at.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::Path;

use serde::Deserialize;

use super::check::check;
use super::error::StoreError;
use super::schema::{Clip, FORMAT, HandClip, Setup, Timing, VERSION};

/// Largest timing file read, bytes: some 5,000 trials. Read into memory it may
/// take some forty times as much.
const LARGEST: u64 = 8 << 20;

/// Reads and checks one timing file. The summary of the result is `None`:
/// trials are the truth, whoever needs a summary derives it.
///
/// # Errors
/// A file that cannot be read, is no timing file, is too new, or holds a trial
/// that cannot be; each names the file, and line and key or the trial.
pub fn read_timing(path: &Path) -> Result<Timing, StoreError> {
    let name = path.display().to_string();
    match File::open(path) {
        Ok(file) => read_timing_from(file, &name),
        Err(source) => Err(StoreError::Read { file: name, source }),
    }
}

/// The same from any reader (standard input, say); `name` is what messages
/// call it.
///
/// # Errors
/// As [`read_timing`].
pub fn read_timing_from(reader: impl Read, name: &str) -> Result<Timing, StoreError> {
    let mut text = String::new();
    reader
        .take(LARGEST + 1)
        .read_to_string(&mut text)
        .map_err(|source| StoreError::Read {
            file: name.to_owned(),
            source,
        })?;
    if text.len() as u64 > LARGEST {
        return Err(file_fault(name, "is larger than any timing file"));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let head: Head = parse(text, name)?;
    head.check(name)?;
    let timing = parse::<Stored>(text, name)?.into_timing();
    check(&timing, name)?;
    Ok(timing)
}

/// Enough to tell whether the rest may be looked at.
#[derive(Deserialize)]
struct Head {
    format: Option<String>,
    version: Option<serde_json::Value>,
}

impl Head {
    fn check(&self, name: &str) -> Result<(), StoreError> {
        if self.format.as_deref() != Some(FORMAT) {
            return Err(file_fault(
                name,
                &format!("is no timing file: key `format` does not say \"{FORMAT}\""),
            ));
        }
        let version = self.version.as_ref().and_then(serde_json::Value::as_u64);
        match version {
            None | Some(0) => Err(file_fault(
                name,
                "key `version` must be a whole number from 1",
            )),
            Some(v) if v > u64::from(VERSION) => Err(file_fault(
                name,
                &format!(
                    "key `version` is {v}, this build reads up to {VERSION}: update focuslag, \
                     or time the clips again with this build"
                ),
            )),
            Some(_) => Ok(()),
        }
    }
}

/// [`Timing`] without the summary, which is not taken on trust.
#[derive(Deserialize)]
struct Stored {
    format: String,
    version: u32,
    setup: Setup,
    rig: serde_json::Value,
    measure: serde_json::Value,
    made_by: BTreeMap<String, String>,
    clips: Vec<Clip>,
    #[serde(default)]
    by_hand: Vec<HandClip>,
}

impl Stored {
    fn into_timing(self) -> Timing {
        Timing {
            format: self.format,
            version: self.version,
            setup: self.setup,
            rig: self.rig,
            measure: self.measure,
            made_by: self.made_by,
            clips: self.clips,
            by_hand: self.by_hand,
            summary: None,
        }
    }
}

fn parse<'a, T: Deserialize<'a>>(text: &'a str, name: &str) -> Result<T, StoreError> {
    let mut json = serde_json::Deserializer::from_str(text);
    let fault = |key: String, error: &serde_json::Error| StoreError::Json {
        file: name.to_owned(),
        place: place((error.line(), error.column()), &key),
        whole: key == ".",
        message: if error.is_eof() {
            "the file ends too early: it was cut short, or never fully copied".to_owned()
        } else {
            without_place(&error.to_string())
        },
    };
    let value = serde_path_to_error::deserialize(&mut json)
        .map_err(|e| fault(e.path().to_string(), e.inner()))?;
    json.end().map_err(|e| fault(".".to_owned(), &e))?;
    Ok(value)
}

/// Line and column and key, as far as they are known: the key is not where the
/// damage lies beside all keys, the column not at a line's end.
fn place((line, column): (usize, usize), key: &str) -> String {
    let known = [
        (line > 0).then(|| format!("line {line}")),
        (column > 0).then(|| format!("column {column}")),
        (![".", "?"].contains(&key)).then(|| format!("key `{key}`")),
    ];
    let known: Vec<String> = known.into_iter().flatten().collect();
    match known.as_slice() {
        [] => String::new(),
        _ => known.join(", ") + ": ",
    }
}

/// The message without the "at line …" that is said before it.
fn without_place(message: &str) -> String {
    match message.rfind(" at line ") {
        Some(end) => message[..end].to_owned(),
        None => message.to_owned(),
    }
}

fn file_fault(name: &str, message: &str) -> StoreError {
    StoreError::File {
        file: name.to_owned(),
        message: message.to_owned(),
    }
}

#[cfg(test)]
#[path = "read_tests.rs"]
mod tests;
