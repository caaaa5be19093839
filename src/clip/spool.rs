//! Standard input as a file: containers have to be read back and forth.

use std::io::{IsTerminal, Seek};

use super::ClipError;
use crate::beside::goes_too;

/// Copies standard input into a temporary file, which is deleted when the
/// returned handle is dropped.
///
/// # Errors
/// Standard input is a terminal, is empty, cannot be read, or does not fit
/// into the folder for temporary files.
pub fn spool_stdin() -> Result<tempfile::NamedTempFile, ClipError> {
    let stdin = std::io::stdin();
    if stdin.is_terminal() {
        return Err(failed("nothing is piped in"));
    }
    spool(&mut stdin.lock())
}

fn spool(source: &mut dyn std::io::Read) -> Result<tempfile::NamedTempFile, ClipError> {
    let full = |source| ClipError::Spool {
        folder: std::env::temp_dir(),
        source,
    };
    let mut file = tempfile::NamedTempFile::new().map_err(full)?;
    goes_too(file.path());
    let bytes = std::io::copy(source, file.as_file_mut()).map_err(full)?;
    if bytes == 0 {
        return Err(failed("is empty (0 bytes)"));
    }
    file.as_file_mut()
        .rewind()
        .map_err(|e| failed(&e.to_string()))?;
    Ok(file)
}

fn failed(detail: &str) -> ClipError {
    ClipError::Stdin {
        detail: detail.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pipe_becomes_a_file_and_an_empty_one_an_error() {
        let file = spool(&mut &b"abc"[..]).unwrap();
        assert_eq!(std::fs::read(file.path()).unwrap(), b"abc");
        let message = spool(&mut &b""[..]).unwrap_err().to_string();
        assert!(message.contains("empty"), "{message}");
    }
}
