//! `focuslag time --signals-only`: one clip's share of a session's work.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::{Value, json};

use super::exit::{Exit, Stop};
use super::progress::Bars;
use super::talk::Talk;
use super::time::not_begun;
use crate::job::{self, Gathered, GatheredClip, JobOptions};
use crate::rig::Session;

/// Everything about a run, for `--json`.
#[derive(Serialize)]
struct Document {
    signals: Vec<Value>,
    failures: Vec<String>,
    warnings: Vec<String>,
    unfinished: bool,
}

/// Keeps the signals of a session's clips, or of those in `only`.
pub fn run(
    session: &Session,
    only: &[PathBuf],
    options: &JobOptions,
    bars: &Bars,
    talk: Talk,
) -> Result<Exit, Stop> {
    let gathered = job::gather(session, only, options, bars);
    let gathered = gathered.map_err(|errors| not_begun(&errors, options))?;
    Ok(finish(&gathered, options, bars.warnings(), talk))
}

fn finish(gathered: &Gathered, options: &JobOptions, warnings: Vec<String>, talk: Talk) -> Exit {
    let clips = &gathered.clips;
    let failures: Vec<String> = clips
        .iter()
        .filter_map(|c| c.signals.as_ref().err().cloned())
        .collect();
    let exit = Exit::unless(!failures.is_empty() || gathered.stopped);
    for failure in &failures {
        talk.error(failure);
    }
    if gathered.stopped {
        talk.error("stopped; clips whose signals are kept need not be decoded again. Run the same command again to go on");
    }
    if talk.json {
        let document = Document {
            signals: clips.iter().map(|c| one(c, options)).collect(),
            failures,
            warnings,
            unfinished: gathered.unfinished,
        };
        return talk.document(&document, exit);
    }
    let lines: Vec<String> = clips.iter().filter_map(|c| line(c, options)).collect();
    talk.result(&lines.concat(), exit)
}

fn one(clip: &GatheredClip, options: &JobOptions) -> Value {
    let signals = clip.signals.as_ref();
    json!({
        "clip": shown(&clip.clip, options),
        "rig": clip.rig,
        "file": signals.ok().map(|s| s.0.display().to_string()),
        "made": signals.is_ok_and(|s| s.1),
        "error": signals.err(),
    })
}

fn line(clip: &GatheredClip, options: &JobOptions) -> Option<String> {
    let (file, made) = clip.signals.as_ref().ok()?;
    let (name, file) = (shown(&clip.clip, options), file.display());
    Some(if *made {
        format!("{name}: signals kept in {file}\n")
    } else {
        format!("{name}: signals were kept already in {file}\n")
    })
}

fn shown(clip: &Path, options: &JobOptions) -> String {
    options.shown(&clip.display().to_string())
}
