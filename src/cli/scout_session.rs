//! `focuslag scout --session`: from a folder of clips to a session file.

use std::path::{Path, PathBuf};

use image::RgbImage;
use serde::Serialize;

use super::exit::{Exit, Stop, failed, refuse};
use super::scout::{
    Document, ScoutArgs, document, draw_not_found, faults, look, no_folder, request, save,
};
use super::stdin;
use super::talk::Talk;
use super::target::there_already;
use crate::names::plain;
use crate::report::{counted, scout_text};
use crate::scout::session::{Entry, Group, groups, session_toml};
use crate::scout::{Draft, Kind};

/// Names of clips that a folder is searched for.
const CLIPS: [&str; 7] = ["mp4", "mov", "m4v", "mkv", "avi", "webm", "mts"];

/// A rig that was drafted: its draft, picture and file.
struct Rig {
    draft: Draft,
    picture: RgbImage,
    file: PathBuf,
}

#[derive(Serialize)]
struct Setup {
    name: String,
    clips: Vec<String>,
    rig: Option<String>,
    left_out: Option<String>,
}

#[derive(Serialize)]
struct Documents<'a> {
    session: String,
    setups: Vec<Setup>,
    rigs: Vec<Document<'a>>,
}

/// Drafts a rig from the first clip of every setup, and a session of them all.
pub fn scouted(args: &ScoutArgs, session: &Path, talk: Talk) -> Result<Exit, Stop> {
    let (clips, mut wrong) = gathered(args);
    let picture = args.out.with_extension("png");
    wrong.extend(faults(args, &args.out, &picture));
    wrong.extend(session_faults(args, session));
    refuse(wrong)?;
    let mut rigs: Vec<Rig> = Vec::new();
    let mut entries = Vec::new();
    for group in groups(&clips) {
        let rig = one(args, &group, &mut rigs, talk)?;
        entries.push(Entry {
            group,
            left_out: rig.as_ref().err().cloned(),
            rig: rig.ok().filter(|file| *file != args.out),
        });
    }
    if rigs.is_empty() {
        let reasons = entries.iter().map(|e| {
            let why = e.left_out.as_deref().unwrap_or_default();
            format!("{}: {why}", e.group.name)
        });
        return Err(Stop(Exit::Failed, reasons.collect()));
    }
    let text = session_toml(session, &args.out, &entries);
    written(&rigs, session, &text).map_err(failed)?;
    Ok(told(args, session, &rigs, &entries, talk))
}

/// The rig of a group: one that was drafted before and fits, or its own; else
/// why it is no setup.
fn one(
    args: &ScoutArgs,
    group: &Group,
    rigs: &mut Vec<Rig>,
    talk: Talk,
) -> Result<Result<PathBuf, String>, Stop> {
    let clip = &group.clips[0];
    let name = clip.file_name().unwrap_or(clip.as_os_str());
    let mut request = request(args);
    let own = beside(&args.out, &group.name);
    let file = if rigs.is_empty() { &args.out } else { &own }.clone();
    if request.name.is_none() || !rigs.is_empty() {
        let stem = file.file_stem().unwrap_or_default();
        request.name = Some(stem.to_string_lossy().into_owned());
    }
    let (draft, picture) = match look(clip, &name.to_string_lossy(), &request, talk) {
        Ok(looked) => looked,
        Err(e) => {
            draw_not_found(clip, e.not_found(), &own, talk);
            return Ok(Err(e.to_string()));
        }
    };
    if draft.trials < 2 {
        draw_not_found(clip, draft.not_found.as_ref(), &own, talk);
        let why = "nothing in it starts a trial (a swing or a trigger light)";
        return Ok(Err(why.to_owned()));
    }
    if let Some(same) = rigs.iter().find(|r| alike(&r.draft, &draft)) {
        return Ok(Ok(same.file.clone()));
    }
    let there = |f: &PathBuf| there_already(f, "--out", args.force);
    refuse(
        [file.clone(), file.with_extension("png")]
            .iter()
            .find_map(there),
    )?;
    rigs.push(Rig {
        draft,
        picture,
        file: file.clone(),
    });
    Ok(Ok(file))
}

/// Whether two drafts are of one rig.
fn alike(a: &Draft, b: &Draft) -> bool {
    let screens = match (&a.found, &b.found) {
        (Some(x), Some(y)) => x.is_like(y),
        (None, None) => true,
        _ => false,
    };
    let near = |x: [f64; 4], y: [f64; 4]| x.iter().zip(y).all(|(x, y)| (x - y).abs() <= 4.0);
    let stimuli = match (a.kind, b.kind) {
        (Kind::Light(x), Kind::Light(y)) => near(x.rect, y.rect),
        (Kind::Swing(None), Kind::Swing(None)) => true,
        (Kind::Swing(Some(x)), Kind::Swing(Some(y))) => near(x.place.rect, y.place.rect),
        _ => false,
    };
    // Parts hold for one clip alone.
    let whole = a.parts.is_empty() && b.parts.is_empty();
    screens && stimuli && whole && a.size == b.size && a.rate.map(|r| r.0) == b.rate.map(|r| r.0)
}

/// `RIG-NAME.toml` beside `RIG.toml`.
fn beside(rig: &Path, name: &str) -> PathBuf {
    let plain: String = name
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    let stem = rig.file_stem().unwrap_or_default().to_string_lossy();
    rig.with_file_name(format!("{stem}-{plain}.toml"))
}

/// The clips of the request, folders opened, and what is wrong with them.
fn gathered(args: &ScoutArgs) -> (Vec<PathBuf>, Vec<String>) {
    let (mut clips, mut wrong) = (Vec::new(), Vec::new());
    for given in &args.clips {
        if stdin::named(given) {
            let advice = "save the clip, or leave --session out";
            wrong.push(format!(
                "command line: `-` has no name to group it by; {advice}"
            ));
        } else if given.is_dir() {
            let before = clips.len();
            let files = std::fs::read_dir(given).into_iter().flatten().flatten();
            clips.extend(files.map(|f| f.path()).filter(|p| is_clip(p)));
            if clips.len() == before {
                let (folder, kinds) = (given.display(), CLIPS.join(", "));
                wrong.push(format!(
                    "{folder}: no clip in this folder (looked for {kinds})"
                ));
            }
        } else {
            clips.push(given.clone());
        }
    }
    (clips, wrong)
}

fn is_clip(path: &Path) -> bool {
    let extension = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    let hidden = path
        .file_name()
        .is_some_and(|n| n.to_string_lossy().starts_with('.'));
    !hidden && path.is_file() && extension.is_some_and(|e| CLIPS.contains(&e.as_str()))
}

fn session_faults(args: &ScoutArgs, session: &Path) -> Vec<String> {
    let mut out = Vec::new();
    if session.extension().is_none_or(|e| e != "toml") || session == args.out {
        out.push(format!(
            "command line: --session: {}: a session file ends in .toml and is not the rig file; \
             name it so",
            session.display()
        ));
    }
    out.extend(no_folder(session));
    out.extend(there_already(session, "--session", args.force));
    out
}

fn written(rigs: &[Rig], session: &Path, text: &str) -> Result<(), String> {
    for rig in rigs {
        let png = rig.file.with_extension("png");
        save(&rig.draft, &rig.picture, &rig.file, &png)?;
    }
    crate::store::write_file(session, text.as_bytes()).map_err(|e| e.to_string())
}

/// A path in a text of several lines.
fn shown(path: &Path) -> String {
    plain(&path.display().to_string())
}

fn told(args: &ScoutArgs, session: &Path, rigs: &[Rig], entries: &[Entry], talk: Talk) -> Exit {
    let of = |e: &Entry| e.rig.clone().unwrap_or_else(|| args.out.clone());
    let name = |path: &Path| path.display().to_string();
    let setup = |e: &Entry| Setup {
        name: e.group.name.clone(),
        clips: e.group.clips.iter().map(|c| name(c)).collect(),
        rig: e.left_out.is_none().then(|| name(&of(e))),
        left_out: e.left_out.clone(),
    };
    let pictures: Vec<PathBuf> = rigs.iter().map(|r| r.file.with_extension("png")).collect();
    let drawn = rigs.iter().zip(&pictures);
    let documents = Documents {
        session: name(session),
        setups: entries.iter().map(setup).collect(),
        rigs: drawn
            .map(|(r, png)| document(&r.draft, &r.file, png))
            .collect(),
    };
    let text = |_: &Documents| {
        let drafts = rigs.iter().map(|r| {
            let text = scout_text(&r.draft, "look at the picture");
            format!("{}, from {text}\n", shown(&r.file))
        });
        let mut text = drafts.collect::<Vec<_>>().join("\n");
        text.push_str("\nSetups, by the clips' names:\n");
        for e in entries {
            let told = match &e.left_out {
                Some(why) => format!("left out: {}", plain(why)),
                None => {
                    let clips = counted(e.group.clips.len() as u64, "clip");
                    format!("{clips}, rig {}", shown(&of(e)))
                }
            };
            text.push_str(&format!("  {}: {told}\n", plain(&e.group.name)));
        }
        let session = shown(session);
        let next = format!("look at the picture, check the names in {session}, then");
        text + &format!("\nNext: {next}\n  focuslag time {session}\n")
    };
    let exit = talk.shown(&documents, text, Exit::Done);
    for warning in rigs.iter().flat_map(|r| &r.draft.warnings) {
        talk.warn(warning);
    }
    let both = rigs.iter().zip(&pictures);
    let files = both.flat_map(|(r, png)| [name(&r.file), name(png)]);
    let files: Vec<String> = files.chain([name(session)]).collect();
    talk.note(&format!("written: {}", files.join(", ")));
    exit
}
