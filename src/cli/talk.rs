//! What goes to standard output and what to standard error.
//!
//! Results to standard output, everything else to standard error. A reader
//! that went away (`focuslag … | head`) is no fault.

use std::io::{self, ErrorKind, Write};

use serde::Serialize;

use super::exit::{Exit, Stop};
use crate::names;

/// How a person wants to be talked to.
#[derive(Clone, Copy, Debug)]
pub struct Talk {
    /// One JSON document instead of text.
    pub json: bool,
    /// No progress, notes or warnings.
    pub quiet: bool,
}

impl Talk {
    /// A result as text.
    pub fn result(self, text: &str, exit: Exit) -> Exit {
        written(write_all(&names::lines(text)), exit)
    }

    /// A result for a program, to the byte.
    pub fn raw(self, text: &str, exit: Exit) -> Exit {
        written(write_all(text), exit)
    }

    /// A result as text, piece by piece.
    pub fn pieces(self, fill: impl FnOnce(&mut dyn Write) -> io::Result<()>, exit: Exit) -> Exit {
        let mut out = io::BufWriter::new(io::stdout().lock());
        let done = fill(&mut out).and_then(|()| out.flush());
        written(done, exit)
    }

    /// A result as the one JSON document.
    pub fn document<T: Serialize>(self, value: &T, exit: Exit) -> Exit {
        match serde_json::to_string_pretty(value) {
            Ok(text) => self.raw(&(names::json(&text) + "\n"), exit),
            Err(e) => {
                self.error(&format!("the result cannot be written as JSON: {e}"));
                Exit::Failed
            }
        }
    }

    /// A result as the one JSON document where that was asked for, else as text.
    pub fn shown<T: Serialize>(
        self,
        value: &T,
        text: impl FnOnce(&T) -> String,
        exit: Exit,
    ) -> Exit {
        if self.json {
            return self.document(value, exit);
        }
        self.result(&text(value), exit)
    }

    /// Ends as the work did.
    pub fn ended(self, work: Result<Exit, Stop>) -> Exit {
        work.unwrap_or_else(|Stop(exit, errors)| self.stop(&errors, exit))
    }

    /// Ends with these errors, in JSON as well where that was asked for.
    pub fn stop(self, errors: &[String], exit: Exit) -> Exit {
        for e in errors {
            self.error(e);
        }
        if self.json {
            return self.document(&serde_json::json!({ "errors": errors }), exit);
        }
        exit
    }

    /// The error where --json and --format are both given.
    pub fn two_formats(self, format: bool) -> Option<String> {
        (self.json && format).then(|| "command line: --json or --format, not both".to_owned())
    }

    /// Worth knowing.
    pub fn note(self, text: &str) {
        if !self.quiet {
            say(text);
        }
    }

    /// Worth attention.
    pub fn warn(self, text: &str) {
        if !self.quiet {
            say(&format!("warning: {text}"));
        }
    }

    /// Never silenced.
    pub fn error(self, text: &str) {
        say(&format!("error: {text}"));
    }
}

fn write_all(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}

fn written(result: io::Result<()>, exit: Exit) -> Exit {
    match result {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => {
            say(&format!(
                "error: standard output cannot be written: {e}; send it elsewhere"
            ));
            Exit::Failed
        }
        _ => exit,
    }
}

/// A line to standard error; if nobody can read it, nobody can be told.
pub fn say(text: &str) {
    let _ = writeln!(io::stderr().lock(), "{}", names::plain(text));
}
