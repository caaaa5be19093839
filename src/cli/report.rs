//! `focuslag report`: one page for everybody.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::exit::{Exit, Stop, failed, refuse, refused};
use super::files;
use super::sets::compared;
use super::show::evidence;
use super::stdin;
use super::talk::Talk;
use super::target::{Kind, complaint};
use crate::names::plain;
use crate::report::{Source, Stills, page};
use crate::stats::compare::{CompareOptions, labels};
use crate::store::schema::Timing;
use crate::store::write_file;

/// Timing files in, one self-contained HTML page out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag report kit-amber.timing.json kit-slate.timing.json -o counter.html
  focuslag report *.timing.json -o counter.html --stills all

The page needs no other file, no network and no script. Curves and stills come
from the evidence files beside the timing files; the clips are not needed.")]
pub struct ReportArgs {
    /// Timing files; `-` for one from standard input
    #[arg(required = true, value_name = "TIMING.json")]
    files: Vec<PathBuf>,
    /// Where the page goes; `-` for standard output
    #[arg(short, long, value_name = "REPORT.html")]
    output: PathBuf,
    /// Which stills go into the page: some keep it below 8 MB, the worst trials first
    #[arg(long, value_enum, default_value_t = Wanted::Some, value_name = "WHICH")]
    stills: Wanted,
    /// Write over a file of another kind
    #[arg(long)]
    force: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Wanted {
    /// Every one
    All,
    /// As many as keep the page below 8 MB
    Some,
    /// None
    None,
}

pub fn run(args: &ReportArgs, talk: Talk) -> Exit {
    talk.ended(reported(args, talk))
}

fn reported(args: &ReportArgs, talk: Talk) -> Result<Exit, Stop> {
    let piped = stdin::named(&args.output);
    if piped && talk.json {
        let twice = "command line: --json and -o - both go to standard output; name a file";
        return Err(refused(twice));
    }
    refuse(complaint(&args.output, "-o", Kind::Page, args.force))?;
    let read = files::opened(&args.files, talk)?;
    let named = files::named(&read);
    // No two setups of a page are called alike.
    let labelled = labels(&named).into_iter().zip(&read);
    let labelled = labelled.map(|(label, (file, timing))| {
        let mut mine = timing.clone();
        mine.setup.name = label;
        (PathBuf::from(file), mine)
    });
    let mine: Vec<(PathBuf, Timing)> = labelled.collect();
    let mut notes = Vec::new();
    let comparisons = compared(&mine, &mut |w| notes.push(w));
    for note in &notes {
        talk.note(note);
    }
    let mut sources: Vec<Source> = args
        .files
        .iter()
        .zip(&read)
        .zip(&mine)
        .map(|((path, (file, timing)), (_, mine))| {
            let (evidence, missing) = evidence(path, timing);
            Source {
                file: file.clone(),
                timing: mine,
                name: &timing.setup.name,
                evidence,
                missing,
            }
        })
        .collect();
    let stills = match args.stills {
        Wanted::All => Stills::All,
        Wanted::Some => Stills::Some,
        Wanted::None => Stills::None,
    };
    let confidence = CompareOptions::default().confidence;
    let page = page(&mut sources, &comparisons, &notes, stills, confidence);
    for line in &page.missing {
        talk.warn(line);
    }
    if piped {
        return Ok(talk.raw(&page.html, Exit::Done));
    }
    write_file(&args.output, page.html.as_bytes()).map_err(failed)?;
    let file = args.output.display().to_string();
    if talk.json {
        let document = json!({
            "file": file,
            "bytes": page.html.len(),
            "setups": mine.iter().map(|(_, t)| &t.setup.name).collect::<Vec<_>>(),
            "trials": page.trials,
            "stills": { "kept_for": page.with_stills, "in_page": page.stills_shown },
            "missing": page.missing,
        });
        return Ok(talk.document(&document, Exit::Done));
    }
    let text = format!(
        "{}: {:.1} MB, {} trials, stills of {} of them\n",
        plain(&file),
        page.html.len() as f64 / 1e6,
        page.trials,
        page.stills_shown
    );
    Ok(talk.result(&text, Exit::Done))
}
