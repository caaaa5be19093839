//! Why a value is refused, in the words of the house.

use std::fmt;

use serde::de::{Error, Expected, Unexpected};

/// A value that was refused. Its place is known once the value that holds it
/// has been left.
#[derive(Debug)]
pub(super) struct Refusal {
    /// Dotted key and first byte.
    pub(super) place: Option<(String, usize)>,
    pub(super) why: Why,
}

#[derive(Debug)]
pub(super) enum Why {
    /// What is wrong; what to do.
    Told(String),
    /// The key is not one of these.
    Unknown(&'static [&'static str]),
    /// A key that must be there is not.
    Missing(&'static str),
    /// The value was left out, which was told already.
    LeftOut,
}

impl Refusal {
    pub(super) fn told(message: impl Into<String>) -> Self {
        Why::Told(message.into()).into()
    }

    /// The refusal of the value at this place, unless it is one of a value
    /// inside.
    pub(super) fn at(mut self, key: &str, at: usize) -> Self {
        self.place.get_or_insert_with(|| (key.to_owned(), at));
        self
    }
}

impl From<Why> for Refusal {
    fn from(why: Why) -> Self {
        Self { place: None, why }
    }
}

impl Error for Refusal {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self::told(message.to_string())
    }

    fn invalid_type(found: Unexpected, wanted: &dyn Expected) -> Self {
        let found = match found {
            Unexpected::Bool(_) => "boolean",
            Unexpected::Signed(_) | Unexpected::Unsigned(_) | Unexpected::Float(_) => "number",
            Unexpected::Str(_) => "string",
            Unexpected::Seq => "array",
            _ => "table",
        };
        Self::told(format!("is a {found}; give {wanted}"))
    }

    /// Reached by whole numbers that the type cannot hold.
    fn invalid_value(found: Unexpected, _wanted: &dyn Expected) -> Self {
        match found {
            Unexpected::Signed(n) if n < 0 => {
                Self::told(format!("is {n}; give a whole number from 0"))
            }
            Unexpected::Signed(n) => Self::told(format!("is {n}; give a smaller whole number")),
            other => Self::told(format!("is {other}; give another value")),
        }
    }

    fn unknown_variant(found: &str, choices: &'static [&'static str]) -> Self {
        let choices = choices.join("\", \"");
        Self::told(format!("is \"{found}\"; give one of \"{choices}\""))
    }

    fn unknown_field(_found: &str, siblings: &'static [&'static str]) -> Self {
        Why::Unknown(siblings).into()
    }

    fn missing_field(field: &'static str) -> Self {
        Why::Missing(field).into()
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.why {
            Why::Told(message) => f.write_str(message),
            Why::Unknown(_) => f.write_str("is not a known key"),
            Why::Missing(field) => write!(f, "lacks {field}"),
            Why::LeftOut => f.write_str("was left out"),
        }
    }
}

impl std::error::Error for Refusal {}
