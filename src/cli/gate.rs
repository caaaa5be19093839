//! `focuslag gate`: does a firmware update stay within what was agreed?

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::exit::Exit;
use super::talk::Talk;
use super::{files, stdin};
use crate::report::{gate_junit, gate_markdown, gate_text};
use crate::stats::compare::Named;
use crate::stats::gate::{Gate, GateOptions, Policy, Verdict, gate};

/// A candidate in, a verdict out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag gate --baseline before.timing.json --candidate after.timing.json
  focuslag gate --baseline before.timing.json --candidate after.timing.json --policy policy.toml
  focuslag gate --candidate after.timing.json --policy minimum.toml --format junit > gate.xml

Ends with 0: pass, 3: regression, 4: inconclusive (2: the request was wrong).
Without --policy: at most 5 points less hit rate, 20 ms more to the median and
50 ms more to the 90 % point of time to focus, each by its whole 95 % interval.
A policy with [require] alone needs no baseline.")]
pub struct GateArgs {
    /// Timing file of the update; `-` reads it from standard input
    #[arg(long, value_name = "TIMING.json")]
    candidate: PathBuf,
    /// Timing file from before it
    #[arg(long, value_name = "TIMING.json")]
    baseline: Option<PathBuf>,
    /// What was agreed (TOML) [default: see below]
    #[arg(long, value_name = "POLICY.toml")]
    policy: Option<PathBuf>,
    /// How to show the result [default: text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// Seed of the resampling
    #[arg(long, value_name = "N", default_value_t = GateOptions::default().seed)]
    seed: u64,
}

/// Forms of a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a terminal
    Text,
    /// For a page
    Markdown,
    /// For a build server
    Junit,
}

/// Judges.
pub fn run(args: &GateArgs, talk: Talk) -> Exit {
    if let Some(error) = talk.two_formats(args.format.is_some()) {
        return talk.stop(&[error], Exit::Refused);
    }
    match judged(args) {
        Ok(gate) => show(&gate, args.format, talk),
        Err(errors) => talk.stop(&errors, Exit::Refused),
    }
}

fn judged(args: &GateArgs) -> Result<Gate, Vec<String>> {
    let policy = match &args.policy {
        None => Ok(Policy::default()),
        Some(file) => policy(file).map_err(|e| vec![e]),
    };
    let wanted: Vec<PathBuf> = args
        .baseline
        .iter()
        .chain([&args.candidate])
        .cloned()
        .collect();
    let read = files::timings(&wanted);
    let (policy, read) = match (policy, read) {
        (Ok(policy), Ok(read)) => (policy, read),
        (policy, read) => {
            let of_policy = policy.err().into_iter().flatten();
            return Err(of_policy.chain(read.err().into_iter().flatten()).collect());
        }
    };
    let named: Vec<Named> = read
        .iter()
        .map(|(file, timing)| Named { file, timing })
        .collect();
    let options = GateOptions {
        seed: args.seed,
        ..GateOptions::default()
    };
    let result = match named.as_slice() {
        [baseline, candidate] => gate(Some(baseline), candidate, &policy, &options),
        [candidate] => gate(None, candidate, &policy, &options),
        _ => return Err(vec!["command line: --candidate is missing".to_owned()]),
    };
    result.map_err(|e| vec![e.to_string()])
}

fn policy(file: &Path) -> Result<Policy, String> {
    let text = stdin::text_of(file, "policy file (TOML)")?;
    Policy::from_toml(&text, &file.display().to_string()).map_err(|e| e.to_string())
}

fn show(gate: &Gate, format: Option<Format>, talk: Talk) -> Exit {
    let exit = match gate.verdict {
        Verdict::Pass => Exit::Done,
        Verdict::Regression => Exit::Regression,
        Verdict::Inconclusive => Exit::Inconclusive,
    };
    if talk.json {
        return talk.document(gate, exit);
    }
    match format {
        Some(Format::Markdown) => talk.result(&gate_markdown(gate), exit),
        Some(Format::Junit) => match gate_junit(gate) {
            Ok(xml) => talk.result(&xml, exit),
            Err(e) => talk.stop(
                &[format!("the result cannot be written as XML: {e}")],
                Exit::Failed,
            ),
        },
        _ => talk.result(&gate_text(gate), exit),
    }
}
