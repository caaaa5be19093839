//! `-`: standard input in place of a file.

use std::io::{IsTerminal, Read};
use std::path::Path;

use super::exit::{Exit, Stop};
use crate::clip::{ClipError, spool_stdin};

/// What messages call it.
pub const NAME: &str = "standard input";
/// Longest text taken in, bytes: a safeguard against the wrong file.
const LONGEST: u64 = 1 << 20;

/// Whether this file is standard input.
pub fn named(file: &Path) -> bool {
    file == Path::new("-")
}

/// Whether this is a file that begins like none a person writes.
pub fn binary(file: &Path) -> bool {
    let mut head = [0; 1024];
    let read = std::fs::File::open(file).and_then(|mut f| f.read(&mut head));
    read.is_ok_and(|n| head[..n].contains(&0))
}

/// Standard input as text; `what` says what is wanted there.
pub fn text(what: &str) -> Result<String, String> {
    let stdin = std::io::stdin();
    if stdin.is_terminal() {
        return Err(format!(
            "{NAME}: nothing is piped in; pipe a {what} in, or name a file"
        ));
    }
    take(&mut stdin.lock(), NAME, what)
}

/// A clip from standard input in a temporary file, or why not and how the
/// command ends: a full disk is no wrong request.
pub fn spooled() -> Result<tempfile::NamedTempFile, Stop> {
    spool_stdin().map_err(|e| {
        let exit = match e {
            ClipError::Spool { .. } => Exit::Failed,
            _ => Exit::Refused,
        };
        Stop(exit, vec![e.to_string()])
    })
}

/// A short text file; `what` says what is wanted.
pub fn text_of(file: &Path, what: &str) -> Result<String, String> {
    if named(file) {
        return text(what);
    }
    let name = file.display().to_string();
    match std::fs::File::open(file) {
        Ok(mut open) => take(&mut open, &name, what),
        Err(e) => Err(format!("{name}: cannot be read: {e}; name a {what}")),
    }
}

fn take(source: &mut dyn Read, name: &str, what: &str) -> Result<String, String> {
    let mut bytes = Vec::new();
    source
        .take(LONGEST + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| format!("{name}: cannot be read: {e}; name a {what}"))?;
    if bytes.len() as u64 > LONGEST {
        return Err(format!("{name}: is longer than any {what}; name a {what}"));
    }
    String::from_utf8(bytes).map_err(|_| format!("{name}: is not text; name a {what}"))
}
