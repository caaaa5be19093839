//! `focuslag show`: one trial up close.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use serde_json::{Value, json};

use super::exit::{Exit, Stop, failed, refuse};
use super::talk::Talk;
use super::target::{Kind, complaint};
use super::{files, stdin};
use crate::report::{Close, evidence_sheet, find, trial_csv, trial_list, trial_text, worst};
use crate::stats::histogram::LatencyHistogram;
use crate::stats::sample::{Latencies, judged, sorted_hits};
use crate::store::evidence::Evidence;
use crate::store::schema::{Timing, Verdict};
use crate::store::write_file;

/// One trial: its curve, its moments, its pictures.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag show kit-cobalt.timing.json
  focuslag show kit-cobalt.timing.json --trial cobalt-2.mp4:3 --png trial.png
  focuslag show kit-cobalt.timing.json --list

Curve and stills come from kit-cobalt.evidence.zip, which focuslag time keeps
beside the timing file; the clips are not needed. Trials count from 0.")]
pub struct ShowArgs {
    /// A timing file; `-` for one from standard input
    #[arg(value_name = "TIMING.json")]
    file: PathBuf,
    /// The trial, by clip and number; a clip's file name will do [default: the worst one]
    #[arg(long, value_name = "CLIP:N", conflicts_with = "list")]
    trial: Option<String>,
    /// All trials, one a line
    #[arg(long, conflicts_with_all = ["png", "csv"])]
    list: bool,
    /// Write an evidence sheet: stills, curve and numbers
    #[arg(long, value_name = "FILE")]
    png: Option<PathBuf>,
    /// Write the signal and the moments for a spreadsheet; `-` for standard output
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Write the setup's hit latencies as a log of HdrHistogram; `-` for standard output
    #[arg(long, value_name = "FILE")]
    hdr_log: Option<PathBuf>,
    /// Write over files of another kind
    #[arg(long)]
    force: bool,
}

/// What was written, for `--json`.
#[derive(Serialize)]
struct Written {
    file: String,
    kind: &'static str,
    bytes: usize,
}

pub fn run(args: &ShowArgs, talk: Talk) -> Exit {
    talk.ended(shown(args, talk))
}

fn shown(args: &ShowArgs, talk: Talk) -> Result<Exit, Stop> {
    refuse(wrong_targets(args, talk))?;
    let read = files::opened(std::slice::from_ref(&args.file), talk)?;
    let Some((_, timing)) = read.first() else {
        return Ok(Exit::Refused);
    };
    let picked = match &args.trial {
        Some(name) => find(timing, name),
        None => worst(timing).ok_or_else(|| "holds no trial".to_owned()),
    };
    let (clip, trial) = picked.map_err(|e| format!("{}: {e}", args.file.display()))?;
    let (mut evidence, mut missing) = evidence(&args.file, timing);
    let kept = evidence.as_ref().and_then(|e| e.clip(clip)).cloned();
    let own = evidence.as_ref().and_then(|e| e.trial(clip, trial));
    let own = own.cloned();
    if kept.is_some() && own.as_ref().is_none_or(|o| o.stills.is_empty()) {
        let none = "no stills of this trial are kept; time the clip with --decode-again";
        missing.push(none.to_owned());
    }
    if let Some((evidence, own)) = evidence.as_ref().zip(own.as_ref())
        && let gone @ 1.. = evidence.gone(own)
    {
        let zip = evidence.path().display();
        missing.push(format!(
            "{zip}: {gone} of the stills of this trial are gone from it; time the clip again"
        ));
    }
    let close = Close {
        kept: kept.as_ref(),
        evidence: own.as_ref(),
        ..Close::bare(timing, clip, trial)
    };
    let mut picture = |name: &str| evidence.as_mut()?.picture(name);
    let (text, written) = write(args, &close, &mut picture).map_err(failed)?;
    let why = args.trial.is_none().then(|| why(trial.verdict));
    if talk.json {
        let document = document(&close, why, &missing, &written);
        return Ok(talk.document(&document, Exit::Done));
    }
    for w in &written {
        talk.note(&format!("{}: written ({})", w.file, w.kind));
    }
    if let Some(text) = text {
        for line in &missing {
            talk.warn(line);
        }
        return Ok(talk.raw(&text, Exit::Done));
    }
    let text = if args.list {
        trial_list(timing)
    } else {
        trial_text(&close, why, &missing)
    };
    Ok(talk.result(&text, Exit::Done))
}

fn why(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Lost => "The worst trial: a lost one. --list shows all, --trial picks one.",
        Verdict::Soft => "The worst trial: a soft one. --list shows all, --trial picks one.",
        Verdict::Hit => "The worst trial: the slowest hit. --list shows all, --trial picks one.",
        Verdict::Void => "No trial could be judged; the first of the void ones.",
    }
}

fn wrong_targets(args: &ShowArgs, talk: Talk) -> Vec<String> {
    let targets = [
        (&args.png, "--png", Kind::Png),
        (&args.csv, "--csv", Kind::Csv),
        (&args.hdr_log, "--hdr-log", Kind::HdrLog),
    ];
    let named = targets.into_iter();
    let named = named.filter_map(|(path, flag, kind)| Some((path.as_ref()?, flag, kind)));
    let (mut wrong, mut piped) = (Vec::new(), Vec::new());
    for (path, flag, kind) in named {
        wrong.extend(complaint(path, flag, kind, args.force));
        piped.extend(stdin::named(path).then_some(flag));
    }
    if piped.contains(&"--png") {
        wrong.push("--png: a picture does not go to standard output; name a file".to_owned());
    }
    if piped.len() > 1 {
        let flags = piped.join(" and ");
        wrong.push(format!("command line: {flags} both go to standard output"));
    }
    if let Some(flag) = piped.first().filter(|_| talk.json) {
        let both = "both go to standard output; name a file";
        wrong.push(format!("command line: --json and {flag} - {both}"));
    }
    wrong
}

/// What lies beside the timing file, and what does not.
pub fn evidence(file: &Path, timing: &Timing) -> (Option<Evidence>, Vec<String>) {
    if stdin::named(file) {
        let said = "a timing file from standard input has no folder to look for evidence in";
        return (None, vec![said.to_owned()]);
    }
    match Evidence::of(file) {
        Ok(evidence) => {
            let misfits = evidence.misfits(timing);
            (Some(evidence), misfits)
        }
        Err(e) => (None, vec![e.to_string()]),
    }
}

type Done = (Option<String>, Vec<Written>);

/// Writes what was asked for; what goes to standard output comes back.
fn write(
    args: &ShowArgs,
    close: &Close,
    picture: &mut dyn FnMut(&str) -> Option<Vec<u8>>,
) -> Result<Done, String> {
    let mut written = Vec::new();
    let mut out = None;
    let mut put = |path: &Path, kind: &'static str, bytes: Vec<u8>| -> Result<(), String> {
        if stdin::named(path) {
            out = Some(String::from_utf8_lossy(&bytes).into_owned());
            return Ok(());
        }
        write_file(path, &bytes).map_err(|e| e.to_string())?;
        written.push(Written {
            file: path.display().to_string(),
            kind,
            bytes: bytes.len(),
        });
        Ok(())
    };
    if let Some(path) = &args.png {
        let sheet = evidence_sheet(close, picture).map_err(|e| e.to_string())?;
        put(path, "evidence sheet", sheet)?;
    }
    if let Some(path) = &args.csv {
        put(path, "signal and moments", trial_csv(close)?.into_bytes())?;
    }
    if let Some(path) = &args.hdr_log {
        put(path, "histogram log", hdr_log(close.timing)?.into_bytes())?;
    }
    Ok((out, written))
}

/// The setup's hits as seen, as one interval as long as its clips.
fn hdr_log(timing: &Timing) -> Result<String, String> {
    let hits = sorted_hits(&judged(&timing.clips, Latencies::AsSeen));
    let length_s = timing.clips.iter().map(|c| c.duration_s).sum();
    let name = &timing.setup.name;
    let comment = format!("setup {name}: latencies of hits as seen, us; largest in ms");
    LatencyHistogram::of_ms(&hits)
        .and_then(|h| h.to_log(name, length_s, &comment))
        .map_err(|e| e.to_string())
}

fn document(close: &Close, why: Option<&str>, missing: &[String], written: &[Written]) -> Value {
    let updates = close.updates();
    let column = |f: &dyn Fn(&crate::report::Update) -> Value| -> Vec<Value> {
        updates.iter().map(f).collect()
    };
    let moments: serde_json::Map<String, Value> = close
        .marks()
        .iter()
        .map(|m| (m.name.to_owned(), json!(m.ms)))
        .collect();
    json!({
        "setup": close.timing.setup,
        "clip": {
            "path": close.clip.path,
            "sha256": close.clip.sha256,
            "least_permille": close.clip.least_permille,
        },
        "picked": why,
        "trial": close.trial,
        "after_onset_ms": moments,
        "signal": {
            "after_onset_ms": column(&|u| json!(u.ms)),
            "sharpness": column(&|u| json!(u.sharpness)),
            "blur_permille": column(&|u| json!(u.blur)),
        },
        "stills": close.evidence.map_or(&[][..], |e| &e.stills),
        "missing": missing,
        "written": written,
    })
}
