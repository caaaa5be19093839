//! Reads a file of signals back.

use std::io::{self, BufReader, ErrorKind, Read};
use std::path::Path;

use crate::store::archive::{self, Archive};
use npyz::{NpyHeader, TypeRead};

use super::{ABOUT, About, Code, FORMAT, Number, VERSION};

/// Longest JSON member believed, bytes: five hundred times that of a film of
/// 20 s. In memory it takes some twenty times as much.
const LONGEST_ABOUT: u64 = 1 << 20;
/// Most rows of an array: 19 hours at 240 frames a second.
const MOST_ROWS: u64 = 1 << 24;
/// Numbers of an array of one row that are read at once.
const AT_ONCE: usize = 4096;
/// Longest header of an array, bytes, and most brackets in it. What is written
/// here has 118 bytes and two pairs; a parser that backtracks must not be given
/// more.
const LONGEST_HEADER: usize = 512;
const MOST_BRACKETS: usize = 8;

/// An open file of signals.
pub struct SignalsReader {
    zip: Archive,
    about: About,
}

impl SignalsReader {
    /// Opens a file and reads what it says of itself.
    ///
    /// # Errors
    /// The file cannot be read, is no file of signals, or is of another
    /// version.
    pub fn open(path: &Path) -> io::Result<Self> {
        let mut zip = archive::open(path)?;
        let mut text = String::new();
        zip.by_name(ABOUT)
            .map_err(|_| bad("it is no file of signals"))?
            .take(LONGEST_ABOUT + 1)
            .read_to_string(&mut text)?;
        if text.len() as u64 > LONGEST_ABOUT {
            return Err(bad("what it says of itself is longer than any film needs"));
        }
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
        let head = header(&mut buffered).map_err(|e| within(&e))?;
        let mut whole = head.as_slice().chain(&mut buffered);
        let head = NpyHeader::from_reader(&mut whole).map_err(|e| within(&e))?;
        let count = match (head.shape(), width) {
            ([n], None) => *n,
            ([n, w], Some(width)) if *w == width as u64 => *n,
            _ => return Err(within(&"another shape than expected")),
        };
        if count > MOST_ROWS {
            return Err(within(&"more rows than any film has frames"));
        }
        let count = usize::try_from(count).map_err(|e| within(&e))?;
        let dtype = head.dtype();
        let one = T::reader(&dtype).map_err(|e| within(&e))?;
        let size = dtype.num_bytes().unwrap_or(1).max(1);
        let mut left = count * width.unwrap_or(1);
        let mut row: Vec<T> = Vec::new();
        let mut bytes = Vec::new();
        while left > 0 {
            let n = width.unwrap_or(AT_ONCE).min(left);
            left -= n;
            bytes.resize(n * size, 0);
            whole.read_exact(&mut bytes).map_err(|e| within(&e))?;
            row.clear();
            for value in bytes.chunks_exact(size) {
                row.push(one.read_one(value).map_err(|e| within(&e))?);
            }
            take(&row)?;
        }
        // Only at its end is a member's check sum compared.
        match buffered.read(&mut [0]) {
            Ok(0) => Ok(count),
            Ok(_) => Err(within(&"it is longer than it says")),
            Err(e) => Err(within(&e)),
        }
    }
}

/// The header of an array as it stands in the file, if it is as plain as those
/// that are written here.
fn header(from: &mut impl Read) -> io::Result<Vec<u8>> {
    let mut head = vec![0; 10];
    from.read_exact(&mut head)?;
    let length = usize::from(u16::from_le_bytes([head[8], head[9]]));
    if head[..8] != *b"\x93NUMPY\x01\x00" || length > LONGEST_HEADER {
        return Err(bad("its header is none that is written here"));
    }
    head.resize(10 + length, 0);
    from.read_exact(&mut head[10..])?;
    let brackets = head[10..].iter().filter(|b| b"([{<".contains(b)).count();
    if brackets > MOST_BRACKETS {
        return Err(bad("its header is none that is written here"));
    }
    Ok(head)
}

fn bad(message: &str) -> io::Error {
    io::Error::new(ErrorKind::InvalidData, message)
}
