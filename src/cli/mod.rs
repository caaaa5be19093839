//! What a person types: the only place that knows clap.
//!
//! In: the command line. Out: results on standard output, progress and
//! warnings on standard error, and an exit code by [`exit::Exit`]. A command
//! is a file: its flags, its example, and how it calls the rest.

mod card;
mod check;
mod compare;
mod completions;
pub(crate) mod exit;
mod fault;
mod files;
mod gate;
mod interrupt;
mod looks;
mod man;
mod not_found;
mod number;
mod photos;
mod plan;
mod progress;
mod prove;
mod render;
mod repeat;
mod report;
mod scout;
mod scout_session;
mod sets;
mod show;
mod stdin;
mod table;
mod talk;
mod target;
mod time;
mod time_signals;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::names;
use exit::Exit;
use talk::Talk;

/// How fast and how surely a camera focuses, measured from films of its rear screen.
#[derive(Debug, Parser)]
#[command(version, propagate_version = true, max_term_width = 100)]
#[command(after_help = "\
Example:
  focuslag time sample-clips/session.toml

Exit codes: 0 done (gate: pass), 1 the work failed, 2 the request was wrong,
3 gate: regression, 4 gate: inconclusive.")]
struct Cli {
    /// One JSON document on standard output and nothing else there
    #[arg(long, global = true)]
    json: bool,
    /// No progress, notes or warnings; results and errors stay
    #[arg(long, short, global = true)]
    quiet: bool,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
// Parsed once: its size does not matter.
#[allow(clippy::large_enum_variant)]
enum Command {
    /// Look at a clip and draft its rig: screen, rates, stimulus
    Scout(scout::ScoutArgs),
    /// What `time` would do: rig, session and headers tested in about a second
    Check(check::CheckArgs),
    /// Time every trial of a session's clips, and show each setup's table
    Time(time::TimeArgs),
    /// Hold setups against each other
    Compare(compare::CompareArgs),
    /// One trial up close: its curve, its moments, its pictures
    Show(show::ShowArgs),
    /// All trials as one table, CSV, for a notebook, R or DuckDB
    Table(table::TableArgs),
    /// One page for everybody: tables, plots and the evidence of every trial
    Report(report::ReportArgs),
    /// Check a firmware update against its baseline, or a kit against a minimum
    Gate(gate::GateArgs),
    /// How repeatable a bench is: one kit over several sessions
    Repeat(repeat::RepeatArgs),
    /// Whether the photographs of a session are sharp where they had to be
    Photos(photos::PhotosArgs),
    /// Before filming: how many trials, which frame rate, which distances and swing
    Plan(plan::PlanArgs),
    /// Make a film whose truth is known, from a scene file
    Render(render::RenderArgs),
    /// How far off a rig's timing is: films with known truth, timed
    Prove(prove::ProveArgs),
    /// A target to print: a texture that suits the measures, true to scale
    Card(card::CardArgs),
    /// What bash, zsh, fish, PowerShell or Elvish need to complete this command line
    Completions(completions::CompletionsArgs),
    /// Manual pages
    Man(man::ManArgs),
}

/// Runs the command line of this process and says how it ended.
pub fn run() -> ExitCode {
    fault::listen();
    interrupt::listen();
    let args: Vec<OsString> = std::env::args_os().collect();
    let json = args.iter().any(|a| a == "--json");
    let ended = fault::caught(|| called_with(&args));
    let exit = ended.unwrap_or_else(|message| {
        let talk = Talk { json, quiet: false };
        talk.stop(&[message], Exit::Failed)
    });
    exit.into()
}

fn called_with(args: &[OsString]) -> Exit {
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(e) => return not_parsed(&e, args),
    };
    let talk = Talk {
        json: cli.json,
        quiet: cli.quiet,
    };
    match cli.command {
        Command::Scout(args) => scout::run(&args, talk),
        Command::Check(args) => check::run(&args, talk),
        Command::Time(args) => time::run(&args, talk),
        Command::Compare(args) => compare::run(&args, talk),
        Command::Show(args) => show::run(&args, talk),
        Command::Table(args) => table::run(&args, talk),
        Command::Report(args) => report::run(&args, talk),
        Command::Gate(args) => gate::run(&args, talk),
        Command::Repeat(args) => repeat::run(&args, talk),
        Command::Photos(args) => photos::run(&args, talk),
        Command::Plan(args) => plan::run(&args, talk),
        Command::Render(args) => render::run(&args, talk),
        Command::Prove(args) => prove::run(&args, talk),
        Command::Card(args) => card::run(&args, talk),
        Command::Completions(args) => completions::run(&args, talk),
        Command::Man(args) => man::run(&args, talk),
    }
}

/// Help and version are answers, all else is a wrong request.
fn not_parsed(error: &clap::Error, args: &[OsString]) -> Exit {
    // Said again of words that can be shown: a folder of clips may have been
    // given by `*`.
    let plain = args.iter().map(|a| names::plain(&a.to_string_lossy()));
    let shown = Cli::try_parse_from(plain).err();
    let error = shown.as_ref().unwrap_or(error);
    // A reader that went away is no fault.
    let _ = error.print();
    if !error.use_stderr() {
        return Exit::Done;
    }
    if args.iter().any(|a| a == "--json") {
        let talk = Talk {
            json: true,
            quiet: true,
        };
        let text = error.render().to_string();
        return talk.document(&serde_json::json!({ "errors": [text] }), Exit::Refused);
    }
    Exit::Refused
}
