//! What can be wrong with a file a person wrote, and what to do about it.

use std::fmt;

/// One fault of a rig or session file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file as the person named it, or `command line`.
    pub file: String,
    /// Line, counted from 1; `None` where the file has no lines to speak of
    /// (it cannot be opened, or it is the command line).
    pub line: Option<usize>,
    /// Dotted key, e.g. `screen.af_area`; empty where no key is to blame.
    pub key: String,
    /// What is wrong; what to do.
    pub message: String,
}

impl Fault {
    /// A fault without a line.
    pub fn of_file(file: &str, key: &str, message: impl Into<String>) -> Self {
        Self {
            file: file.to_owned(),
            line: None,
            key: key.to_owned(),
            message: message.into(),
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        if !self.key.is_empty() {
            write!(f, ": {}", self.key)?;
        }
        write!(f, ": {}", self.message)
    }
}

/// Every fault found, one line each when printed. Never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults {
    /// In the order of file and line.
    pub list: Vec<Fault>,
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Self { list: vec![fault] }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.list.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}
