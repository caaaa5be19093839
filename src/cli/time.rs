//! `focuslag time`: the main job.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::{Exit, Stop, refused};
use super::progress::Bars;
use super::sets::compared;
use super::talk::Talk;
use super::{files, interrupt, not_found, stdin, time_signals};
use crate::beside::folder_of;
use crate::job::{self, Done, JobError, JobOptions, Keeping, Kept};
use crate::report::time_report;
use crate::rig::{Rig, Session};
use crate::stats::compare::Comparison;
use crate::store::schema::Timing;

/// Clips in, one timing file per setup out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag time session.toml
  focuslag time --rig rigs/counter.toml --setup kit-amber --tag firmware=2.0 amber-1.mp4 amber-2.mp4
  focuslag time --rig rigs/counter.toml --setup kit-amber - < amber-1.mp4
  focuslag time session.toml --from-signals --force     # judge again, clips not needed
  focuslag time session.toml --signals-only --only amber-1.mp4   # one clip's share, on any machine

Writes NAME.timing.json per setup. A file that came from other clips or other
settings is replaced only with --force; running again gives the same bytes.
What the decoding yields is kept in the folder `signals` beside the timing files;
with other [trial] settings, or after an interruption (Ctrl-C), the same command
goes on from it.
One bad clip does not stop the others: it is listed, and the exit code is 1.")]
pub struct TimeArgs {
    /// A session file (TOML); with --rig the clips of one setup, `-` for one from standard input
    #[arg(required = true, value_name = "SESSION.toml | CLIP")]
    files: Vec<PathBuf>,
    /// Rig file of a single setup, instead of a session file
    #[arg(long, value_name = "RIG.toml", requires = "setup")]
    rig: Option<PathBuf>,
    /// Name of that setup
    #[arg(long, value_name = "NAME", requires = "rig")]
    setup: Option<String>,
    /// Describe that setup, as often as you like
    #[arg(long = "tag", value_name = "KEY=VALUE", requires = "rig")]
    tags: Vec<String>,
    /// Folder for the timing files [default: beside the session file, else the working folder]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace timing files that came from other clips or settings
    #[arg(long)]
    force: bool,
    /// Threads that decode and measure; the result never depends on it. A 1080p film takes about 100 MiB with one and 380 MiB with 16; many films 180 and 560 MiB [default: all cores]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    workers: Option<u16>,
    #[command(flatten)]
    signals: SignalsArgs,
}

/// What is kept of the decoding.
#[derive(Debug, Args)]
#[command(next_help_heading = "Kept signals")]
struct SignalsArgs {
    /// Folder of what the clips' decoding yielded, kept to judge again without it [default: `signals` beside the timing files]
    #[arg(long, value_name = "DIR")]
    signals: Option<PathBuf>,
    /// Keep no signals and use none
    #[arg(long, conflicts_with_all = ["signals", "decode_again", "from_signals"])]
    no_signals: bool,
    /// Decode every clip, though its signals are kept
    #[arg(long, conflicts_with = "from_signals")]
    decode_again: bool,
    /// Judge from kept signals alone; the clips need not be there
    #[arg(long)]
    from_signals: bool,
    /// Decode and keep the signals, judge nothing and write no timing file; what is kept already is left alone
    #[arg(long, conflicts_with_all = ["no_signals", "from_signals", "force"])]
    signals_only: bool,
    /// With --signals-only: this clip of the session and no other, as often as you like
    #[arg(long, value_name = "CLIP")]
    #[arg(requires = "signals_only", conflicts_with = "rig")]
    only: Vec<PathBuf>,
}

impl SignalsArgs {
    /// As the job wants it, for timing files in `out`.
    fn keeping(&self, out: &Path) -> Keeping {
        let folder = self.signals.clone().unwrap_or_else(|| out.join("signals"));
        Keeping {
            folder: (!self.no_signals).then_some(folder),
            again: self.decode_again,
            only: self.from_signals,
            with_stills: self.signals_only,
            read_only: false,
        }
    }
}

/// Everything about a run, for `--json`.
#[derive(Serialize)]
struct Document<'a> {
    timings: Vec<Written<'a>>,
    comparisons: &'a [Comparison],
    failures: &'a [String],
    warnings: &'a [String],
    unfinished: bool,
}

#[derive(Serialize)]
struct Written<'a> {
    file: String,
    timing: &'a Timing,
}

impl Document<'_> {
    fn text(&self) -> String {
        let timings: Vec<&Timing> = self.timings.iter().map(|w| w.timing).collect();
        time_report(&timings, self.comparisons)
    }
}

/// A request that was read, and the clip that came through standard input.
struct Request {
    session: Session,
    beside: PathBuf,
    spooled: Option<tempfile::NamedTempFile>,
}

pub fn run(args: &TimeArgs, talk: Talk) -> Exit {
    talk.ended(timed(args, talk))
}

fn timed(args: &TimeArgs, talk: Talk) -> Result<Exit, Stop> {
    let known = known_clips(args)?;
    interrupt::orderly();
    let request = read(args, &known)?;
    let bars = Bars::new(talk);
    for warning in &request.session.warnings {
        job::Events::warning(&bars, warning);
    }
    let out = args.out.clone().unwrap_or(request.beside);
    let options = JobOptions {
        keeping: args.signals.keeping(&out),
        out,
        force: args.force,
        workers: args.workers.map_or_else(usual_workers, usize::from),
        stdin: request.spooled.as_ref().map(|f| f.path().to_path_buf()),
    };
    if args.signals.signals_only {
        let only = &args.signals.only;
        return time_signals::run(&request.session, only, &options, &bars, talk);
    }
    let done = job::run(&request.session, &options, &bars);
    let done = done.map_err(|errors| not_begun(&errors, &options))?;
    let exit = finish(&done, &options, bars.warnings(), talk);
    if !done.stopped {
        not_found::draw_all(&request.session, &done.not_found, &options.out, talk);
    }
    Ok(exit)
}

/// Why the job did not begin.
pub(super) fn not_begun(errors: &[JobError], options: &JobOptions) -> Stop {
    let shown = |e: &JobError| options.shown(&e.to_string());
    errors.iter().map(shown).collect::<Vec<_>>().into()
}

/// The clips that count as there: those whose signals are kept, where judging
/// is from signals alone.
fn known_clips(args: &TimeArgs) -> Result<Vec<PathBuf>, String> {
    if !args.signals.from_signals {
        return Ok(Vec::new());
    }
    if args.files.iter().any(|f| stdin::named(f)) && args.rig.is_some() {
        let nameless =
            "a clip from standard input has no name to find its signals by; leave it out";
        return Err(format!("command line: --from-signals: {nameless}"));
    }
    let file = args.files.first().filter(|_| args.rig.is_none());
    let out = args.out.as_deref();
    let out = out.unwrap_or_else(|| file.map_or(Path::new("."), |f| folder_of(f)));
    let keeping = args.signals.keeping(out);
    if let Some(folder) = keeping.folder.as_ref().filter(|f| !f.is_dir()) {
        let advice = "run once without --from-signals, or name their folder with --signals";
        let folder = folder.display();
        return Err(format!("{folder}: no signals are kept here; {advice}"));
    }
    Ok(Kept::look(&keeping).clips())
}

/// One for each core.
pub(super) fn usual_workers() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

fn read(args: &TimeArgs, known: &[PathBuf]) -> Result<Request, Stop> {
    let Some(rig) = &args.rig else {
        let advice = [
            "to time clips without a session file give --rig RIG.toml --setup NAME before them",
            "to time a clip without a session file give --rig RIG.toml --setup NAME before it",
        ];
        let (session, beside) = files::session(&args.files, known, advice)?;
        return Ok(Request {
            session,
            beside,
            spooled: None,
        });
    };
    let piped = args.files.iter().filter(|f| stdin::named(f)).count();
    if piped > 1 {
        let twice = "command line: CLIP: `-` is named twice; standard input holds one clip";
        return Err(refused(twice));
    }
    let mut clips = args.files.clone();
    let mut spooled = None;
    if piped == 1 {
        // What is wrong with the rig is said before a long copy.
        Rig::read(rig)?;
        let file = stdin::spooled()?;
        for clip in clips.iter_mut().filter(|f| stdin::named(f)) {
            *clip = file.path().to_path_buf();
        }
        spooled = Some(file);
    }
    let name = args.setup.as_deref().unwrap_or_default();
    Ok(Request {
        session: Session::from_flags_knowing(rig, name, &args.tags, &clips, known)?,
        beside: PathBuf::from("."),
        spooled,
    })
}

fn finish(done: &Done, options: &JobOptions, mut warnings: Vec<String>, talk: Talk) -> Exit {
    let mut warn = |text: String| {
        talk.warn(&text);
        warnings.push(text);
    };
    let comparisons = compared(&done.written, &mut warn);
    let exit = Exit::unless(!done.failures.is_empty() || done.stopped);
    let timings = done.written.iter().map(|(file, timing)| Written {
        file: file.display().to_string(),
        timing,
    });
    let document = Document {
        timings: timings.collect(),
        comparisons: &comparisons,
        failures: &done.failures,
        warnings: &warnings,
        unfinished: done.unfinished,
    };
    let exit = talk.shown(&document, Document::text, exit);
    if done.reused > 0 {
        talk.note(&format!(
            "{} of {} clips were not decoded: their signals were kept",
            done.reused,
            done.reused + done.decoded
        ));
    }
    for (file, _) in &done.written {
        talk.note(&format!("written: {}", file.display()));
    }
    for failure in &done.failures {
        talk.error(failure);
    }
    if done.stopped {
        talk.error(&stopped(done, options.keeping.folder.is_some()));
    }
    exit
}

fn stopped(done: &Done, kept: bool) -> String {
    let clips = if kept {
        let n = done.reused + done.decoded;
        format!("; clips whose signals are kept, and that need not be decoded again: {n}")
    } else {
        "; without kept signals every clip is decoded again".to_owned()
    };
    format!(
        "stopped{clips}; timing files written: {}. Run the same command again to go on",
        done.written.len()
    )
}
