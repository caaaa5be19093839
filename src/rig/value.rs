//! One value of a TOML tree, read by type and range.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::DeValue;

use super::fields::Table;
use super::sheet::Sheet;

/// A value of the tree with its dotted key and its place.
#[derive(Clone, Debug)]
pub struct Value<'s> {
    pub(super) sheet: &'s Sheet<'s>,
    /// Dotted key.
    pub key: String,
    /// First byte in the text.
    pub at: usize,
    pub(super) value: &'s DeValue<'s>,
}

impl<'s> Value<'s> {
    /// Notes a fault of this value.
    pub fn fault(&self, message: impl Into<String>) {
        self.sheet.fault(self.at, &self.key, message);
    }

    /// Line of the value, counted from 1.
    #[must_use]
    pub fn line(&self) -> usize {
        self.sheet.line(self.at)
    }

    fn wrong<T>(&self, wanted: &str) -> Option<T> {
        let found = match self.value.type_str() {
            "integer" | "float" => "number".to_owned(),
            other => other.to_owned(),
        };
        self.fault(format!("is a {found}; give {wanted}"));
        None
    }

    /// A finite number.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        #[allow(clippy::cast_precision_loss)]
        let number = match self.value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix())
                .ok()
                .map(|i| i as f64),
            DeValue::Float(f) => f.as_str().parse().ok().filter(|f: &f64| f.is_finite()),
            DeValue::String(_) => {
                return self
                    .wrong("a number, plain, without quotes or a unit (600, not \"600 ms\")");
            }
            _ => return self.wrong("a number"),
        };
        if number.is_none() {
            self.fault("is not a number that can be used; give a plain finite number");
        }
        number
    }

    /// A number within `range`.
    #[must_use]
    pub fn number_in(&self, range: RangeInclusive<f64>) -> Option<f64> {
        let number = self.number()?;
        if !range.contains(&number) {
            let (lo, hi) = (range.start(), range.end());
            self.fault(format!("is {number}; give a number from {lo} to {hi}"));
            return None;
        }
        Some(number)
    }

    /// A number above 0.
    #[must_use]
    pub fn positive(&self) -> Option<f64> {
        let number = self.number()?;
        if number <= 0.0 {
            self.fault(format!("is {number}; give a number above 0"));
        }
        (number > 0.0).then_some(number)
    }

    /// A whole number within `range`.
    #[must_use]
    pub fn whole_in(&self, range: RangeInclusive<u32>) -> Option<u32> {
        let (lo, hi) = (range.start(), range.end());
        let number = match self.value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok(),
            _ => return self.wrong(&format!("a whole number from {lo} to {hi}")),
        };
        let fits = number
            .and_then(|n| u32::try_from(n).ok())
            .filter(|n| range.contains(n));
        if fits.is_none() {
            self.fault(format!(
                "is out of range; give a whole number from {lo} to {hi}"
            ));
        }
        fits
    }

    /// `true` or `false`.
    #[must_use]
    pub fn flag(&self) -> Option<bool> {
        self.value
            .as_bool()
            .or_else(|| self.wrong("true or false, without quotes"))
    }

    /// Text that is not blank and holds no control characters.
    #[must_use]
    pub fn text(&self) -> Option<&'s str> {
        let Some(text) = self.value.as_str() else {
            return self.wrong("text in quotes");
        };
        if text.trim().is_empty() {
            self.fault("is empty; give it a text");
            return None;
        }
        if text.chars().any(char::is_control) {
            self.fault("holds a line break or another control character; write plain text");
            return None;
        }
        Some(text)
    }

    /// One of `choices`: its place in the list.
    #[must_use]
    pub fn choice(&self, choices: &[&str]) -> Option<usize> {
        let text = self.text()?;
        let found = choices.iter().position(|c| *c == text);
        if found.is_none() {
            self.fault(format!(
                "is \"{text}\"; give one of \"{}\"",
                choices.join("\", \"")
            ));
        }
        found
    }

    /// The elements of a list.
    #[must_use]
    pub fn items(&self) -> Option<Vec<Self>> {
        let Some(array) = self.value.as_array() else {
            return self.wrong("a list in square brackets");
        };
        let item = |(i, v): (usize, &'s Spanned<DeValue<'s>>)| Self {
            sheet: self.sheet,
            key: format!("{}[{i}]", self.key),
            at: v.span().start,
            value: v.get_ref(),
        };
        Some(array.iter().enumerate().map(item).collect())
    }

    /// Exactly `N` finite numbers, which are `names`.
    #[must_use]
    pub fn numbers<const N: usize>(&self, names: [&str; N]) -> Option<[f64; N]> {
        let items = self.items()?;
        if items.len() != N {
            let (found, names) = (items.len(), names.join(", "));
            self.fault(format!("holds {found} values; give {N} numbers: [{names}]"));
            return None;
        }
        // All elements are looked at, so that each bad one gets its word.
        let numbers: Vec<Option<f64>> = items.iter().map(Self::number).collect();
        let numbers: Vec<f64> = numbers.into_iter().collect::<Option<_>>()?;
        numbers.try_into().ok()
    }

    /// File and line, as messages give them.
    #[must_use]
    pub fn place(&self) -> String {
        format!("{}:{}", self.sheet.file(), self.line())
    }

    /// Text as it stands, unchecked; `None` where it is something else.
    #[must_use]
    pub fn plain(&self) -> Option<&'s str> {
        self.value.as_str()
    }

    /// Whether the value is a list without elements.
    #[must_use]
    pub fn is_empty_list(&self) -> bool {
        self.value.as_array().is_some_and(|a| a.is_empty())
    }

    /// Whether the value is text.
    #[must_use]
    pub fn is_text(&self) -> bool {
        self.value.is_str()
    }

    /// The value as a table.
    #[must_use]
    pub fn table(&self) -> Option<Table<'s>> {
        let Some(entries) = self.value.as_table() else {
            return self.wrong("a table of `key = value` lines");
        };
        Some(Table {
            sheet: self.sheet,
            path: self.key.clone(),
            at: self.at,
            entries: Some(entries),
            spoilt: false,
        })
    }

    /// The table this is, or those it lists.
    pub(super) fn tables_below(&self) -> Vec<Table<'s>> {
        match self.value {
            DeValue::Table(_) => self.table().into_iter().collect(),
            DeValue::Array(_) => {
                let items = self.items().unwrap_or_default();
                let tables = items.iter().filter(|i| i.value.is_table());
                tables.filter_map(Self::table).collect()
            }
            _ => Vec::new(),
        }
    }
}
