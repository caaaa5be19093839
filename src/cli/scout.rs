//! `focuslag scout`: from a clip to a draft of its rig.

use std::path::{Path, PathBuf};

use clap::Args;
use image::RgbImage;
use serde::Serialize;
use serde_json::{Value, json};

use super::exit::{Exit, Stop, failed, refuse};
use super::progress::Bars;
use super::talk::Talk;
use super::target::there_already;
use super::{not_found, stdin};
use crate::beside::{folder_of, write_whole};
use crate::job::NotFound;
use crate::report::scout_text;
use crate::scout::{Draft, Finding, Kind, Part, Request, ScoutError, scout};

/// Looks at a clip, finds screen, rates and stimulus, and drafts a rig file.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag scout amber-1.mp4 -o rigs/counter.toml
  focuslag scout slow.mp4 -o rigs/counter.toml --fps 240
  focuslag scout clips/ -o rigs/counter.toml --session session.toml

Writes the rig file and, beside it, a picture with everything drawn in (RIG.png).
With --session, clips are grouped into setups by their names: amber-1.mp4 and
amber-2.mp4 are one. Then: focuslag time session.toml.
Look at the picture once: it takes a glance to see whether the outline runs along
the screen's edge. What is not plain is refused with a reason, never guessed.
Exit code 1: no rig could be drafted from this clip.")]
pub struct ScoutArgs {
    /// A clip in which the target swings (or the trigger light goes on) a few times; `-`: from
    /// standard input. With --session several clips, or folders of clips
    #[arg(value_name = "CLIP", required = true)]
    pub(super) clips: Vec<PathBuf>,
    /// The rig file to write
    #[arg(short, long = "out", value_name = "RIG.toml")]
    pub(super) out: PathBuf,
    /// Write a session file too: a setup for clips of one name
    #[arg(long, value_name = "SESSION.toml")]
    pub(super) session: Option<PathBuf>,
    /// What to call the rig [default: the clip's name]
    #[arg(long, value_name = "NAME")]
    pub(super) name: Option<String>,
    /// True rate of the filming camera, where the clip does not tell it
    #[arg(long, value_name = "FPS", value_parser = super::number::above_zero)]
    pub(super) fps: Option<f64>,
    /// The clip is a recording of the viewfinder or HDMI feed itself
    #[arg(long)]
    pub(super) feed: bool,
    /// Replace a rig file or picture that is already there
    #[arg(long)]
    pub(super) force: bool,
}

#[derive(Serialize)]
pub(super) struct Document<'a> {
    rig: String,
    picture: String,
    clip: &'a str,
    name: &'a str,
    frame_size: (usize, usize),
    capture_fps: Option<f64>,
    suggested_fps: Option<f64>,
    segments: Vec<Value>,
    corners: Option<[[f64; 2]; 4]>,
    corner_u_px: Option<f64>,
    sway_px: Option<f64>,
    refresh_hz: Option<f64>,
    stimulus: &'static str,
    region: Option<[f64; 4]>,
    screen_later_ms: Option<f64>,
    masks: &'a [[f64; 4]],
    window_ms: f64,
    longest_window_ms: Option<f64>,
    trials: usize,
    findings: Vec<Finding>,
    warnings: &'a [String],
}

/// What to do with a draft that is ready.
const NEXT: &str = "look at the picture, then name this rig in your session file";

pub fn run(args: &ScoutArgs, talk: Talk) -> Exit {
    talk.ended(match &args.session {
        Some(session) => super::scout_session::scouted(args, session, talk),
        None => scouted(args, talk),
    })
}

fn scouted(args: &ScoutArgs, talk: Talk) -> Result<Exit, Stop> {
    let picture = args.out.with_extension("png");
    let clip = args.clips.first().cloned().unwrap_or_default();
    let mut faults = faults(args, &args.out, &picture);
    if args.clips.len() > 1 || clip.is_dir() {
        let one = "name one, or add `--session SESSION.toml` to have them grouped into setups";
        faults.push(format!("command line: several clips: {one}"));
    }
    refuse(faults)?;
    let spooled = stdin::named(&clip).then(stdin::spooled).transpose()?;
    let given = clip;
    let clip = spooled.as_ref().map_or(given.as_path(), |f| f.path());
    let mut request = request(args);
    if spooled.is_some() {
        request.name.get_or_insert_with(|| "rig".to_owned());
    }
    let name = given.file_name().unwrap_or(given.as_os_str());
    let drafted = look(clip, &name.to_string_lossy(), &request, talk);
    let (mut draft, image) = match drafted {
        Ok(d) => d,
        Err(e) => {
            let mut said = e.to_string();
            if let Some(f) = &spooled {
                said = said.replace(&f.path().display().to_string(), stdin::NAME);
            }
            let exit = talk.stop(&[said], Exit::Failed);
            draw_not_found(&given, e.not_found(), &args.out, talk);
            return Ok(exit);
        }
    };
    if spooled.is_some() {
        stdin::NAME.clone_into(&mut draft.clip);
    }
    save(&draft, &image, &args.out, &picture).map_err(failed)?;
    let document = document(&draft, &args.out, &picture);
    let exit = talk.shown(&document, |_| scout_text(&draft, NEXT), Exit::Done);
    for warning in &draft.warnings {
        talk.warn(warning);
    }
    talk.note(&format!("written: {}, {}", document.rig, document.picture));
    draw_not_found(&given, draft.not_found.as_ref(), &args.out, talk);
    Ok(exit)
}

/// The picture of what was not found in a clip, beside its rig file.
pub(super) fn draw_not_found(clip: &Path, not_found: Option<&NotFound>, rig: &Path, talk: Talk) {
    if let Some(not_found) = not_found {
        not_found::draw(clip, not_found, &rig.with_extension("not-found.png"), talk);
    }
}

/// What a person said of the clips.
pub(super) fn request(args: &ScoutArgs) -> Request {
    Request {
        name: args.name.clone(),
        fps: args.fps,
        feed: args.feed,
        workers: std::thread::available_parallelism().map_or(1, usize::from),
    }
}

/// Drafts from one clip, with a bar.
pub(super) fn look(
    clip: &Path,
    name: &str,
    request: &Request,
    talk: Talk,
) -> Result<(Draft, RgbImage), ScoutError> {
    let bar = Bars::new(talk).bar(name, 0);
    scout(clip, request, &|done, all| bar.part(done, all))
}

/// What is wrong with the request, all of it.
pub(super) fn faults(args: &ScoutArgs, rig: &Path, picture: &Path) -> Vec<String> {
    let mut out = Vec::new();
    if rig.extension().is_none_or(|e| e != "toml") {
        out.push(format!(
            "command line: --out: {}: a rig file ends in .toml; name it so",
            rig.display()
        ));
    }
    out.extend(no_folder(rig));
    let there = |file| there_already(file, "--out", args.force);
    out.extend([rig, picture].into_iter().filter_map(there));
    for clip in &args.clips {
        if !stdin::named(clip) && !clip.exists() {
            out.push(format!("{}: is not there; check the path", clip.display()));
        }
    }
    out
}

pub(super) fn no_folder(file: &Path) -> Option<String> {
    let name = file.display();
    let missing = !folder_of(file).is_dir();
    missing.then(|| format!("{name}: its folder does not exist; make it first"))
}

/// Writes both files whole or not at all: each is made beside its place first.
pub(super) fn save(
    draft: &Draft,
    image: &RgbImage,
    out: &Path,
    picture: &Path,
) -> Result<(), String> {
    let failed = |file: &Path, e: &dyn std::fmt::Display| {
        let (name, advice) = (file.display(), "choose another folder with --out");
        format!("{name}: cannot be written: {e}; free some space, or {advice}")
    };
    let mut png = std::io::Cursor::new(Vec::new());
    let drawn = image.write_to(&mut png, image::ImageFormat::Png);
    drawn.map_err(|e| failed(picture, &e))?;
    write_whole(picture, &png.into_inner()).map_err(|e| failed(picture, &e))?;
    write_whole(out, draft.toml().as_bytes()).map_err(|e| failed(out, &e))
}

pub(super) fn document<'a>(draft: &'a Draft, out: &Path, picture: &Path) -> Document<'a> {
    let (stimulus, region, later) = match draft.kind {
        Kind::Light(p) => ("light", Some(p.rect), None),
        Kind::Swing(None) => ("swing", None, None),
        Kind::Swing(Some(d)) => ("swing", Some(d.place.rect), Some(1e3 * d.lead_s)),
    };
    let segment = |p: &Part| json!({ "from_s": p.from_s, "fps": p.fps });
    Document {
        rig: out.display().to_string(),
        picture: picture.display().to_string(),
        clip: &draft.clip,
        name: &draft.name,
        frame_size: draft.size,
        capture_fps: draft.rate.map(|r| r.0),
        suggested_fps: draft.suggested_fps(),
        segments: draft.parts.iter().map(segment).collect(),
        corners: draft.found.map(|f| f.rounded()),
        corner_u_px: draft.found.map(|f| f.corner_u_px),
        sway_px: draft.found.map(|f| f.sway_px),
        refresh_hz: draft.refresh_hz,
        stimulus,
        region,
        screen_later_ms: later,
        masks: &draft.graphics.masks,
        window_ms: draft.window_ms(),
        longest_window_ms: draft.longest_ms,
        trials: draft.trials,
        findings: draft.findings(),
        warnings: &draft.warnings,
    }
}
