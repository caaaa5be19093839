//! `focuslag gate`: does a firmware update stay within what was agreed?

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::exit::{Exit, Stop, failed, refuse, refused};
use super::talk::Talk;
use super::{files, stdin};
use crate::report::{gate_junit, gate_markdown, gate_text};
use crate::stats::gate::{Gate, GateOptions, Policy, Verdict, gate_over_sessions};

/// An update against its baseline, or a kit against a minimum.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag gate --baseline before.timing.json --candidate after.timing.json
  focuslag gate --baseline before.timing.json --candidate after.timing.json --policy policy.toml
  focuslag gate --candidate after.timing.json --policy minimum.toml --format junit > gate.xml
  focuslag gate --baseline mon.timing.json tue.timing.json fri.timing.json --candidate after.timing.json

An update is held against its baseline, or a kit against a minimum: a policy with
[require] alone needs no baseline.
Ends with 0: pass, 3: regression (or below the minimum), 4: inconclusive
(2: the request was wrong).
Without --policy: at most 5 points less hit rate, 20 ms more to the time by which
50 % of the judged trials are in focus and 50 ms more to that of 90 %, each by its
whole 95 % interval, from 20 judged trials on each side. [test] in the policy sets
another `confidence` and `min_trials`.

Two sessions of one kit differ, whatever its firmware. Name three or more sessions
of the baseline, each with everything set up anew: only a change beyond what they
differ by counts then.")]
pub struct GateArgs {
    /// Timing file of the update, or of the kit to check; `-` reads it from standard input
    #[arg(long, value_name = "TIMING.json")]
    candidate: Option<PathBuf>,
    /// Timing file from before it; one for each session where there are several
    #[arg(long, value_name = "TIMING.json", num_args = 1..)]
    baseline: Vec<PathBuf>,
    /// What was agreed (TOML) [default: see below]
    #[arg(long, value_name = "POLICY.toml")]
    policy: Option<PathBuf>,
    /// Files without their flags: told what to write instead
    #[arg(hide = true, value_name = "TIMING.json")]
    loose: Vec<PathBuf>,
    /// No flag of this command: told where it is set
    #[arg(long, hide = true, value_name = "LEVEL")]
    confidence: Option<String>,
    /// How to show the result [default: text]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// Seed of the resampling
    #[arg(long, value_name = "N", default_value_t = GateOptions::default().seed)]
    seed: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a terminal
    Text,
    /// For a page
    Markdown,
    /// For a build server
    Junit,
}

pub fn run(args: &GateArgs, talk: Talk) -> Exit {
    talk.ended(judged(args, talk).and_then(|gate| show(&gate, args.format, talk)))
}

/// What is wrong with the command line itself.
fn misread(args: &GateArgs) -> Option<String> {
    let shown = |file: &PathBuf| file.display().to_string();
    let instead = match (args.loose.as_slice(), &args.candidate) {
        ([], Some(_)) => return args.confidence.as_ref().map(|_| in_the_policy()),
        ([], None) if args.confidence.is_some() => in_the_policy(),
        ([], None) => "--candidate TIMING.json is missing; see focuslag gate --help".to_owned(),
        ([one], None) => format!("write --candidate {}", shown(one)),
        ([one], Some(_)) if args.baseline.is_empty() => format!("write --baseline {}", shown(one)),
        ([before, after], None) => {
            let (before, after) = (shown(before), shown(after));
            format!("write --baseline {before} --candidate {after}")
        }
        _ => "one candidate is checked at a time, against one baseline: write --baseline \
             A.timing.json --candidate B.timing.json (several sessions of the baseline: --baseline \
             A1.timing.json A2.timing.json A3.timing.json)"
            .to_owned(),
    };
    let instead = instead.trim_start_matches("command line: ");
    Some(format!("command line: {instead}"))
}

fn in_the_policy() -> String {
    "command line: --confidence: set test.confidence in the policy (confidence = 0.95 under \
     [test])"
        .to_owned()
}

fn judged(args: &GateArgs, talk: Talk) -> Result<Gate, Stop> {
    refuse(talk.two_formats(args.format.is_some()))?;
    refuse(misread(args))?;
    let policy = args.policy.as_deref().map_or(Ok(Policy::default()), policy);
    let wanted = args.baseline.iter().chain(&args.candidate).cloned();
    let read = files::timings(&wanted.collect::<Vec<_>>());
    let (policy, read) = match (policy, read) {
        (Ok(policy), Ok(read)) => (policy, read),
        (Err(of_policy), Err(Stop(exit, errors))) => {
            return Err(Stop(exit, [of_policy, errors].concat()));
        }
        (Err(errors), _) => return Err(errors.into()),
        (_, Err(stop)) => return Err(stop),
    };
    files::doubted(&read, talk);
    let named = files::named(&read);
    let options = GateOptions {
        seed: args.seed,
        ..GateOptions::default()
    };
    let Some((candidate, sessions)) = named.split_last() else {
        return Err(refused("command line: --candidate is missing"));
    };
    gate_over_sessions(sessions, candidate, &policy, &options).map_err(refused)
}

fn policy(file: &Path) -> Result<Policy, Vec<String>> {
    let text = stdin::text_of(file, "policy file (TOML)").map_err(|e| vec![e])?;
    Policy::from_toml(&text, &file.display().to_string()).map_err(|e| e.messages())
}

fn show(gate: &Gate, format: Option<Format>, talk: Talk) -> Result<Exit, Stop> {
    let exit = match gate.verdict {
        Verdict::Pass => Exit::Done,
        Verdict::Regression => Exit::Regression,
        Verdict::Inconclusive => Exit::Inconclusive,
    };
    if talk.json {
        return Ok(talk.document(gate, exit));
    }
    let text = match format {
        Some(Format::Markdown) => gate_markdown(gate),
        Some(Format::Junit) => gate_junit(gate)
            .map_err(|e| failed(format!("the result cannot be written as XML: {e}")))?,
        _ => gate_text(gate),
    };
    Ok(talk.result(&text, exit))
}
