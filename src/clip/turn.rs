//! Writes the display matrix of a finished MP4 or QuickTime file.
//!
//! The track header box holds it (ISO/IEC 14496-12, 8.3.2 `tkhd`): nine 32-bit
//! numbers, 16.16 fixed point but for the last column, 2.30. It is set in the
//! file itself because the library call for it changed between FFmpeg 7 and 8.

use std::fs::OpenOptions;
use std::io::{Error, ErrorKind, Read, Result, Seek, SeekFrom, Write};
use std::path::Path;

/// Turns the picture clockwise by `quarters` for display; `size` as stored, px.
pub(super) fn write(path: &Path, quarters: u8, size: (usize, usize)) -> Result<()> {
    let mut file = OpenOptions::new().read(true).write(true).open(path)?;
    let end = file.seek(SeekFrom::End(0))?;
    let moov = find(&mut file, (0, end), *b"moov")?;
    let trak = find(&mut file, moov, *b"trak")?;
    let (tkhd, _) = find(&mut file, trak, *b"tkhd")?;
    file.seek(SeekFrom::Start(tkhd))?;
    let mut version = [0; 1];
    file.read_exact(&mut version)?;
    let matrix_at = if version[0] == 1 { 52 } else { 40 };
    file.seek(SeekFrom::Start(tkhd + matrix_at))?;
    for value in matrix(quarters, size) {
        file.write_all(&value.to_be_bytes())?;
    }
    file.sync_all()
}

/// a b u / c d v / x y w, as stored: p' = (a·x + c·y + tx, b·x + d·y + ty).
fn matrix(quarters: u8, (w, h): (usize, usize)) -> [i32; 9] {
    let one = 1 << 16;
    let side = |n: usize| i32::try_from(n << 16).unwrap_or(0);
    let (a, b, c, d, tx, ty) = match quarters % 4 {
        0 => (one, 0, 0, one, 0, 0),
        1 => (0, one, -one, 0, side(h), 0),
        2 => (-one, 0, 0, -one, side(w), side(h)),
        _ => (0, -one, one, 0, 0, side(w)),
    };
    [a, b, 0, c, d, 0, tx, ty, 1 << 30]
}

/// Payload range of the first box `name` between `from` and `to`.
fn find(file: &mut std::fs::File, (from, to): (u64, u64), name: [u8; 4]) -> Result<(u64, u64)> {
    let mut at = from;
    while at + 8 <= to {
        file.seek(SeekFrom::Start(at))?;
        let mut head = [0; 8];
        file.read_exact(&mut head)?;
        let [s0, s1, s2, s3, kind @ ..] = head;
        let (mut size, mut header) = (u64::from(u32::from_be_bytes([s0, s1, s2, s3])), 8);
        if size == 1 {
            let mut long = [0; 8];
            file.read_exact(&mut long)?;
            (size, header) = (u64::from_be_bytes(long), 16);
        }
        let next = if size == 0 { to } else { at + size };
        if next < at + header || next > to {
            break;
        }
        if kind == name {
            return Ok((at + header, next));
        }
        at = next;
    }
    let name = String::from_utf8_lossy(&name).into_owned();
    Err(Error::new(
        ErrorKind::InvalidData,
        format!("the file has no {name} box"),
    ))
}
