//! `focuslag prove`: how far off a rig's timing is.

use std::path::{Path, PathBuf};

use clap::Args;

use super::exit::{Exit, Stop, failed};
use super::progress::Bars;
use super::talk::Talk;
use crate::beside::goes_too;
use crate::prove::{
    Bed, Budget, Case, Content, ProveError, Row, Score, Trouble, case, measure, play, text,
};
use crate::rig::Rig;

/// A rig in, its error budget out.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  focuslag prove --rig rigs/pendulum-240.toml --quick

Renders clips whose truth is known at the rig's own rates and geometry, with all
that can disturb a clip, times them as `focuslag time` does, and states the errors.
The same seed gives the same figures. Without --quick it takes many minutes.")]
pub struct ProveArgs {
    /// Rig file (TOML)
    #[arg(long, value_name = "RIG.toml")]
    rig: PathBuf,
    /// Two short clips: without any disturbance, and with all of them
    #[arg(long)]
    quick: bool,
    /// Where all chance comes from
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Only disturbances whose name contains this
    #[arg(long, value_name = "TEXT")]
    only: Option<String>,
    /// Live-view pictures per second of the camera [default: one per refresh]
    #[arg(long, value_name = "N", value_parser = rate)]
    live_view: Option<f64>,
    /// Keep the clips in this folder
    #[arg(long, value_name = "FOLDER")]
    keep: Option<PathBuf>,
}

fn rate(text: &str) -> Result<f64, String> {
    let rate = text.parse::<f64>().map_err(|e| e.to_string())?;
    if (1.0..=1000.0).contains(&rate) {
        Ok(rate)
    } else {
        Err("must be within 1 and 1000".to_owned())
    }
}

/// Trials of a clip: full, quick.
const TRIALS: (usize, usize) = (14, 5);

pub fn run(args: &ProveArgs, talk: Talk) -> Exit {
    talk.ended(proved(args, talk))
}

fn proved(args: &ProveArgs, talk: Talk) -> Result<Exit, Stop> {
    let rig = Rig::read(&args.rig)?;
    let mut bed = Bed::of(&rig).map_err(|e| format!("{}: {e}", args.rig.display()))?;
    bed.live_fps = args.live_view;
    let cases = cases(args, &bed);
    if cases.is_empty() {
        let (only, names) = (args.only.as_deref().unwrap_or(""), names(&bed));
        let none = format!("no disturbance that fits this rig contains \"{only}\"");
        return Err(format!("--only: {none}; there are: {names}").into());
    }
    let scratch = tempfile::tempdir().map_err(|e| failed(format!("temporary folder: {e}")))?;
    goes_too(scratch.path());
    let folder = args.keep.as_deref().unwrap_or(scratch.path());
    std::fs::create_dir_all(folder).map_err(|e| failed(format!("{}: {e}", folder.display())))?;
    let budget = budget(&cases, folder, args, talk).map_err(failed)?;
    Ok(talk.shown(&budget, text, Exit::Done))
}

fn names(bed: &Bed) -> String {
    let fitting = Trouble::all().filter(|t| t.fits(bed));
    fitting.map(Trouble::name).collect::<Vec<_>>().join(", ")
}

fn cases(args: &ProveArgs, bed: &Bed) -> Vec<Case> {
    let wanted = |t: &Trouble| {
        t.fits(bed)
            && match &args.only {
                Some(text) => t.name().contains(text.as_str()),
                None => !args.quick || matches!(t, Trouble::None | Trouble::All),
            }
    };
    let trials = if args.quick { TRIALS.1 } else { TRIALS.0 };
    let troubles = Trouble::all().filter(wanted).enumerate();
    troubles
        .map(|(i, t)| case(bed, t, &Content::Drawn, args.seed + i as u64, trials))
        .collect()
}

fn budget(
    cases: &[Case],
    folder: &Path,
    args: &ProveArgs,
    talk: Talk,
) -> Result<Budget, ProveError> {
    let bars = Bars::new(talk);
    let mut all = Score::default();
    let mut rows = Vec::new();
    for case in cases {
        let frames = crate::render::foresee(&case.scene)?.frames as u64;
        let bar = bars.bar(case.trouble.name(), frames);
        let truth = play(case, folder, |done, _| bar.done(done))?;
        drop(bar);
        let score = measure(case, &case.rig, &truth, folder)?;
        rows.push(Row::of(case.trouble.name(), &score));
        all.add(&score);
    }
    Ok(Budget {
        seed: args.seed,
        rows,
        all: Row::of("all", &all),
    })
}
