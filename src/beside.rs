//! A temporary file beside the one that it is to become.
//!
//! In: a path to be written. Out: an empty file in the same folder, under a
//! name of its own, so that nothing of another's is touched. It goes when it is
//! dropped before it is renamed. Failures: the folder cannot be written.

use std::io;
use std::path::Path;

use tempfile::NamedTempFile;

/// An empty file in the folder of `path`.
///
/// # Errors
/// Where the folder cannot be written.
pub fn beside(path: &Path) -> io::Result<NamedTempFile> {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
    let mut builder = tempfile::Builder::new();
    builder.prefix(".focuslag-").suffix(".part");
    #[cfg(unix)]
    {
        // As any other file: the process's umask decides, not a private mode.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder.unwrap_or(Path::new(".")))
}
