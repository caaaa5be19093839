//! Timing files named on the command line.

use std::path::{Path, PathBuf};

use super::stdin;
use crate::store::schema::Timing;
use crate::store::{StoreError, read_timing, read_timing_from};

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
            Err(e) => errors.push(advised(&e)),
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
fn advised(error: &StoreError) -> String {
    let elsewhere = match error {
        StoreError::Read { .. } => true,
        StoreError::Json { key, .. } => key == ".",
        _ => false,
    };
    let hint = "; name a timing file, as focuslag time writes it";
    format!("{error}{}", if elsewhere { hint } else { "" })
}

fn name(file: &Path) -> String {
    if stdin::named(file) {
        stdin::NAME.to_owned()
    } else {
        file.display().to_string()
    }
}
