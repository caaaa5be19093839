//! How many samples the tables of an MP4 or MOV list, counted before FFmpeg
//! makes entries of them: a few bytes can stand for millions.
//!
//! Source: ISO/IEC 14496-12 (boxes 4.2, `stsz` 8.7.3, `stts` 8.6.1.2, `trun`
//! 8.8.8).

use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use super::ClipError;

/// Most samples of all tracks together: nine hours at 240 frames a second.
const MOST: u64 = 8 << 20;
/// Most tracks.
const MOST_TRACKS: usize = 64;
/// Most boxes that are looked at.
const MOST_BOXES: usize = 1 << 20;
/// `moov`, `trak`, `mdia`, `minf`, `stbl` and a table.
const DEEPEST: usize = 6;

/// Boxes that hold others, on the way to the tables.
const HOLDERS: [&[u8; 4]; 7] = [
    b"moov", b"trak", b"mdia", b"minf", b"stbl", b"moof", b"traf",
];

#[derive(Default)]
struct Count {
    boxes: usize,
    tracks: usize,
    samples: u64,
    /// Samples of one size in this track. Of plain sound, one tick each, FFmpeg
    /// lists the chunks.
    even: u64,
    tick: bool,
    sound: bool,
}

/// Refuses tables that no film needs.
pub(super) fn check(path: &Path, file: &mut File, length: u64) -> Result<(), ClipError> {
    let too_long = |what: String| ClipError::TooLong {
        path: path.to_path_buf(),
        what,
    };
    let mut count = Count::default();
    // What cannot be read here FFmpeg cannot read either, and says so.
    let walked = walk(file, (0, length), DEEPEST, &mut count);
    let _ = file.seek(SeekFrom::Start(0));
    count.close_track();
    if count.samples > MOST {
        return Err(too_long(format!(
            "its tables list {} frames and samples of sound, more than any film",
            count.samples
        )));
    }
    if count.tracks > MOST_TRACKS {
        return Err(too_long(format!(
            "it has {} tracks, more than any film",
            count.tracks
        )));
    }
    match walked {
        Err(Halt::TooMany) => Err(too_long(
            "it has more than a million boxes, more than any film".to_owned(),
        )),
        Err(Halt::Packed) => Err(too_long(
            "its tables are packed (`cmov`), and how long they are cannot be told".to_owned(),
        )),
        _ => Ok(()),
    }
}

enum Halt {
    Unreadable,
    TooMany,
    Packed,
}

impl From<std::io::Error> for Halt {
    fn from(_: std::io::Error) -> Self {
        Self::Unreadable
    }
}

/// Goes through the boxes in `from..to`.
fn walk(
    file: &mut File,
    (from, to): (u64, u64),
    deeper: usize,
    count: &mut Count,
) -> Result<(), Halt> {
    let Some(deeper) = deeper.checked_sub(1) else {
        return Ok(());
    };
    let mut at = from;
    while to.saturating_sub(at) >= 8 && count.samples <= MOST {
        count.boxes += 1;
        if count.boxes > MOST_BOXES {
            return Err(Halt::TooMany);
        }
        file.seek(SeekFrom::Start(at))?;
        let size = u64::from(number(file)?);
        let mut name = [0; 4];
        file.read_exact(&mut name)?;
        let (head, size) = match size {
            0 => (8, to - at),
            1 => (
                16,
                u64::from(number(file)?) << 32 | u64::from(number(file)?),
            ),
            n => (8, n),
        };
        if size < head {
            return Ok(());
        }
        let end = at.saturating_add(size).min(to);
        match &name {
            b"cmov" => return Err(Halt::Packed),
            b"trak" => {
                count.close_track();
                count.tracks += 1;
                walk(file, (at + head, end), deeper, count)?;
            }
            name if HOLDERS.contains(&name) => walk(file, (at + head, end), deeper, count)?,
            table => count.table(file, table)?,
        }
        at = end;
    }
    Ok(())
}

impl Count {
    /// Reads the head of a table; the file stands behind the box's own head.
    fn table(&mut self, file: &mut File, name: &[u8; 4]) -> Result<(), Halt> {
        match name {
            b"stsz" => {
                let [_, size, samples] = [number(file)?, number(file)?, number(file)?];
                if size == 0 {
                    self.samples += u64::from(samples);
                } else {
                    self.even += u64::from(samples);
                }
            }
            b"stz2" => {
                let [_, _, samples] = [number(file)?, number(file)?, number(file)?];
                self.samples += u64::from(samples);
            }
            b"stts" => {
                let [_, entries, _, ticks] =
                    [number(file)?, number(file)?, number(file)?, number(file)?];
                self.tick = entries == 1 && ticks == 1;
            }
            b"hdlr" => {
                let [_, _, kind] = [number(file)?, number(file)?, number(file)?];
                self.sound = kind.to_be_bytes() == *b"soun";
            }
            b"trun" => {
                let [_, samples] = [number(file)?, number(file)?];
                self.samples += u64::from(samples);
            }
            _ => {}
        }
        Ok(())
    }

    fn close_track(&mut self) {
        if !(self.sound && self.tick) {
            self.samples += self.even;
        }
        (self.even, self.tick, self.sound) = (0, false, false);
    }
}

fn number(file: &mut File) -> std::io::Result<u32> {
    let mut bytes = [0; 4];
    file.read_exact(&mut bytes)?;
    Ok(u32::from_be_bytes(bytes))
}
