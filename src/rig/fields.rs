//! Reads fields out of a TOML tree by name, type and range, and notes every
//! fault on the way instead of stopping at the first.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeTable;

use super::sheet::Sheet;
use super::value::Value;

/// A table of the tree, or the place where one could have stood.
#[derive(Clone, Debug)]
pub struct Table<'s> {
    pub(super) sheet: &'s Sheet<'s>,
    pub(super) path: String,
    pub(super) at: usize,
    pub(super) entries: Option<&'s DeTable<'s>>,
    /// Something else stands where the table should; that was said already.
    pub(super) spoilt: bool,
}

impl<'s> Table<'s> {
    /// The top of a file.
    #[must_use]
    pub fn root(sheet: &'s Sheet<'s>, tree: &'s Spanned<DeTable<'s>>) -> Self {
        Self {
            sheet,
            path: String::new(),
            at: 0,
            entries: Some(tree.get_ref()),
            spoilt: false,
        }
    }

    fn dotted(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// Notes a fault of `key` of this table, or of the table itself where the
    /// key is not written.
    pub fn fault(&self, key: &str, message: impl Into<String>) {
        if self.spoilt {
            return;
        }
        let at = self.value(key).map_or(self.at, |v| v.at);
        self.sheet.fault(at, &self.dotted(key), message);
    }

    /// The value of `key`, if it is written.
    #[must_use]
    pub fn value(&self, key: &str) -> Option<Value<'s>> {
        let value = self.entries?.get(key)?;
        Some(Value {
            sheet: self.sheet,
            key: self.dotted(key),
            at: value.span().start,
            value: value.get_ref(),
        })
    }

    /// The value of `key`; a fault that ends in `remedy` where it is missing.
    #[must_use]
    pub fn need(&self, key: &str, remedy: &str) -> Option<Value<'s>> {
        let value = self.value(key);
        if value.is_none() {
            self.fault(key, format!("is missing; {remedy}"));
        }
        value
    }

    /// A fault where `key` is written although it has no meaning here.
    pub fn refuse(&self, key: &str, why: &str) {
        if let Some(value) = self.value(key) {
            value.fault(why);
        }
    }

    /// A number within `range`.
    #[must_use]
    pub fn number(&self, key: &str, range: RangeInclusive<f64>) -> Option<f64> {
        self.value(key)?.number_in(range)
    }

    /// A number above 0.
    #[must_use]
    pub fn positive(&self, key: &str) -> Option<f64> {
        self.value(key)?.positive()
    }

    /// One of `choices`: its place in the list.
    #[must_use]
    pub fn choice(&self, key: &str, choices: &[&str]) -> Option<usize> {
        self.value(key)?.choice(choices)
    }

    /// The table under `key`; an empty one where it is not written.
    #[must_use]
    pub fn section(&self, key: &str) -> Self {
        let written = self.value(key);
        let table = written.as_ref().and_then(Value::table);
        table.unwrap_or_else(|| Self {
            path: self.dotted(key),
            entries: None,
            spoilt: written.is_some(),
            ..self.clone()
        })
    }

    /// The tables of `[[key]]`.
    #[must_use]
    pub fn sections(&self, key: &str) -> Vec<Self> {
        self.value(key)
            .and_then(|v| v.items())
            .unwrap_or_default()
            .iter()
            .filter_map(Value::table)
            .collect()
    }

    /// Keys and values of the table, in the alphabet's order.
    #[must_use]
    pub fn pairs(&self) -> Vec<(&'s str, Value<'s>)> {
        let keys = self.entries.into_iter().flat_map(DeTable::keys);
        keys.filter_map(|k| Some((k.get_ref().as_ref(), self.value(k.get_ref())?)))
            .collect()
    }

    /// Line of the table or of what stands for it, counted from 1.
    #[must_use]
    pub fn line(&self) -> usize {
        self.sheet.line(self.at)
    }

    /// Notes every key that is not in `known` (dotted, `*` for free names),
    /// here and in all tables below.
    pub fn check_keys(&self, known: &[&str]) {
        self.check_below("", known, &[]);
    }

    /// The same, where keys that once were known are refused with words of
    /// their own.
    pub fn check_keys_of_old(&self, known: &[&str], retired: &[(&str, &str)]) {
        self.check_below("", known, retired);
    }

    fn check_below(&self, plain: &str, known: &[&str], retired: &[(&str, &str)]) {
        for key in self.entries.into_iter().flat_map(DeTable::keys) {
            let name: &str = key.get_ref();
            let full = if plain.is_empty() {
                name.to_owned()
            } else {
                format!("{plain}.{name}")
            };
            let below = format!("{full}.");
            if !plain.is_empty() && known.contains(&format!("{plain}.*").as_str()) {
                continue;
            }
            if let Some((_, why)) = retired.iter().find(|(k, _)| *k == full) {
                self.refuse(name, why);
            } else if !known.iter().any(|k| *k == full || k.starts_with(&below)) {
                // Of what is only counted nobody reads the words.
                let told = !self.sheet.full();
                let message = if told {
                    unknown(&full, known)
                } else {
                    String::new()
                };
                self.sheet
                    .fault(key.span().start, &self.dotted(name), message);
            } else if let Some(value) = self.value(name) {
                value
                    .tables_below()
                    .iter()
                    .for_each(|t| t.check_below(&full, known, retired));
            }
        }
    }
}

/// Headings that stand in double brackets, as often as there are such things.
const LISTS: &[&str] = &["cue", "setup", "exclude"];

/// Says that a key is not known, and which one was probably meant.
fn unknown(full: &str, known: &[&str]) -> String {
    let last = |k: &str| k.rsplit('.').next().unwrap_or("").to_owned();
    let namesakes = known.iter().filter(|k| last(k) == last(full));
    let homes: Vec<&str> = namesakes
        .map(|k| k.rsplit_once('.').map_or("", |k| k.0))
        .collect();
    if let [home] = homes.as_slice()
        && !home.is_empty()
    {
        let heading = if LISTS.contains(home) {
            format!("put it under [[{home}]]")
        } else {
            format!("put it under [{home}]")
        };
        return match full.rsplit_once('.') {
            None => format!("stands under no heading; {heading} (`{home}.{full}`)"),
            Some((here, key)) => {
                format!("is not known under [{here}]; {heading} (`{home}.{key}`)")
            }
        };
    }
    let likeness = |k: &str| {
        let whole = strsim::normalized_damerau_levenshtein(full, k);
        let tail = strsim::normalized_damerau_levenshtein(&last(full), &last(k)) * 0.95;
        whole.max(tail)
    };
    let best = known
        .iter()
        .filter(|k| !k.ends_with('*'))
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)));
    match best {
        Some(best) if likeness(best) >= 0.6 => {
            format!("is not a known key; did you mean `{best}`?")
        }
        _ => format!(
            "is not a known key; take it out (known: {})",
            known.join(", ")
        ),
    }
}
