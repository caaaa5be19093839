//! `focuslag render`: a film whose truth is known.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::{Exit, Stop, refuse};
use super::progress::Bars;
use super::talk::Talk;
use super::target::{missing_folder, there_already};
use super::{files, interrupt, stdin};
use crate::names::plain;
use crate::render::{RenderError, Scene, Truth, render_until, truth_path};

/// A scene in, a clip and its truth out.
#[derive(Debug, Args)]
#[command(after_help = "\
Example:
  focuslag render rigs/scenes/rest-240-60.toml -o known.mp4

The truth (when focus settled in every trial, to the screen update) is written
beside the clip, to known.mp4.truth.json. The same scene gives the same film.")]
pub struct RenderArgs {
    /// Scene file (TOML); `-` reads it from standard input
    #[arg(value_name = "SCENE.toml")]
    scene: PathBuf,
    /// The clip to write: .mp4, .mov or .mkv
    #[arg(short, long, value_name = "CLIP")]
    out: PathBuf,
    /// Replace a clip that is there already, and its truth
    #[arg(long)]
    force: bool,
}

#[derive(Serialize)]
struct Document<'a> {
    clip: String,
    truth_file: String,
    truth: &'a Truth,
}

pub fn run(args: &RenderArgs, talk: Talk) -> Exit {
    talk.ended(rendered(args, talk))
}

fn rendered(args: &RenderArgs, talk: Talk) -> Result<Exit, Stop> {
    let scene = read(&args.scene)?;
    refuse(missing_folder(&args.out))?;
    let files = [args.out.clone(), truth_path(&args.out)];
    refuse(
        files
            .iter()
            .find_map(|f| there_already(f, "--out", args.force)),
    )?;
    interrupt::orderly();
    let bars = Bars::new(talk);
    let name = args.out.file_name().unwrap_or_default().to_string_lossy();
    let mut bar = None;
    let folder = args.scene.parent().unwrap_or(Path::new(""));
    let made = render_until(&scene, folder, &args.out, |done, total| {
        let bar = bar.get_or_insert_with(|| bars.bar(&name, total));
        bar.done(done);
        interrupt::asked()
    });
    drop(bar);
    let truth = made.map_err(|e| Stop(exit_of(&e), vec![e.to_string()]))?;
    Ok(report(&truth, &args.out, talk))
}

fn read(path: &Path) -> Result<Scene, String> {
    let text = stdin::text_of(path, "scene file (TOML)")?;
    Scene::from_toml(&text, &files::name(path)).map_err(|e| e.to_string())
}

/// What was asked for is wrong, or the work failed.
fn exit_of(error: &RenderError) -> Exit {
    use crate::clip::EncodeError as E;
    match error {
        RenderError::Scene(_)
        | RenderError::Image { .. }
        | RenderError::Encode(E::Container { .. } | E::Unfit { .. }) => Exit::Refused,
        _ => Exit::Failed,
    }
}

fn report(truth: &Truth, out: &Path, talk: Talk) -> Exit {
    let document = Document {
        clip: out.display().to_string(),
        truth_file: truth_path(out).display().to_string(),
        truth,
    };
    let text = |d: &Document| {
        format!(
            "{}: {} frames at {} frames per second, {} trials\n{}: their truth\n",
            plain(&d.clip),
            truth.frames,
            truth.capture_fps,
            truth.trials.len(),
            plain(&d.truth_file)
        )
    };
    talk.shown(&document, text, Exit::Done)
}
