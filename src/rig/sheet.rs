//! One TOML file on its way in: its text, its lines, and the faults found so far.

use std::cell::{Cell, RefCell};
use std::fs::File;
use std::io::Read;
use std::path::Path;

use toml::Spanned;
use toml::de::DeTable;

use super::fault::{Fault, Faults};

/// No file a person writes by hand is longer; a film named by mistake is.
const MOST_BYTES: u64 = 1 << 20;

/// Faults that are told of one file; the rest are counted. Nobody reads more at
/// once, and a file of another kind is nothing but faults.
const MOST_FAULTS: usize = 20;

/// A TOML text being read. Faults collect in it until [`Sheet::close`].
#[derive(Debug)]
pub struct Sheet<'t> {
    file: String,
    text: &'t str,
    faults: RefCell<Vec<Fault>>,
    /// Faults beyond the first [`MOST_FAULTS`].
    more: Cell<usize>,
}

impl<'t> Sheet<'t> {
    /// A sheet for `text`, which messages call `file`.
    #[must_use]
    pub fn new(file: &str, text: &'t str) -> Self {
        Self {
            file: file.to_owned(),
            text,
            faults: RefCell::default(),
            more: Cell::new(0),
        }
    }

    /// Line of a byte of the text, counted from 1.
    #[must_use]
    pub fn line(&self, at: usize) -> usize {
        let before = &self.text.as_bytes()[..at.min(self.text.len())];
        1 + before.iter().filter(|b| **b == b'\n').count()
    }

    /// Notes a fault of `key`, found at byte `at`.
    pub fn fault(&self, at: usize, key: &str, message: impl Into<String>) {
        if self.full() {
            self.more.set(self.more.get() + 1);
            return;
        }
        self.faults.borrow_mut().push(Fault {
            file: self.file.clone(),
            line: Some(self.line(at)),
            key: key.to_owned(),
            message: message.into(),
        });
    }

    /// Whether further faults are counted only: their words need not be found.
    #[must_use]
    pub fn full(&self) -> bool {
        self.faults.borrow().len() >= MOST_FAULTS
    }

    /// Name of the file in messages.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The text as a tree; `None` (and a fault per mistake) where it is not TOML.
    #[must_use]
    pub fn tree(&self) -> Option<Spanned<DeTable<'t>>> {
        let (tree, errors) = DeTable::parse_recoverable(self.text);
        let mut last_line = 0;
        for (k, error) in errors.iter().enumerate() {
            if self.full() {
                self.more.set(self.more.get() + errors.len() - k);
                break;
            }
            let at = error.span().map_or(0, |s| s.start);
            let line = self.line(at);
            // One slip of the pen often upsets the rest of its line.
            if line != last_line {
                let what = error.message();
                let remedy = if self.number_in_line(line) {
                    "give a plain number without a unit, with a point (0.7, not 0,7 or 70 %)"
                } else {
                    "write the line as `key = value`, text in quotes"
                };
                self.fault(
                    at,
                    self.key_in_line(line),
                    format!("not valid TOML ({what}); {remedy}"),
                );
            }
            last_line = line;
        }
        errors.is_empty().then_some(tree)
    }

    /// Whether a number was meant in this line, but is none: a digit after its
    /// `=`, and more than a number behind it.
    fn number_in_line(&self, line: usize) -> bool {
        let text = self.text.lines().nth(line - 1).unwrap_or("");
        let value = text.split_once('=').map_or("", |(_, value)| value.trim());
        let value = value.split('#').next().unwrap_or("").trim();
        let digits = value.trim_start_matches(['+', '-']);
        digits.starts_with(|c: char| c.is_ascii_digit()) && value.parse::<f64>().is_err()
    }

    /// The bare key that opens a line, for faults of the syntax itself.
    fn key_in_line(&self, line: usize) -> &'t str {
        let text = self.text.lines().nth(line - 1).unwrap_or("");
        let key = text.split('=').next().unwrap_or("").trim();
        let bare = |c: char| c.is_ascii_alphanumeric() || "_-.".contains(c);
        if key.len() <= 80 && key.chars().all(bare) {
            key
        } else {
            ""
        }
    }

    /// All faults noted, in the order of their lines.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        let mut list = self.faults.borrow().clone();
        list.sort_by_key(|f| f.line);
        if self.more.get() > 0 {
            let message = format!("{} more faults; mend these first", self.more.get());
            list.push(Fault::of_file(&self.file, "", message));
        }
        list
    }

    /// The result: `value`, unless a fault was noted. No value comes with no
    /// fault only where a reader forgot to note one; then the file is named.
    ///
    /// # Errors
    /// All faults in the order of their lines.
    pub fn close<T>(&self, value: Option<T>) -> Result<T, Faults> {
        let list = self.faults();
        match value {
            Some(value) if list.is_empty() => Ok(value),
            _ if list.is_empty() => {
                Err(Fault::of_file(&self.file, "", "cannot be used; check the whole file").into())
            }
            _ => Err(Faults { list }),
        }
    }
}

/// The text of a file a person wrote.
///
/// # Errors
/// One fault where the file cannot be read, is far too long, or is not UTF-8.
pub fn read_text(path: &Path) -> Result<String, Faults> {
    let name = path.display().to_string();
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|f| f.take(MOST_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|e| {
            let message = format!("cannot be read ({e}); check the path and its permissions");
            Faults::from(Fault::of_file(&name, "", message))
        })?;
    if bytes.len() as u64 > MOST_BYTES {
        let message = "is longer than 1 MiB, so it is no TOML file of this tool; check the path";
        return Err(Fault::of_file(&name, "", message).into());
    }
    String::from_utf8(bytes).map_err(|e| {
        let good = e.utf8_error().valid_up_to();
        let line = 1 + e.as_bytes()[..good].iter().filter(|b| **b == b'\n').count();
        Faults::from(Fault {
            line: Some(line),
            ..Fault::of_file(&name, "", "is not UTF-8 text; save the file as UTF-8")
        })
    })
}
