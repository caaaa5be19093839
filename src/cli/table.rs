//! `focuslag table`: all trials of many files, a row each.

use std::collections::BTreeSet;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;

use super::exit::{Exit, Stop, refuse};
use super::files;
use super::stdin;
use super::talk::Talk;
use super::target::{Kind, complaint};
use crate::report::TrialsTable;
use crate::store::schema::Timing;
use crate::store::write_pieces;

/// Timing files in, one table out: a row per trial, the void ones included.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag table *.timing.json -o trials.csv
  focuslag table before/*.timing.json after/*.timing.json > trials.csv

CSV (RFC 4180, UTF-8) with a head; columns are named after the keys of the timing
file, with their units. What is not known is empty. Each tag has a column tag_KEY,
each cue cue_NAME_shown_s and so on. A name that a spreadsheet would take for a
formula is led by an apostrophe. A file that cannot be read is named and passed
over (exit code 1); the rows of the others are written.")]
pub struct TableArgs {
    /// Timing files; `-` for one from standard input
    #[arg(required = true, value_name = "TIMING.json")]
    files: Vec<PathBuf>,
    /// Where the table goes [default: standard output]
    #[arg(short, long, value_name = "TRIALS.csv")]
    #[arg(default_value = "-", hide_default_value = true)]
    output: PathBuf,
    /// Write over a file of another kind
    #[arg(long)]
    force: bool,
}

/// What has been read and written so far.
#[derive(Default)]
struct Written {
    files: usize,
    rows: usize,
    failures: Vec<String>,
}

pub fn run(args: &TableArgs, talk: Talk) -> Exit {
    talk.ended(tabled(args, talk))
}

/// Writes the table. Each file is read twice, first for its tags and cues, so
/// that no more than one is ever held.
fn tabled(args: &TableArgs, talk: Talk) -> Result<Exit, Stop> {
    refuse(wrong_request(args, talk))?;
    let mut so_far = Written::default();
    let (table, sources) = look_through(&args.files, &mut so_far.failures, talk);
    if sources.is_empty() {
        return Err(so_far.failures.into());
    }
    if stdin::named(&args.output) {
        let ended = talk.pieces(|out| fill(&table, sources, &mut so_far, out), Exit::Done);
        return Ok(close(&so_far, ended, talk));
    }
    let written = write_pieces(&args.output, |out| fill(&table, sources, &mut so_far, out));
    if let Err(e) = written {
        so_far.failures.push(e.to_string());
        return Err(Stop(Exit::Failed, so_far.failures));
    }
    let file = args.output.display().to_string();
    let (files, rows) = (so_far.files, so_far.rows);
    let ended = if talk.json {
        let document = json!({
            "file": file,
            "files": files,
            "rows": rows,
            "columns": table.head(),
            "failures": so_far.failures,
        });
        talk.document(&document, Exit::Done)
    } else {
        let all = args.files.len();
        let text = format!("{file}: rows: {rows}, files: {files} of {all}\n");
        talk.result(&text, Exit::Done)
    };
    Ok(close(&so_far, ended, talk))
}

/// Names what was passed over.
fn close(so_far: &Written, ended: Exit, talk: Talk) -> Exit {
    for failure in &so_far.failures {
        talk.error(failure);
    }
    match ended {
        Exit::Done if !so_far.failures.is_empty() => Exit::Failed,
        ended => ended,
    }
}

fn wrong_request(args: &TableArgs, talk: Talk) -> Vec<String> {
    let mut wrong: Vec<String> = files::piped_twice(&args.files).into_iter().collect();
    let mut seen = BTreeSet::new();
    let again = args
        .files
        .iter()
        .filter(|f| !stdin::named(f) && !seen.insert(*f));
    wrong.extend(again.map(|f| format!("command line: {} is named twice", f.display())));
    if stdin::named(&args.output) && talk.json {
        let both = "command line: --json and the table both go to standard output; name a file, -o";
        wrong.push(both.to_owned());
    }
    wrong.extend(complaint(&args.output, "-o", Kind::Trials, args.force));
    wrong
}

/// A file that could be read; standard input is held, for it cannot be read
/// again.
enum Source<'a> {
    File(&'a Path),
    Piped(Box<Timing>),
}

/// Looks for the tags and cues of all files.
fn look_through<'a>(
    files: &'a [PathBuf],
    failures: &mut Vec<String>,
    talk: Talk,
) -> (TrialsTable, Vec<Source<'a>>) {
    let mut table = TrialsTable::default();
    let mut sources = Vec::new();
    for file in files {
        let timing = match files::timing(file) {
            Ok(timing) => timing,
            Err(error) => {
                failures.push(error);
                continue;
            }
        };
        table.make_room(&timing);
        let read = [(files::name(file), timing)];
        files::doubted(&read, talk);
        rowless(&read[0], talk);
        let [(_, timing)] = read;
        sources.push(if stdin::named(file) {
            Source::Piped(Box::new(timing))
        } else {
            Source::File(file)
        });
    }
    (table, sources)
}

/// Clips without a trial have no row: that is said.
fn rowless((file, timing): &(String, Timing), talk: Talk) {
    for clip in timing.clips.iter().filter(|c| c.trials.is_empty()) {
        let why = clip
            .error
            .as_deref()
            .unwrap_or("nothing starts a trial in it");
        talk.warn(&format!("{file}: clip {} has no row: {why}", clip.path));
    }
}

fn fill(
    table: &TrialsTable,
    sources: Vec<Source>,
    so_far: &mut Written,
    out: &mut dyn Write,
) -> io::Result<()> {
    table.write_head(&mut *out)?;
    for source in sources {
        let (file, read) = match source {
            Source::File(file) => (files::name(file), files::timing(file)),
            Source::Piped(timing) => (stdin::NAME.to_owned(), Ok(*timing)),
        };
        match read {
            Ok(timing) if table.has_room(&timing) => {
                so_far.rows += table.write_trials(&file, &timing, &mut *out)?;
                so_far.files += 1;
            }
            Ok(_) => so_far.failures.push(format!(
                "{file}: has changed while it was read; run the command again"
            )),
            Err(error) => so_far.failures.push(error),
        }
    }
    Ok(())
}
