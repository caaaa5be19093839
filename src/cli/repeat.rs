//! `focuslag repeat`: how repeatable a bench is.

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::files;
use super::number::{number, share_complaint};
use super::talk::Talk;
use crate::report::repeat_text;
use crate::stats::repeat::repeat;

/// Sessions of one setup in, their scatter out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag repeat monday/kit-amber.timing.json tuesday/kit-amber.timing.json friday/kit-amber.timing.json
  focuslag repeat all/*.timing.json --by day

Film one kit in three sessions or more, setting everything up anew each time, and
time each session. What they differ by is re-rigging, light and battery: a change
of that size is no change of the kit. --by names the tag that tells sessions apart
where one has several timing files.")]
pub struct RepeatArgs {
    /// Timing files of one setup, one for each session
    #[arg(required = true, value_name = "TIMING.json")]
    files: Vec<PathBuf>,
    /// Tag that names the session; files with the same value are one
    #[arg(long, value_name = "TAG")]
    by: Option<String>,
    /// Two-sided level of every interval, 0.5 to 1
    #[arg(long, value_name = "LEVEL", value_parser = number, default_value_t = 0.95)]
    confidence: f64,
}

/// Holds sessions against each other.
pub fn run(args: &RepeatArgs, talk: Talk) -> Exit {
    if let Some(error) = share_complaint("confidence", Some(args.confidence)) {
        return talk.stop(&[error], Exit::Refused);
    }
    let read = match files::opened(&args.files, talk) {
        Ok(read) => read,
        Err(exit) => return exit,
    };
    match repeat(&files::named(&read), args.by.as_deref(), args.confidence) {
        Err(e) => talk.stop(&[e.to_string()], Exit::Refused),
        Ok(found) if talk.json => talk.document(&found, Exit::Done),
        Ok(found) => talk.result(&repeat_text(&found), Exit::Done),
    }
}
