//! Writes a file of signals whole or not at all.

use std::fs::File;
use std::io::{self, BufWriter, ErrorKind, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use npyz::WriterBuilder;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use super::{ABOUT, About, Code, Number};
use crate::beside::{Part, beside};

/// How hard to pack: a light hand costs next to nothing beside decoding.
const LEVEL: i64 = 3;

/// A file of signals being written, under another name until it is complete.
pub struct SignalsWriter {
    path: PathBuf,
    part: Part,
    zip: ZipWriter<UntilFailed<File>>,
}

/// A whole file of signals that has not got its name yet.
pub struct Unnamed {
    part: Part,
    path: PathBuf,
}

impl Unnamed {
    /// The name that it will have.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives it its name; what stood there is replaced.
    ///
    /// # Errors
    /// When the disk is full.
    pub fn keep(self) -> io::Result<()> {
        self.part.keep(&self.path)
    }
}

/// What is written until writing fails, and nothing from then on: dropped
/// half-way, an archive tries to end itself, and would tell the person of its
/// own failure too.
pub(super) struct UntilFailed<W> {
    inner: W,
    failed: bool,
}

impl<W> UntilFailed<W> {
    pub(super) fn new(inner: W) -> Self {
        Self {
            inner,
            failed: false,
        }
    }

    fn tried<T>(&mut self, result: io::Result<T>) -> io::Result<T> {
        self.failed |= matches!(&result, Err(e) if e.kind() != ErrorKind::Interrupted);
        result
    }

    /// What was written.
    ///
    /// # Errors
    /// Where writing failed.
    pub(super) fn whole(self) -> io::Result<W> {
        if self.failed {
            return Err(io::Error::other("it could not be written to its end"));
        }
        Ok(self.inner)
    }
}

impl<W: Write> Write for UntilFailed<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.failed {
            return Ok(bytes.len());
        }
        let written = self.inner.write(bytes);
        self.tried(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.failed {
            return Ok(());
        }
        let flushed = self.inner.flush();
        self.tried(flushed)
    }
}

impl<W: Seek> Seek for UntilFailed<W> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.inner.seek(to)
    }
}

impl SignalsWriter {
    /// Begins the file `path`, which is there only after [`Self::close`].
    ///
    /// # Errors
    /// When nothing can be written beside it.
    pub fn create(path: &Path) -> io::Result<Self> {
        let part = beside(path)?;
        Ok(Self {
            path: path.to_path_buf(),
            zip: ZipWriter::new(UntilFailed::new(part.file()?)),
            part,
        })
    }

    fn begin(&mut self, name: &str) -> io::Result<()> {
        // A fixed date: the same signals are the same bytes.
        let options = SimpleFileOptions::default()
            .compression_method(CompressionMethod::Deflated)
            .compression_level(Some(LEVEL))
            .last_modified_time(DateTime::default());
        Ok(self.zip.start_file(name, options)?)
    }

    /// Writes what the file says of itself.
    ///
    /// # Errors
    /// When the disk is full.
    pub fn about(&mut self, about: &About) -> io::Result<()> {
        self.begin(ABOUT)?;
        let text = serde_json::to_string_pretty(about)?;
        self.zip.write_all(text.as_bytes())
    }

    /// Writes a row of numbers.
    ///
    /// # Errors
    /// When the disk is full.
    pub fn numbers<T: Number>(
        &mut self,
        name: &str,
        values: impl ExactSizeIterator<Item = T>,
    ) -> io::Result<()> {
        let shape = [values.len() as u64];
        let mut values = values.map(|v| [v]);
        self.array(name, &shape, |row| {
            row.extend(values.next().into_iter().flatten());
            Ok(())
        })
    }

    /// Writes `count` rows of `width` numbers; `fill` is called once a row, in
    /// order, with an empty vector.
    ///
    /// # Errors
    /// What `fill` reports; when the disk is full.
    pub fn rows<T: Number>(
        &mut self,
        name: &str,
        (count, width): (usize, usize),
        fill: impl FnMut(&mut Vec<T>) -> io::Result<()>,
    ) -> io::Result<()> {
        self.array(name, &[count as u64, width as u64], fill)
    }

    /// The same, as changes from row to row.
    ///
    /// # Errors
    /// What `fill` reports; when the disk is full.
    pub fn changes<T: Code>(
        &mut self,
        name: &str,
        (count, width): (usize, usize),
        mut fill: impl FnMut(&mut Vec<T>) -> io::Result<()>,
    ) -> io::Result<()> {
        let mut before = vec![T::default(); width];
        self.rows(name, (count, width), |row| {
            fill(row)?;
            for (now, before) in row.iter_mut().zip(&mut before) {
                let value = *now;
                *now = value.since(*before);
                *before = value;
            }
            Ok(())
        })
    }

    fn array<T: Number>(
        &mut self,
        name: &str,
        shape: &[u64],
        mut fill: impl FnMut(&mut Vec<T>) -> io::Result<()>,
    ) -> io::Result<()> {
        self.begin(&format!("{name}.npy"))?;
        let mut buffered = BufWriter::with_capacity(1 << 16, &mut self.zip);
        let mut out = npyz::WriteOptions::new()
            .default_dtype()
            .shape(shape)
            .writer(&mut buffered)
            .begin_nd()?;
        let mut row: Vec<T> = Vec::new();
        for _ in 0..shape[0] {
            row.clear();
            fill(&mut row)?;
            for v in &row {
                out.push(v)?;
            }
        }
        out.finish()?;
        buffered.flush()
    }

    /// Completes the file and gives it its name.
    ///
    /// # Errors
    /// When the disk is full, or the name is taken by a folder.
    pub fn close(self) -> io::Result<Unnamed> {
        drop(self.zip.finish()?.whole()?);
        Ok(Unnamed {
            part: self.part,
            path: self.path,
        })
    }
}
