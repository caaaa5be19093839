//! The file's identity.

use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::{ClipError, open};

/// SHA-256 of a file (FIPS 180-4) in lower-case hex.
///
/// # Errors
/// When it cannot be read.
pub fn sha256(path: &Path) -> Result<String, ClipError> {
    let (mut file, _) = open::local_file(path)?;
    let mut hasher = Sha256::new();
    let mut buffer = vec![0; 1 << 20];
    loop {
        let n = file
            .read(&mut buffer)
            .map_err(|e| open::io_error(path, e))?;
        if n == 0 {
            break;
        }
        hasher.update(&buffer[..n]);
    }
    Ok(hasher
        .finalize()
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect())
}

#[cfg(test)]
mod tests {
    /// The one-block message sample of FIPS 180-4.
    #[test]
    fn a_file_hashes_as_its_bytes_do() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), "abc").unwrap();
        assert_eq!(
            super::sha256(file.path()).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
