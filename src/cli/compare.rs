//! `focuslag compare`: setups against each other.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::exit::Exit;
use super::files;
use super::number::{number, share_complaint};
use super::sets::{left_out, started_alike};
use super::talk::Talk;
use crate::report::{compare_markdown, compare_text};
use crate::stats::compare::{CompareOptions, compare};

/// Timing files in, differences out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag compare kit-amber.timing.json kit-slate.timing.json
  focuslag compare before/*.timing.json after/*.timing.json --format markdown > result.md

Near and far are compared apart, and together as strata. Files judged by
different measures are refused; where some trials start by a swing and others by a
trigger, the larger set is compared. The same seed gives the same numbers.")]
pub struct CompareArgs {
    /// Two or more timing files; `-` for one from standard input
    #[arg(required = true, value_name = "TIMING.json")]
    files: Vec<PathBuf>,
    /// How to show the result [default: text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// Two-sided level of every interval, 0.5 to 1
    #[arg(long, value_name = "LEVEL", value_parser = number,
        default_value_t = CompareOptions::default().confidence)]
    confidence: f64,
    /// Seed of the resampling
    #[arg(long, value_name = "N", default_value_t = CompareOptions::default().seed)]
    seed: u64,
}

/// Forms of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a terminal
    Text,
    /// For a page
    Markdown,
}

/// Compares.
pub fn run(args: &CompareArgs, talk: Talk) -> Exit {
    if let Some(error) = talk.two_formats(args.format.is_some()) {
        return talk.stop(&[error], Exit::Refused);
    }
    if let Some(error) = share_complaint("confidence", Some(args.confidence)) {
        return talk.stop(&[error], Exit::Refused);
    }
    let read = match files::opened(&args.files, talk) {
        Ok(read) => read,
        Err(exit) => return exit,
    };
    let (read, apart) = started_alike(read);
    if !apart.is_empty() {
        talk.warn(&format!(
            "not compared: {}: its trials start another way than those of the other {} files, and a \
             swing and a trigger answer different questions",
            apart.join(", "),
            read.len()
        ));
    }
    let named = files::named(&read);
    let options = CompareOptions {
        confidence: args.confidence,
        seed: args.seed,
        ..CompareOptions::default()
    };
    let comparison = match compare(&named, &options) {
        Ok(comparison) => comparison,
        Err(e) => {
            let errors: Vec<String> = [e.to_string()].into_iter().chain(left_out(&read)).collect();
            return talk.stop(&errors, Exit::Refused);
        }
    };
    if talk.json {
        return talk.document(&comparison, Exit::Done);
    }
    let text = match args.format {
        Some(Format::Markdown) => compare_markdown(&comparison),
        _ => compare_text(&comparison),
    };
    talk.result(&text, Exit::Done)
}
