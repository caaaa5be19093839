//! Reads a file of signals back.

use std::fs::File;
use std::io::{self, BufReader, ErrorKind, Read};
use std::path::Path;

use npyz::NpyFile;
use zip::ZipArchive;

use super::{ABOUT, About, Code, FORMAT, Number, VERSION};

/// Longest JSON member believed, bytes.
const LONGEST_ABOUT: u64 = 64 << 20;

/// An open file of signals.
pub struct SignalsReader {
    zip: ZipArchive<BufReader<File>>,
    about: About,
}

impl SignalsReader {
    /// Opens a file and reads what it says of itself.
    ///
    /// # Errors
    /// The file cannot be read, is no file of signals, or is of another
    /// version.
    pub fn open(path: &Path) -> io::Result<Self> {
        let mut zip = ZipArchive::new(BufReader::new(File::open(path)?))?;
        let mut text = String::new();
        zip.by_name(ABOUT)
            .map_err(|_| bad("it is no file of signals"))?
            .take(LONGEST_ABOUT)
            .read_to_string(&mut text)?;
        let value: serde_json::Value = serde_json::from_str(&text)?;
        if value["format"] != FORMAT {
            return Err(bad("it is no file of signals"));
        }
        match value["version"].as_u64() {
            Some(v) if v > u64::from(VERSION) => {
                return Err(bad("a newer focuslag made it"));
            }
            Some(v) if v < u64::from(VERSION) => {
                return Err(bad(
                    "an older focuslag made it, which came by it differently",
                ));
            }
            Some(_) => {}
            None => return Err(bad("it does not say its version")),
        }
        let about = serde_json::from_value(value)?;
        Ok(Self { zip, about })
    }

    /// What the file says of itself.
    #[must_use]
    pub fn about(&self) -> &About {
        &self.about
    }

    /// A row of numbers.
    ///
    /// # Errors
    /// The array is missing, damaged or of another kind.
    pub fn numbers<T: Number>(&mut self, name: &str) -> io::Result<Vec<T>> {
        let mut out = Vec::new();
        self.array(name, None, |row| {
            out.extend_from_slice(row);
            Ok(())
        })?;
        Ok(out)
    }

    /// Rows of `width` numbers, handed to `take` one by one; how many.
    ///
    /// # Errors
    /// The array is missing, damaged or of another kind; what `take` reports.
    pub fn rows<T: Number>(
        &mut self,
        name: &str,
        width: usize,
        take: impl FnMut(&[T]) -> io::Result<()>,
    ) -> io::Result<usize> {
        self.array(name, Some(width), take)
    }

    /// The same where changes were written.
    ///
    /// # Errors
    /// As [`Self::rows`].
    pub fn changes<T: Code>(
        &mut self,
        name: &str,
        width: usize,
        mut take: impl FnMut(&[T]) -> io::Result<()>,
    ) -> io::Result<usize> {
        let mut now = vec![T::default(); width];
        self.rows(name, width, |row| {
            for (now, change) in now.iter_mut().zip(row) {
                *now = now.after(*change);
            }
            take(&now)
        })
    }

    fn array<T: Number>(
        &mut self,
        name: &str,
        width: Option<usize>,
        mut take: impl FnMut(&[T]) -> io::Result<()>,
    ) -> io::Result<usize> {
        let within = |e: &dyn std::fmt::Display| bad(&format!("{name}: {e}"));
        let member = self.zip.by_name(&format!("{name}.npy"));
        let mut buffered = BufReader::with_capacity(1 << 16, member.map_err(|e| within(&e))?);
        let file = NpyFile::new(&mut buffered).map_err(|e| within(&e))?;
        let count = match (file.shape(), width) {
            ([n], None) => *n,
            ([n, w], Some(width)) if *w == width as u64 => *n,
            _ => return Err(within(&"another shape than expected")),
        };
        let each = width.unwrap_or(1);
        let mut values = file.data::<T>().map_err(|e| within(&e))?;
        let mut row: Vec<T> = Vec::with_capacity(each);
        for _ in 0..count {
            row.clear();
            for _ in 0..each {
                let value = values.next().ok_or_else(|| within(&"it ends early"))?;
                row.push(value.map_err(|e| within(&e))?);
            }
            take(&row)?;
        }
        drop(values);
        // Only at its end is a member's check sum compared.
        match buffered.read(&mut [0]) {
            Ok(0) => usize::try_from(count).map_err(|e| within(&e)),
            Ok(_) => Err(within(&"it is longer than it says")),
            Err(e) => Err(within(&e)),
        }
    }
}

fn bad(message: &str) -> io::Error {
    io::Error::new(ErrorKind::InvalidData, message)
}
