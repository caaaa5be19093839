//! A file made under a name of its own beside the one that it is to become.
//!
//! In: a path to be written. Out: a [`Part`], an empty file in the same folder
//! that nothing else touches; [`Part::keep`] gives it its name once its bytes
//! lie on the disk. Dropped before, it goes, and so it does where a signal ends
//! the process ([`clear`]). What a killed process left behind is swept by the
//! next that writes into the folder: whoever is at work holds a lock on his
//! own, which the kernel frees when the process dies. Failures: the folder
//! cannot be written.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use tempfile::NamedTempFile;

const PREFIX: &str = ".focuslag-";
const SUFFIX: &str = ".part";
/// Younger files may not be locked yet; elsewhere than on Unix none are.
const SWEPT_AFTER: Duration = Duration::from_secs(if cfg!(unix) { 10 } else { 60 });

/// The files that are being made.
static LIVE: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn live() -> std::sync::MutexGuard<'static, Vec<PathBuf>> {
    LIVE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A file that has not got its name yet.
#[derive(Debug)]
pub struct Part {
    /// Gone once it is kept.
    file: Option<NamedTempFile>,
    path: PathBuf,
}

/// An empty file in the folder of `path`.
///
/// # Errors
/// Where the folder cannot be written.
pub fn beside(path: &Path) -> io::Result<Part> {
    let folder = folder_of(path);
    sweep(folder);
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    #[cfg(unix)]
    {
        // As any other file: the process's umask decides, not a private mode.
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let file = builder.tempfile_in(folder)?;
    // Elsewhere a lock would keep FFmpeg from writing to the file by its name.
    #[cfg(unix)]
    let _ = file.as_file().try_lock();
    let path = file.path().to_path_buf();
    live().push(path.clone());
    Ok(Part {
        file: Some(file),
        path,
    })
}

impl Part {
    /// Where it lies until it is kept.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The file, for writing.
    ///
    /// # Errors
    /// When the process has no handle left.
    pub fn file(&self) -> io::Result<File> {
        match &self.file {
            Some(file) => file.as_file().try_clone(),
            None => Err(io::ErrorKind::NotFound.into()),
        }
    }

    /// Gives it its name, once its bytes are on the disk; what stood there is
    /// replaced. After a loss of power the old file is there or the new one.
    ///
    /// # Errors
    /// The disk is full, or the name is taken by a folder. What stood there
    /// before stays.
    pub fn keep(mut self, path: &Path) -> io::Result<()> {
        let Some(file) = self.file.take() else {
            return Ok(());
        };
        file.as_file().sync_all()?;
        file.persist(path).map_err(|e| e.error)?;
        // Not every file system can sync a folder; the file is there all the same.
        #[cfg(unix)]
        if let Ok(folder) = File::open(folder_of(path)) {
            let _ = folder.sync_all();
        }
        Ok(())
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        live().retain(|p| *p != self.path);
    }
}

/// Writes a file whole or not at all.
///
/// # Errors
/// Where the folder cannot be written or the disk is full; what stood there
/// before stays.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let part = beside(path)?;
    part.file()?.write_all(bytes)?;
    part.keep(path)
}

/// Marks a file or folder for temporary things as one that goes with the
/// process, however that ends.
pub fn goes_too(path: &Path) {
    live().push(path.to_path_buf());
}

/// Takes away what is being made: the process ends at once.
pub fn clear() {
    for path in live().drain(..) {
        let _ = std::fs::remove_file(&path).or_else(|_| std::fs::remove_dir_all(&path));
    }
}

/// The folder of a file; `.` of a bare name.
pub fn folder_of(path: &Path) -> &Path {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty());
    folder.unwrap_or(Path::new("."))
}

/// Takes away what nobody works at any more.
pub fn sweep(folder: &Path) {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    for entry in entries {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        if name.starts_with(PREFIX) && name.ends_with(SUFFIX) && is_orphan(&entry.path()) {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

fn is_orphan(path: &Path) -> bool {
    let old = |m: std::fs::Metadata| {
        let age = m.modified().ok().and_then(|t| t.elapsed().ok());
        m.is_file() && age.is_some_and(|age| age > SWEPT_AFTER)
    };
    std::fs::symlink_metadata(path).is_ok_and(old)
        && File::open(path).is_ok_and(|file| file.try_lock().is_ok())
}

#[cfg(test)]
mod tests {
    use std::time::SystemTime;

    use super::*;

    /// An hour old, as a long render's may be.
    fn aged(path: &Path) {
        let hour_ago = SystemTime::now() - Duration::from_secs(3600);
        let file = File::options().write(true).open(path).unwrap();
        file.set_modified(hour_ago).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn what_a_killed_process_left_is_swept_and_what_is_at_work_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let orphan = folder.path().join(".focuslag-abc.part");
        let foreign = folder.path().join(".focuslag-notes.txt");
        for path in [&orphan, &foreign] {
            std::fs::write(path, "half").unwrap();
            aged(path);
        }
        let at_work = beside(&folder.path().join("a.json")).unwrap();
        assert!(!orphan.exists() && foreign.exists());
        aged(at_work.path());
        let young = folder.path().join(".focuslag-def.part");
        std::fs::write(&young, "half").unwrap();
        let other = beside(&folder.path().join("b.json")).unwrap();
        assert!(at_work.path().exists() && young.exists());
        drop(other);
        let target = folder.path().join("a.json");
        at_work.keep(&target).unwrap();
        assert!(target.exists());
    }

    #[test]
    fn what_is_not_kept_goes() {
        let folder = tempfile::tempdir().unwrap();
        drop(beside(&folder.path().join("a.json")).unwrap());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
