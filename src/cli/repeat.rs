//! `focuslag repeat`: how repeatable a bench is.

use std::path::PathBuf;

use clap::Args;

use super::exit::{Exit, Stop, refuse};
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

pub fn run(args: &RepeatArgs, talk: Talk) -> Exit {
    talk.ended(held(args, talk))
}

/// Holds sessions against each other.
fn held(args: &RepeatArgs, talk: Talk) -> Result<Exit, Stop> {
    refuse(share_complaint("confidence", Some(args.confidence)))?;
    let read = files::opened(&args.files, talk)?;
    let found = repeat(&files::named(&read), args.by.as_deref(), args.confidence);
    let found = found.map_err(|e| e.to_string())?;
    Ok(talk.shown(&found, repeat_text, Exit::Done))
}
