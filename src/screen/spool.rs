//! Records of one size for a whole clip, kept on disk so that memory stays
//! bounded however long the clip.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

/// Bytes held in memory before they go to a temporary file.
const IN_MEMORY: usize = 1 << 20;

/// Byte records of one size, appended at the end, read anywhere.
///
/// The temporary file has no name and goes with the value.
pub struct Spool {
    each: usize,
    len: usize,
    pending: Vec<u8>,
    spilled: u64,
    file: Option<File>,
    /// The records read last and the number of the first of them.
    near: (usize, Vec<u8>),
}

/// Records read from the file at once.
const AT_ONCE: usize = 64;

impl Spool {
    /// An empty spool of records of `each` bytes.
    pub fn new(each: usize) -> Self {
        Self {
            each,
            len: 0,
            pending: Vec::new(),
            spilled: 0,
            file: None,
            near: (0, Vec::new()),
        }
    }

    /// Number of records.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Appends a record, its bytes one after the other.
    ///
    /// # Errors
    /// When the temporary file cannot be written (disk full).
    pub fn push(&mut self, record: impl IntoIterator<Item = u8>) -> io::Result<()> {
        self.len += 1;
        self.pending.extend(record);
        self.pending
            .resize(self.len * self.each - self.on_disk(), 0);
        if self.pending.len() >= IN_MEMORY {
            self.spill()?;
        }
        Ok(())
    }

    fn on_disk(&self) -> usize {
        self.spilled as usize
    }

    fn spill(&mut self) -> io::Result<()> {
        let file = match &mut self.file {
            Some(f) => f,
            none => none.insert(tempfile::tempfile()?),
        };
        file.seek(SeekFrom::Start(self.spilled))?;
        file.write_all(&self.pending)?;
        self.spilled += self.pending.len() as u64;
        self.pending.clear();
        Ok(())
    }

    /// Appends all records of another spool of the same size.
    ///
    /// # Errors
    /// When a temporary file cannot be read or written.
    pub fn append(&mut self, mut other: Self) -> io::Result<()> {
        if let Some(mut file) = other.file.take() {
            self.spill()?;
            file.seek(SeekFrom::Start(0))?;
            if let Some(mine) = &mut self.file {
                mine.seek(SeekFrom::Start(self.spilled))?;
                self.spilled += io::copy(&mut file.take(other.spilled), mine)?;
            }
        }
        self.pending.extend_from_slice(&other.pending);
        self.len += other.len;
        if self.pending.len() >= IN_MEMORY {
            self.spill()?;
        }
        Ok(())
    }

    /// The record at `index`.
    ///
    /// # Errors
    /// When it does not exist or the temporary file cannot be read.
    pub fn get(&mut self, index: usize) -> io::Result<&[u8]> {
        if index >= self.len {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let from = index * self.each;
        if let Some(offset) = from.checked_sub(self.on_disk()) {
            return Ok(&self.pending[offset..offset + self.each]);
        }
        let (first, held) = (self.near.0, self.near.1.len() / self.each.max(1));
        if !(first..first + held).contains(&index) {
            let end = (from + AT_ONCE * self.each).min(self.on_disk());
            self.near.0 = index;
            self.near.1.resize(end - from, 0);
            if let Some(file) = &mut self.file {
                file.seek(SeekFrom::Start(from as u64))?;
                file.read_exact(&mut self.near.1)?;
            }
        }
        let at = (index - self.near.0) * self.each;
        Ok(&self.near.1[at..at + self.each])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_come_back_in_order_across_spills_and_joins() {
        let record = |i: usize| (0..3000).map(move |k| ((i * 31 + k) % 251) as u8);
        let mut whole = Spool::new(3000);
        let mut at = 0;
        for part in [3, 700, 0, 10, 400] {
            let mut spool = Spool::new(3000);
            for _ in 0..part {
                spool.push(record(at)).unwrap();
                at += 1;
            }
            whole.append(spool).unwrap();
        }
        assert_eq!(whole.len(), 1113);
        for i in (0..1113).rev().chain(0..1113) {
            let want: Vec<u8> = record(i).collect();
            assert_eq!(whole.get(i).unwrap(), want, "{i}");
        }
        assert!(whole.get(1113).is_err());
    }

    #[test]
    fn a_short_record_is_filled_up() {
        let mut spool = Spool::new(4);
        spool.push([1, 2]).unwrap();
        spool.push([3, 4, 5, 6]).unwrap();
        assert_eq!(spool.get(0).unwrap(), [1, 2, 0, 0]);
        assert_eq!(spool.get(1).unwrap(), [3, 4, 5, 6]);
    }
}
