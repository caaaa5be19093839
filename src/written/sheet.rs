//! One TOML file on its way in: its text, its lines, and the faults found so far.

use std::cell::{Cell, RefCell};
use std::fs::File;
use std::io::Read;
use std::path::Path;

use serde::de::DeserializeOwned;
use toml::de::{DeTable, DeValue};

use super::fault::{Fault, Faults};
use super::keys::Known;
use super::node::{LeftOut, root};
use super::refusal::{Refusal, Why};

/// No file a person writes by hand is longer; a film named by mistake is.
const MOST_BYTES: u64 = 1 << 20;

/// Faults that are told of one file; how many more there are is said. Nobody
/// reads more at once, and a file of another kind is nothing but faults.
const MOST_FAULTS: usize = 20;
/// Bytes that are gone through to count the rest: a value that is refused ends
/// a pass through the file. A second or two.
const MOST_PASSED: usize = 256 << 20;

/// A TOML text being read. Faults collect in it until [`Sheet::close`].
#[derive(Debug)]
pub(crate) struct Sheet<'t> {
    file: String,
    text: &'t str,
    tree: DeTable<'t>,
    /// Whether the text is TOML at all.
    sound: bool,
    /// First byte of every line.
    lines: Vec<usize>,
    faults: RefCell<Vec<Fault>>,
    /// Faults beyond the first [`MOST_FAULTS`].
    more: Cell<usize>,
    /// Whether the counting was given up.
    uncounted: Cell<bool>,
}

impl<'t> Sheet<'t> {
    /// A sheet for `text`, which messages call `file`. Every mistake of the
    /// syntax is a fault.
    pub(crate) fn new(file: &str, text: &'t str) -> Self {
        let (tree, errors) = DeTable::parse_recoverable(text);
        let breaks = text.bytes().enumerate().filter(|(_, b)| *b == b'\n');
        let sheet = Self {
            file: file.to_owned(),
            text,
            tree: tree.into_inner(),
            sound: errors.is_empty(),
            lines: std::iter::once(0)
                .chain(breaks.map(|(k, _)| k + 1))
                .collect(),
            faults: RefCell::default(),
            more: Cell::default(),
            uncounted: Cell::default(),
        };
        let place = |span: Option<std::ops::Range<usize>>| span.map_or(0, |s| s.start);
        let mut slips: Vec<(usize, &str)> = errors
            .iter()
            .map(|e| (sheet.line_at(place(e.span())), e.message()))
            .collect();
        slips.sort_by_key(|(line, _)| *line);
        // One slip of the pen often upsets the rest of its line.
        slips.dedup_by_key(|(line, _)| *line);
        for (line, what) in slips {
            sheet.syntax(line, what);
        }
        sheet
    }

    /// Reads the whole file. Every value that is refused is a fault, and is
    /// passed over; `None` where nothing is left to go on with.
    pub(crate) fn read<T: DeserializeOwned>(&self, known: &Known) -> Option<T> {
        if !self.sound {
            return None;
        }
        let mut out = LeftOut::new();
        let mut passed = 0;
        loop {
            match T::deserialize(root(&self.tree, &out)) {
                Ok(read) => return Some(read),
                Err(refusal) => self.refuse(refusal, known, &mut out)?,
            }
            passed += self.text.len();
            if self.more.get() > 0 && passed > MOST_PASSED {
                self.uncounted.set(true);
                return None;
            }
        }
    }

    /// Tells a refusal, and puts to `out` what is to be passed over; `None`
    /// where that is nothing.
    fn refuse(&self, refusal: Refusal, known: &Known, out: &mut LeftOut) -> Option<()> {
        let (key, at) = refusal.place.unwrap_or_default();
        match refusal.why {
            Why::Told(message) => self.add(self.line_at(at), &key, || message),
            Why::Unknown(siblings) => return self.unknown((key, at), siblings, known, out),
            Why::Missing(field) => {
                let full = format!("{key}.{field}");
                let remedy = format!("add `{field} = …`");
                self.missing(full.trim_start_matches('.'), &remedy);
            }
            // The list cannot be read without it.
            Why::LeftOut => {
                out.insert(key[..key.rfind('[')?].to_owned());
                return Some(());
            }
        }
        (!key.is_empty()).then(|| out.insert(key)).map(|_| ())
    }

    /// Tells every key of a table that is none of `siblings`: there may be very
    /// many.
    fn unknown(
        &self,
        first: (String, usize),
        siblings: &'static [&'static str],
        known: &Known,
        out: &mut LeftOut,
    ) -> Option<()> {
        let heading = first.0.rsplit_once('.').map_or("", |(heading, _)| heading);
        let dot = if heading.is_empty() { "" } else { "." };
        let others = self.table(heading).into_iter().flat_map(DeTable::iter);
        let others = others.filter(|(name, _)| !siblings.contains(&name.get_ref().as_ref()));
        let key = |name: &str| format!("{heading}{dot}{name}");
        let others = others.map(|(name, _)| (key(name.get_ref()), name.span().start));
        let mut all: Vec<_> = others.filter(|(key, _)| !out.contains(key)).collect();
        // A key with a point in it stands elsewhere than it seems.
        if !all.contains(&first) {
            all = vec![first];
        }
        all.sort_by_key(|(_, at)| *at);
        for (key, at) in all {
            let complaint = || known.complaint(&plain(&key), siblings);
            self.add(self.line_at(at), &key, complaint);
            out.insert(key);
        }
        Some(())
    }

    /// Notes a fault of a key (`cue[1].name`), or of what should hold it.
    pub(crate) fn fault(&self, key: &str, message: impl AsRef<str>) {
        self.add(self.line(key), key, || message.as_ref().to_owned());
    }

    /// Notes that a key is missing, unless it is there and was refused.
    pub(crate) fn missing(&self, key: &str, remedy: &str) {
        let holds = |outer: &str, inner: &str| {
            let rest = inner.strip_prefix(outer).filter(|_| !outer.is_empty());
            rest.is_some_and(|r| r.is_empty() || r.starts_with(['.', '[']))
        };
        let told = |f: &Fault| holds(&f.key, key) || holds(key, &f.key);
        if !self.faults.borrow().iter().any(told) {
            self.fault(key, format!("is missing; {remedy}"));
        }
    }

    /// Notes that a key has no place here, where it is written.
    pub(crate) fn refuse_key(&self, key: &str, why: &str) {
        if self.find(key).1.is_some() {
            self.fault(key, why);
        }
    }

    /// Line of a key, or of what should hold it, counted from 1.
    pub(crate) fn line(&self, key: &str) -> usize {
        self.line_at(self.find(key).0)
    }

    /// Name of the file in messages.
    pub(crate) fn file(&self) -> &str {
        &self.file
    }

    fn add(&self, line: usize, key: &str, message: impl FnOnce() -> String) {
        let mut faults = self.faults.borrow_mut();
        if faults.len() >= MOST_FAULTS {
            self.more.set(self.more.get() + 1);
            return;
        }
        faults.push(Fault {
            file: self.file.clone(),
            line: Some(line),
            key: key.to_owned(),
            message: message(),
        });
    }

    fn line_at(&self, at: usize) -> usize {
        self.lines.partition_point(|begin| *begin <= at).max(1)
    }

    fn table(&self, heading: &str) -> Option<&DeTable<'t>> {
        if heading.is_empty() {
            return Some(&self.tree);
        }
        self.find(heading).1?.as_table()
    }

    /// First byte of a key's value, or of the nearest that holds it; and the
    /// value itself where it is written.
    fn find(&self, key: &str) -> (usize, Option<&DeValue<'t>>) {
        let mut at = 0;
        let mut table = Some(&self.tree);
        let mut found = None;
        for part in key.split('.') {
            let (name, index) = match part.split_once('[') {
                Some((name, index)) => (name, index.trim_end_matches(']').parse::<usize>().ok()),
                None => (part, None),
            };
            let Some(value) = table.and_then(|t| t.get(name)) else {
                return (at, None);
            };
            at = value.span().start;
            let mut inner = value.get_ref();
            if let Some(index) = index {
                let Some(item) = inner.as_array().and_then(|list| list.get(index)) else {
                    return (at, None);
                };
                at = item.span().start;
                inner = item.get_ref();
            }
            table = inner.as_table();
            found = Some(inner);
        }
        (at, found)
    }

    fn syntax(&self, line: usize, what: &str) {
        let message = || {
            let remedy = if self.number_in_line(line) {
                "give a plain number without a unit, with a point (0.7, not 0,7 or 70 %)"
            } else {
                "write the line as `key = value`, text in quotes"
            };
            format!("not valid TOML ({what}); {remedy}")
        };
        self.add(line, self.key_in_line(line), message);
    }

    /// Whether a number was meant in this line, but is none: a digit after its
    /// `=`, and more than a number behind it.
    fn number_in_line(&self, line: usize) -> bool {
        let text = self.text_of(line);
        let value = text.split_once('=').map_or("", |(_, value)| value.trim());
        let value = value.split('#').next().unwrap_or("").trim();
        let digits = value.trim_start_matches(['+', '-']);
        digits.starts_with(|c: char| c.is_ascii_digit()) && value.parse::<f64>().is_err()
    }

    /// The bare key that opens a line, for faults of the syntax itself.
    fn key_in_line(&self, line: usize) -> &'t str {
        let text = self.text_of(line);
        let key = text.split('=').next().unwrap_or("").trim();
        let bare = |c: char| c.is_ascii_alphanumeric() || "_-.".contains(c);
        if key.len() <= 80 && key.chars().all(bare) {
            key
        } else {
            ""
        }
    }

    fn text_of(&self, line: usize) -> &'t str {
        let rest = self.lines.get(line - 1).and_then(|at| self.text.get(*at..));
        rest.and_then(|r| r.lines().next()).unwrap_or("")
    }

    /// All faults noted, in the order of their lines.
    pub(crate) fn faults(&self) -> Vec<Fault> {
        let mut list = self.faults.borrow().clone();
        list.sort_by_key(|f| f.line);
        if self.more.get() > 0 {
            let least = if self.uncounted.get() {
                "at least "
            } else {
                ""
            };
            let (n, s) = (self.more.get(), if self.more.get() == 1 { "" } else { "s" });
            let message = format!("has {least}{n} more fault{s}; mend these first");
            list.push(Fault::of_file(&self.file, "", message));
        }
        list
    }

    /// The result: `value`, unless a fault was noted. No value comes with no
    /// fault only where a reader forgot to note one; then the file is named.
    pub(crate) fn close<T>(&self, value: Option<T>) -> Result<T, Faults> {
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

/// A dotted key without the places in lists.
fn plain(key: &str) -> String {
    let parts = key.split('.').map(|p| p.split('[').next().unwrap_or(p));
    parts.collect::<Vec<_>>().join(".")
}

/// The text of a file a person wrote.
///
/// # Errors
/// One fault where the file cannot be read, is far too long, or is not UTF-8.
pub(crate) fn read_text(path: &Path) -> Result<String, Faults> {
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
