//! ZIP archives that came from strangers: opening one costs a bounded amount,
//! however long a list of members it claims.

use std::fs::File;
use std::io::{self, BufReader, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use zip::ZipArchive;

/// Most bytes that are read to open an archive: a list of a hundred thousand
/// members.
const LIST: u64 = 8 << 20;

/// An open archive.
pub(super) type Archive = ZipArchive<Bounded>;

/// A file of which so many bytes more may be read.
pub(super) struct Bounded {
    file: BufReader<File>,
    left: Arc<AtomicU64>,
}

/// Opens an archive.
///
/// # Errors
/// It cannot be read, is no ordinary file (a pipe that nobody writes to would be
/// waited for without end), or no archive.
pub(super) fn open(path: &Path) -> io::Result<Archive> {
    if !std::fs::metadata(path)?.is_file() {
        return Err(io::Error::new(
            ErrorKind::InvalidData,
            "is no ordinary file",
        ));
    }
    let left = Arc::new(AtomicU64::new(LIST));
    let bounded = Bounded {
        file: BufReader::new(File::open(path)?),
        left: Arc::clone(&left),
    };
    let archive = ZipArchive::new(bounded)?;
    left.store(u64::MAX, Ordering::Relaxed);
    Ok(archive)
}

impl Read for Bounded {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let left = self.left.load(Ordering::Relaxed);
        if left == 0 {
            return Err(io::Error::new(
                ErrorKind::InvalidData,
                "its list of members is longer than any that is written here",
            ));
        }
        let n = self.file.read(into)?;
        self.left
            .store(left.saturating_sub(n as u64), Ordering::Relaxed);
        Ok(n)
    }
}

impl Seek for Bounded {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}
