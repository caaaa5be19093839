//! `focuslag compare`: setups against each other.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::exit::{Exit, Stop, refuse};
use super::files;
use super::looks::{HEADING as LOOKS, LooksArgs};
use super::number::{number, share_complaint};
use super::sets::{left_out, started_alike};
use super::talk::Talk;
use crate::job::{Earlier, judge_again};
use crate::report::{compare_markdown, compare_text};
use crate::rig::PERMILLE;
use crate::stats::compare::{CompareOptions, LookPlan, compare};
use crate::store::schema::Timing;

/// Timing files in, differences out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag compare kit-amber.timing.json kit-slate.timing.json
  focuslag compare before/*.timing.json after/*.timing.json --format markdown > result.md
  focuslag compare kit-amber.timing.json old/kit-slate.timing.json --at-permille 3
  focuslag compare kit-amber.timing.json kit-cobalt.timing.json --looks 5 --planned 120

Near and far are compared apart, and together as strata. Files judged at different
δ (trial.settle_permille) are refused: --at-permille judges them again at one, from
their kept signals, and writes nothing. Where some trials start by a swing and others
by a trigger, the larger set is compared. The same seed gives the same numbers.

Who looks after every clip and stops as soon as a difference shows finds differences
that are not there. --looks says how often you will look, --planned how many judged
trials there will be (focuslag plan --looks gives both), --looked how many there were
at the looks before this one; a p then counts only below what this look allows.")]
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
    #[command(flatten)]
    looks: LooksArgs,
    /// Judged trials of each kit and side that are planned in all
    #[arg(long, value_name = "TRIALS", requires = "looks", help_heading = LOOKS)]
    planned: Option<u64>,
    /// How many of them there were at each earlier look: 24,51
    #[arg(long, value_name = "TRIALS", requires = "looks", value_delimiter = ',',
        help_heading = LOOKS)]
    looked: Vec<u64>,
    /// Judge all files again from kept signals with this δ, ‰ of the screen's height, 0.5 to 50
    #[arg(long, value_name = "N", value_parser = permille)]
    at_permille: Option<f64>,
    /// Folder of those signals [default: `signals` beside each timing file]
    #[arg(long, value_name = "DIR", requires = "at_permille")]
    signals: Option<PathBuf>,
}

fn permille(text: &str) -> Result<f64, String> {
    let (least, most) = (PERMILLE.start(), PERMILLE.end());
    match number(text)? {
        value if PERMILLE.contains(&value) => Ok(value),
        _ => Err(format!(
            "give a number from {least} to {most}, ‰ of the screen's height"
        )),
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For a terminal
    Text,
    /// For a page
    Markdown,
}

/// That films tell no δ as small as was asked for.
fn raised(read: &[(String, Timing)], asked: f64) -> Option<String> {
    let trials = read.iter().flat_map(|(_, t)| t.judged());
    let used = trials.filter_map(|t| t.delta_permille).fold(0.0, f64::max);
    (used > asked).then(|| {
        format!(
            "judged at a δ of {used} ‰, not {asked} ‰: the film of at least one clip tells no \
             smaller blur from none"
        )
    })
}

/// The files judged again at `delta`, from signals in `folder` or beside each.
fn again(
    read: &[(String, Timing)],
    delta: f64,
    folder: Option<&Path>,
    talk: Talk,
) -> Result<Vec<(String, Timing)>, Stop> {
    let beside = |file: &str| Path::new(file).with_file_name("signals");
    let earlier = |(file, timing)| Earlier {
        file,
        timing,
        signals: folder.map_or_else(|| beside(file), Path::to_owned),
    };
    let earlier: Vec<Earlier> = read.iter().map(|(f, t)| earlier((f, t))).collect();
    let (judged, failures) = judge_again(&earlier, delta)?;
    failures.iter().for_each(|f| talk.warn(f));
    let files = read.iter().map(|(file, _)| file.clone());
    Ok(files.zip(judged).collect())
}

impl CompareArgs {
    /// The plan of the looks, where there are several.
    fn look_plan(&self) -> Result<Option<LookPlan>, String> {
        let Some(looks) = self.looks.looks else {
            return Ok(None);
        };
        let planned = self.planned.ok_or(
            "command line: --looks needs --planned: the judged trials of each kit and side that \
             are planned in all, as focuslag plan --looks gives them",
        )?;
        Ok(Some(LookPlan {
            looks,
            planned,
            looked: self.looked.clone(),
            spending: self.looks.spending(),
        }))
    }
}

pub fn run(args: &CompareArgs, talk: Talk) -> Exit {
    talk.ended(compared(args, talk))
}

fn compared(args: &CompareArgs, talk: Talk) -> Result<Exit, Stop> {
    refuse(talk.two_formats(args.format.is_some()))?;
    refuse(share_complaint("confidence", Some(args.confidence)))?;
    let looks = args.look_plan()?;
    let (mut read, apart) = started_alike(files::opened(&args.files, talk)?);
    if !apart.is_empty() {
        talk.warn(&format!(
            "not compared: {}: its trials start another way than those of the other {} files, and a \
             swing and a trigger answer different questions",
            apart.join(", "),
            read.len()
        ));
    }
    if let Some(delta) = args.at_permille {
        read = again(&read, delta, args.signals.as_deref(), talk)?;
        raised(&read, delta).iter().for_each(|said| talk.warn(said));
    }
    let named = files::named(&read);
    let options = CompareOptions {
        confidence: args.confidence,
        seed: args.seed,
        looks,
        ..CompareOptions::default()
    };
    let comparison = compare(&named, &options).map_err(|e| {
        let errors = [e.to_string()].into_iter().chain(left_out(&read));
        errors.collect::<Vec<_>>()
    })?;
    let text = match args.format {
        Some(Format::Markdown) => compare_markdown,
        _ => compare_text,
    };
    Ok(talk.shown(&comparison, text, Exit::Done))
}
