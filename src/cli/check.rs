//! `focuslag check`: what `time` would do, without doing it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::{Exit, Stop};
use super::progress::Bars;
use super::talk::Talk;
use super::{files, interrupt, not_found, stdin};
use crate::job::{self, Checked, JobOptions};
use crate::report::check_text;
use crate::rig::{Session, identity};

/// Tests session, rigs and clips, and says what would be done.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag check session.toml
  focuslag check --rig rigs/counter.toml amber-1.mp4 amber-2.mp4
  focuslag check session.toml --look 0       # headers and time stamps alone
  focuslag check session.toml --list-clips   # one name a line; no clip is opened

Reads headers and time stamps, then times the beginning of every clip, or all of it
where its signals are kept: which trials it would find, which would be void and why,
whether the screen lies where the rig has it. That takes a few seconds a clip, and no
time where signals are kept. Nothing is written but a picture of each clip in which the
screen or what starts a trial was not found (SETUP.CLIP.not-found.png). All faults are
told at once. Exit codes: 0 `time` would do it, 1 some clips cannot be timed, 2 the
request is wrong.")]
pub struct CheckArgs {
    /// A session file (TOML); with --rig the clips of one setup
    #[arg(required = true, value_name = "SESSION.toml | CLIP")]
    files: Vec<PathBuf>,
    /// Rig file, instead of a session file
    #[arg(long, value_name = "RIG.toml")]
    rig: Option<PathBuf>,
    /// Name of the setup the clips belong to
    #[arg(long, value_name = "NAME", requires = "rig", default_value = "setup")]
    setup: String,
    /// Folder the timing files would go to [default: beside the session file, else the working
    /// folder]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// As for `time`: timing files of other clips or settings would be replaced
    #[arg(long)]
    force: bool,
    /// How much of each clip's beginning is looked at, seconds as shot; 0: headers alone
    #[arg(long, value_name = "SECONDS", default_value_t = 6.0, value_parser = super::number::not_negative)]
    look: f64,
    /// Folder of kept signals [default: `signals` beside the timing files]
    #[arg(long, value_name = "DIR")]
    signals: Option<PathBuf>,
    /// Only list the session's clips and those focused by hand, one a line; none is opened
    #[arg(long)]
    list_clips: bool,
}

pub fn run(args: &CheckArgs, talk: Talk) -> Exit {
    talk.ended(checked(args, talk))
}

fn checked(args: &CheckArgs, talk: Talk) -> Result<Exit, Stop> {
    let (session, beside) = read(args)?;
    if args.list_clips {
        return Ok(list(&session, talk));
    }
    let out = args.out.clone().unwrap_or(beside);
    let signals = args.signals.clone().unwrap_or_else(|| out.join("signals"));
    let options = JobOptions {
        out,
        force: args.force,
        workers: super::time::usual_workers(),
        stdin: None,
        keeping: job::Keeping {
            folder: Some(signals),
            read_only: true,
            ..job::Keeping::default()
        },
    };
    interrupt::orderly();
    let bars = Bars::new(talk);
    let look = (args.look > 0.0).then_some(args.look);
    let checked = job::check(&session, look, &options, &bars);
    drop(bars);
    let exit = exit(&checked);
    let done = talk.shown(&checked, check_text, exit);
    for warning in &checked.warnings {
        talk.warn(warning);
    }
    for text in checked.errors.iter().chain(&checked.failures) {
        talk.error(text);
    }
    for one in &checked.not_found {
        let file = job::not_found_file(&one.setup, &one.clip, &options.out);
        not_found::draw(&one.clip, &one.not_found, &file, talk);
    }
    Ok(done)
}

/// The files that a session names, for whoever hands its clips out one by one.
#[derive(Default, Serialize)]
struct Listed {
    /// Clips to be timed and clips focused by hand, each once.
    clips: Vec<String>,
    /// Rig files, each once.
    rigs: Vec<String>,
    /// Names of the timing files.
    timings: Vec<String>,
}

fn list(session: &Session, talk: Talk) -> Exit {
    let mut listed = Listed::default();
    let mut known = BTreeSet::new();
    for setup in &session.setups {
        let clips = job::setup_clips(setup);
        let new = clips.iter().filter(|c| known.insert(identity(c)));
        listed.clips.extend(new.map(|c| c.display().to_string()));
        let rig = setup.rig_file.display().to_string();
        if !listed.rigs.contains(&rig) {
            listed.rigs.push(rig);
        }
        let file = job::file_of(&setup.name, Path::new(""));
        listed.timings.push(file.display().to_string());
    }
    let lines = |l: &Listed| l.clips.iter().map(|c| format!("{c}\n")).collect();
    talk.shown(&listed, lines, Exit::Done)
}

fn exit(checked: &Checked) -> Exit {
    if !checked.errors.is_empty() {
        return Exit::Refused;
    }
    Exit::unless(!checked.failures.is_empty() || checked.stopped)
}

/// The session, and the folder that its timing files would go to.
fn read(args: &CheckArgs) -> Result<(Session, PathBuf), Stop> {
    if let Some(rig) = &args.rig {
        if args.files.iter().any(|f| stdin::named(f)) {
            let piped = "`-` cannot be checked without reading it to its end; name a file";
            return Err(format!("command line: CLIP: {piped}").into());
        }
        let session = Session::from_flags(rig, &args.setup, &[], &args.files)?;
        return Ok((session, PathBuf::from(".")));
    }
    let advice = [
        "to check clips without a session file give --rig RIG.toml before them",
        "to check a clip give --rig RIG.toml before it",
    ];
    files::session(&args.files, &[], advice)
}
