//! `focuslag scout --session`: from a folder of clips to a session file.

use std::path::{Path, PathBuf};

use image::RgbImage;
use serde::Serialize;

use super::exit::Exit;
use super::scout::{Document, ScoutArgs, document, draw_not_found, faults, look, request, save};
use super::stdin;
use super::talk::Talk;
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
struct Setup<'a> {
    name: &'a str,
    clips: Vec<String>,
    rig: Option<String>,
    left_out: Option<&'a str>,
}

#[derive(Serialize)]
struct Documents<'a> {
    session: String,
    setups: Vec<Setup<'a>>,
    rigs: Vec<Document<'a>>,
}

/// Drafts a rig from the first clip of every setup, and a session of them all.
pub fn run(args: &ScoutArgs, session: &Path, talk: Talk) -> Exit {
    let (clips, mut wrong) = gathered(args);
    let picture = args.out.with_extension("png");
    wrong.extend(faults(args, &args.out, &picture));
    wrong.extend(session_faults(args, session));
    if !wrong.is_empty() {
        return talk.stop(&wrong, Exit::Refused);
    }
    let mut rigs: Vec<Rig> = Vec::new();
    let mut entries = Vec::new();
    for group in groups(&clips) {
        match one(args, &group, &mut rigs, talk) {
            Ok(rig) => entries.push(Entry {
                rig: rig.filter(|file| *file != args.out),
                group,
                left_out: None,
            }),
            Err(Stop::LeftOut(why)) => entries.push(Entry {
                group,
                rig: None,
                left_out: Some(why),
            }),
            Err(Stop::Exists(e)) => return talk.stop(&[e], Exit::Refused),
        }
    }
    if rigs.is_empty() {
        let reasons = entries.iter().map(|e| {
            let why = e.left_out.as_deref().unwrap_or_default();
            format!("{}: {why}", e.group.name)
        });
        return talk.stop(&reasons.collect::<Vec<_>>(), Exit::Failed);
    }
    let text = session_toml(session, &args.out, &entries);
    if let Err(e) = written(&rigs, session, &text) {
        return talk.stop(&[e], Exit::Failed);
    }
    told(args, session, &rigs, &entries, talk)
}

enum Stop {
    /// This group is no setup, and why.
    LeftOut(String),
    /// A file would be replaced.
    Exists(String),
}

/// The rig of a group: one that was drafted before and fits, or its own.
fn one(
    args: &ScoutArgs,
    group: &Group,
    rigs: &mut Vec<Rig>,
    talk: Talk,
) -> Result<Option<PathBuf>, Stop> {
    let clip = &group.clips[0];
    let name = clip.file_name().unwrap_or(clip.as_os_str());
    let mut request = request(args);
    let file = if rigs.is_empty() {
        args.out.clone()
    } else {
        beside(&args.out, &group.name)
    };
    if request.name.is_none() || !rigs.is_empty() {
        let stem = file.file_stem().unwrap_or_default();
        request.name = Some(stem.to_string_lossy().into_owned());
    }
    let looked = look(clip, &name.to_string_lossy(), &request, talk);
    let (draft, picture) = looked.map_err(|e| {
        draw_not_found(clip, e.not_found(), &beside(&args.out, &group.name), talk);
        Stop::LeftOut(e.to_string())
    })?;
    if draft.trials < 2 {
        draw_not_found(
            clip,
            draft.not_found.as_ref(),
            &beside(&args.out, &group.name),
            talk,
        );
        let why = "nothing in it starts a trial (a swing or a trigger light)";
        return Err(Stop::LeftOut(why.to_owned()));
    }
    if let Some(same) = rigs.iter().find(|r| alike(&r.draft, &draft)) {
        return Ok(Some(same.file.clone()));
    }
    let png = file.with_extension("png");
    let there = [&file, &png].into_iter().find(|f| f.exists());
    if let Some(f) = there.filter(|_| !args.force) {
        return Err(Stop::Exists(format!(
            "{}: is there already; choose another name with --out, or give --force to replace it",
            f.display()
        )));
    }
    rigs.push(Rig {
        draft,
        picture,
        file: file.clone(),
    });
    Ok(Some(file))
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
            wrong.push(
                "command line: `-` has no name to group it by; save the clip, or leave --session out"
                    .to_owned(),
            );
        } else if given.is_dir() {
            let before = clips.len();
            let files = std::fs::read_dir(given).into_iter().flatten().flatten();
            clips.extend(files.map(|f| f.path()).filter(|p| is_clip(p)));
            if clips.len() == before {
                wrong.push(format!(
                    "{}: no clip in this folder (looked for {})",
                    given.display(),
                    CLIPS.join(", ")
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
    let folder = session.parent().filter(|p| !p.as_os_str().is_empty());
    if session.extension().is_none_or(|e| e != "toml") || session == args.out {
        out.push(format!(
            "command line: --session: {}: a session file ends in .toml and is not the rig file; \
             name it so",
            session.display()
        ));
    }
    if folder.is_some_and(|f| !f.is_dir()) {
        out.push(format!(
            "{}: its folder does not exist; make it first",
            session.display()
        ));
    }
    if session.exists() && !args.force {
        out.push(format!(
            "{}: is there already; choose another name with --session, or give --force to replace it",
            session.display()
        ));
    }
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
    let exit = if talk.json {
        let setups = entries.iter().map(|e| Setup {
            name: &e.group.name,
            clips: e
                .group
                .clips
                .iter()
                .map(|c| c.display().to_string())
                .collect(),
            rig: e.left_out.is_none().then(|| of(e).display().to_string()),
            left_out: e.left_out.as_deref(),
        });
        let pictures: Vec<PathBuf> = rigs.iter().map(|r| r.file.with_extension("png")).collect();
        let documents = Documents {
            session: session.display().to_string(),
            setups: setups.collect(),
            rigs: rigs
                .iter()
                .zip(&pictures)
                .map(|(r, png)| document(&r.draft, &r.file, png))
                .collect(),
        };
        talk.document(&documents, Exit::Done)
    } else {
        let mut text: String = rigs
            .iter()
            .map(|r| {
                format!(
                    "{}, from {}\n",
                    shown(&r.file),
                    scout_text(&r.draft, "look at the picture")
                )
            })
            .collect::<Vec<_>>()
            .join("\n");
        text.push_str("\nSetups, by the clips' names:\n");
        for e in entries {
            let line = match &e.left_out {
                Some(why) => format!("  {}: left out: {}\n", plain(&e.group.name), plain(why)),
                None => format!(
                    "  {}: {}, rig {}\n",
                    plain(&e.group.name),
                    counted(e.group.clips.len() as u64, "clip"),
                    shown(&of(e))
                ),
            };
            text.push_str(&line);
        }
        text.push_str(&format!(
            "\nNext: look at the picture, check the names in {}, then\n  focuslag time {}\n",
            shown(session),
            shown(session)
        ));
        talk.result(&text, Exit::Done)
    };
    for warning in rigs.iter().flat_map(|r| &r.draft.warnings) {
        talk.warn(warning);
    }
    let files: Vec<String> = rigs
        .iter()
        .flat_map(|r| [r.file.clone(), r.file.with_extension("png")])
        .chain([session.to_path_buf()])
        .map(|f| f.display().to_string())
        .collect();
    talk.note(&format!("written: {}", files.join(", ")));
    exit
}
