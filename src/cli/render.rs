//! `focuslag render`: a film whose truth is known.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::interrupt;
use super::progress::Bars;
use super::stdin;
use super::talk::Talk;
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

/// Renders.
pub fn run(args: &RenderArgs, talk: Talk) -> Exit {
    let scene = match read(&args.scene) {
        Ok(scene) => scene,
        Err(e) => return talk.stop(&[e], Exit::Refused),
    };
    if let Some(folder) = missing_folder(&args.out) {
        let message = format!(
            "{}: this folder does not exist; make it first, or name another with --out",
            folder.display()
        );
        return talk.stop(&[message], Exit::Refused);
    }
    let files = [args.out.clone(), truth_path(&args.out)];
    if let Some(there) = files.iter().find(|f| f.exists() && !args.force) {
        let message = format!(
            "{}: is there already; choose another name with --out, or give --force to replace it",
            there.display()
        );
        return talk.stop(&[message], Exit::Refused);
    }
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
    match made {
        Ok(truth) => report(&truth, &args.out, talk),
        Err(e) => {
            let exit = exit_of(&e);
            talk.stop(&[e.to_string()], exit)
        }
    }
}

fn read(path: &Path) -> Result<Scene, String> {
    let name = if stdin::named(path) {
        stdin::NAME.to_owned()
    } else {
        path.display().to_string()
    };
    let text = stdin::text_of(path, "scene file (TOML)")?;
    Scene::from_toml(&text, &name).map_err(|e| e.to_string())
}

/// The folder of `out`, where it is missing.
pub(super) fn missing_folder(out: &Path) -> Option<&Path> {
    out.parent()
        .filter(|f| !f.as_os_str().is_empty() && !f.is_dir())
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
    let truth_file = truth_path(out);
    if talk.json {
        let document = Document {
            clip: out.display().to_string(),
            truth_file: truth_file.display().to_string(),
            truth,
        };
        return talk.document(&document, Exit::Done);
    }
    let text = format!(
        "{}: {} frames at {} frames per second, {} trials\n{}: their truth\n",
        plain(&out.display().to_string()),
        truth.frames,
        truth.capture_fps,
        truth.trials.len(),
        plain(&truth_file.display().to_string())
    );
    talk.result(&text, Exit::Done)
}
