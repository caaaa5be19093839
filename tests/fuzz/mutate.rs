//! Inputs made worse, at random but from a seed: the same again every time.

use std::io::{Cursor, Read, Write};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What may stand in a number's place.
const VALUES: [&str; 22] = [
    "0",
    "-1",
    "1",
    "-0.0",
    "0.5",
    "1e-308",
    "1e308",
    "-1e308",
    "1e999",
    "nan",
    "inf",
    "18446744073709551616",
    "9223372036854775807",
    "99999999999",
    "0.1",
    "1e5",
    "true",
    "null",
    "\"x\"",
    "[]",
    "{}",
    "[[[[1]]]]",
];
/// What may be put in anywhere.
const PIECES: [&str; 8] = [
    "\n",
    "\0",
    "\u{202e}",
    "\u{fffe}",
    "\"",
    "[[",
    "''' ",
    "\u{1b}[2J",
];
/// What may stand in the place of four bytes.
const WORDS: [u32; 10] = [
    0,
    1,
    2,
    0x7f,
    0xff,
    0xffff,
    0x7fff_ffff,
    0x8000_0000,
    0xffff_fff0,
    0xffff_ffff,
];

/// A source of worse inputs.
pub struct Mutator(ChaCha8Rng);

impl Mutator {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    fn below(&mut self, n: usize) -> usize {
        self.0.random_range(0..n.max(1))
    }

    fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }

    /// One of the seeds, with one to four things wrong.
    pub fn text(&mut self, seeds: &[Vec<u8>]) -> Vec<u8> {
        let mut text = String::from_utf8_lossy(self.one::<Vec<u8>>(seeds)).into_owned();
        for _ in 0..=self.below(4) {
            text = self.worse(&text);
        }
        text.into_bytes()
    }

    fn worse(&mut self, text: &str) -> String {
        if text.is_empty() {
            return (*self.one(&PIECES)).to_owned();
        }
        let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
        let (a, b) = (self.below(lines.len()), self.below(lines.len()));
        match self.below(9) {
            0 => {
                lines.remove(a);
                lines.concat()
            }
            1 => {
                lines.insert(b, lines[a]);
                lines.concat()
            }
            2 => {
                lines.swap(a, b);
                lines.concat()
            }
            3 => {
                let at = self.boundary(text);
                text[..at].to_owned()
            }
            4 => {
                let at = self.boundary(text);
                format!("{}{}{}", &text[..at], self.one(&PIECES), &text[at..])
            }
            5 => {
                let times = 1 << self.below(10);
                lines[a] = &text[..0];
                let line = text
                    .split_inclusive('\n')
                    .nth(a)
                    .unwrap_or("")
                    .repeat(times);
                format!("{}{line}{}", lines[..a].concat(), lines[a..].concat())
            }
            _ => self.number(text),
        }
    }

    fn boundary(&mut self, text: &str) -> usize {
        let mut at = self.below(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    /// Another value in the place of a number.
    fn number(&mut self, text: &str) -> String {
        let from = self.boundary(text);
        let digit = |c: char| c.is_ascii_digit();
        let Some(at) = text[from..].find(digit).map(|k| from + k) else {
            return text.to_owned();
        };
        let part = |c: char| !(c.is_ascii_digit() || "._eE+-".contains(c));
        let end = text[at..].find(part).map_or(text.len(), |k| at + k);
        format!("{}{}{}", &text[..at], self.one(&VALUES), &text[end..])
    }

    /// One of the seeds with one to four bytes, words or stretches spoilt; the
    /// ends, where tables lie, more often.
    pub fn bytes(&mut self, seeds: &[Vec<u8>]) -> Vec<u8> {
        let mut bytes = self.one::<Vec<u8>>(seeds).clone();
        for _ in 0..=self.below(4) {
            let n = bytes.len().max(8);
            bytes.resize(n, 0);
            let at = match self.below(3) {
                0 => self.below(n.min(2048)),
                1 => n - 1 - self.below(n.min(4096)),
                _ => self.below(n),
            };
            match self.below(7) {
                0 => bytes[at] ^= 1 << self.below(8),
                1 => bytes[at] = self.below(256) as u8,
                2 => bytes.truncate(at),
                3 => {
                    let end = (at + 1 + self.below(64)).min(n);
                    bytes[at..end].fill(*self.one(&[0, 0xff]));
                }
                4 => {
                    let end = (at + 1 + self.below(256)).min(n);
                    let piece = bytes[at..end].to_vec();
                    bytes.splice(at..at, piece);
                }
                k => {
                    let word = *self.one(&WORDS);
                    let word = if k == 5 {
                        word.to_be_bytes()
                    } else {
                        word.to_le_bytes()
                    };
                    let at = at.min(n - 4);
                    bytes[at..at + 4].copy_from_slice(&word);
                }
            }
        }
        bytes
    }

    /// An archive with one member spoilt and packed again, or spoilt as a whole.
    pub fn archive(&mut self, seeds: &[Vec<u8>]) -> Vec<u8> {
        if self.below(3) == 0 {
            return self.bytes(seeds);
        }
        let mut members = members(self.one::<Vec<u8>>(seeds));
        let at = self.below(members.len());
        let at = *self.one(&[0, at]);
        let (name, bytes) = members[at].clone();
        members[at].1 = match name.ends_with(".json") {
            true => self.text(&[bytes]),
            false => self.bytes(&[bytes]),
        };
        packed(&members)
    }
}

fn members(archive: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = zip::ZipArchive::new(Cursor::new(archive)).expect("a sound seed");
    let all = 0..zip.len();
    all.map(|k| {
        let mut file = zip.by_index(k).expect("a member");
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).expect("sound bytes");
        (file.name().expect("a name").into_owned(), bytes)
    })
    .collect()
}

fn packed(members: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let plain =
        zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    for (name, bytes) in members {
        zip.start_file(name.as_str(), plain)
            .expect("room in memory");
        zip.write_all(bytes).expect("room in memory");
    }
    zip.finish().expect("room in memory").into_inner()
}
