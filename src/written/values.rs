//! What a value must be, told where it is read so that the message carries line
//! and key. Each reads a plain value or one that may be left out.

use std::fmt::Display;
use std::ops::RangeInclusive;

use serde::de::{Deserialize, Deserializer, Error};

/// A number within a range.
pub(crate) fn number<'de, D: Deserializer<'de>, T: From<f64>>(
    d: D,
    range: RangeInclusive<f64>,
) -> Result<T, D::Error> {
    let value = f64::deserialize(d)?;
    if range.contains(&value) {
        return Ok(value.into());
    }
    let (lo, hi) = (range.start(), range.end());
    refused(format!("is {value}; give a number from {lo} to {hi}"))
}

/// Readers of a number within a range, or of one that may be left out.
macro_rules! within {
    ($($(#[$doc:meta])* $name:ident: $range:expr;)*) => {$(
        $(#[$doc])*
        pub(super) fn $name<'de, D: serde::Deserializer<'de>, T: From<f64>>(
            d: D,
        ) -> Result<T, D::Error> {
            $crate::written::values::number(d, $range)
        }
    )*};
}
pub(crate) use within;

/// A number above 0.
pub(crate) fn positive<'de, D: Deserializer<'de>, T: From<f64>>(d: D) -> Result<T, D::Error> {
    let value = f64::deserialize(d)?;
    if value > 0.0 {
        return Ok(value.into());
    }
    refused(format!("is {value}; give a number above 0"))
}

/// A number from 0 on.
pub(crate) fn not_negative<'de, D: Deserializer<'de>, T: From<f64>>(d: D) -> Result<T, D::Error> {
    let value = f64::deserialize(d)?;
    if value >= 0.0 {
        return Ok(value.into());
    }
    refused(format!("is {value}; give a number from 0"))
}

/// A whole number within a range.
pub(crate) fn whole<'de, D: Deserializer<'de>, T: TryFrom<i64>>(
    d: D,
    range: RangeInclusive<i64>,
) -> Result<T, D::Error> {
    let value = i64::deserialize(d)?;
    let (lo, hi) = (*range.start(), *range.end());
    match T::try_from(value) {
        Ok(whole) if range.contains(&value) => Ok(whole),
        _ => refused(format!("is {value}; give a whole number from {lo} to {hi}")),
    }
}

/// Numbers that have names, as many as there are names.
pub(crate) fn numbers<'de, D: Deserializer<'de>, const N: usize>(
    d: D,
    names: [&str; N],
) -> Result<[f64; N], D::Error> {
    let list = Vec::<f64>::deserialize(d)?;
    let found = list.len();
    list.try_into().or_else(|_| {
        let names = names.join(", ");
        refused(format!("holds {found} values; give {N} numbers: [{names}]"))
    })
}

/// Left, top, right and bottom of a rectangle, in fractions of the screen.
pub(crate) fn area<'de, D: Deserializer<'de>>(d: D) -> Result<[f64; 4], D::Error> {
    let area = numbers(d, ["left", "top", "right", "bottom"])?;
    let [left, top, right, bottom] = area;
    if !area.iter().all(|v| (0.0..=1.0).contains(v)) {
        return refused(
            "reaches beyond the screen; give fractions of the screen from 0 to 1: [left, top, right, bottom]",
        );
    }
    if left >= right || top >= bottom {
        return refused(
            "is empty; left must be smaller than right and top smaller than bottom: [left, top, right, bottom]",
        );
    }
    Ok(area)
}

/// Text that is not blank and holds no control characters.
pub(crate) fn text<'de, D: Deserializer<'de>, T: From<String>>(d: D) -> Result<T, D::Error> {
    let text = plain(d)?;
    if text.trim().is_empty() {
        return refused("is empty; give it a text");
    }
    Ok(text.into())
}

/// Text without control characters.
pub(crate) fn plain<'de, D: Deserializer<'de>>(d: D) -> Result<String, D::Error> {
    let text = String::deserialize(d)?;
    if text.chars().any(char::is_control) {
        return refused("holds a line break or another control character; write plain text");
    }
    Ok(text)
}

/// What is wrong; what to do.
pub(crate) fn refused<T, E: Error>(why: impl Display) -> Result<T, E> {
    Err(E::custom(why))
}
