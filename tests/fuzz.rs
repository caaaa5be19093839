//! Every reader against inputs made worse at random: each must end in a value
//! or in words, soon, and without a panic.
//!
//! A quick share runs with the other tests. For longer, with other seeds:
//! `FUZZ_ROUNDS=200 FUZZ_SEED=7 cargo test --release --test fuzz -- --nocapture`

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "fuzz/mutate.rs"]
mod mutate;
#[path = "support/timed.rs"]
mod timed;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use focuslag::clip::{FrameSink, LumaFrame, ProbeOptions, decode, probe, sound};
use focuslag::job::{Earlier, JobOptions, Keeping, Silent, judge_again, run};
use focuslag::render::{Scene, render};
use focuslag::report::{Close, evidence_sheet, time_report, trial_csv, trial_text};
use focuslag::rig::{Rig, Session};
use focuslag::stats::gate::Policy;
use focuslag::store::evidence::{Evidence, beside};
use focuslag::store::{doubts, read_timing_from};
use mutate::Mutator;

/// No input may take longer, while the processor is at work for it.
const LONGEST: Duration = Duration::from_secs(10);
/// Nor this, at work or not.
const LONGEST_WAIT: Duration = Duration::from_secs(600);
/// A small film with sound, and a rig for it.
const SCENE: &str = "seed = 41\nwindow_ms = 600\n[near]\ntexture = \"leaves\"\n\
    [motion]\nmove_ms = 250\npause_ms = 1000\nlead_ms = 400\n\
    [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\nbezel_px = 8\n\
    [film]\nsize = [320, 240]\n[sound]\ntrack = true\n[container]\nquality = 20\n\
    [[trial]]\n[[trial]]\n";
const RIG: &str = "name = \"counter\"\n[capture]\nfps = 240.0\n\
    [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\n\
    [stimulus]\nkind = \"swing\"\n[trial]\nwindow_ms = 600\n";

/// Sound files of every kind.
struct Seeds {
    clip: Vec<u8>,
    timing: Vec<u8>,
    evidence: Vec<u8>,
    signals: Vec<u8>,
    signals_name: String,
}

fn seeds() -> &'static Seeds {
    static MADE: OnceLock<Seeds> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let clip = folder.path().join("a.mp4");
        let scene = Scene::from_toml(SCENE, "scene").unwrap();
        render(&scene, folder.path(), &clip, |_, _| {}).unwrap();
        let rig = Rig::parse(RIG, "rig").unwrap();
        let session = Session::of_one("kit-amber", clip.clone(), rig);
        let signals = folder.path().join("signals");
        let options = JobOptions {
            out: folder.path().to_path_buf(),
            force: true,
            stdin: None,
            workers: 2,
            keeping: Keeping {
                folder: Some(signals.clone()),
                ..Keeping::default()
            },
        };
        let done = run(&session, &options, &Silent).unwrap();
        let timing = &done.written[0].0;
        let kept = std::fs::read_dir(signals)
            .unwrap()
            .next()
            .unwrap()
            .unwrap()
            .path();
        Seeds {
            clip: std::fs::read(&clip).unwrap(),
            timing: std::fs::read(timing).unwrap(),
            evidence: std::fs::read(beside(timing)).unwrap(),
            signals: std::fs::read(&kept).unwrap(),
            signals_name: kept.file_name().unwrap().to_string_lossy().into_owned(),
        }
    })
}

fn asked(name: &str, usual: u64) -> u64 {
    let said = std::env::var(name).ok().and_then(|v| v.parse().ok());
    said.unwrap_or(usual)
}

/// Puts `inputs` times the rounds asked for through a reader, which says
/// whether it took the input.
fn hold(
    reader: &str,
    inputs: u64,
    make: impl Fn(&mut Mutator) -> Vec<u8>,
    read: impl Fn(&[u8]) -> bool,
) {
    let mut mutator = Mutator::new(asked("FUZZ_SEED", 1));
    let inputs = inputs * asked("FUZZ_ROUNDS", 1);
    let begun = Instant::now();
    let (mut taken, mut slowest) = (0, Duration::ZERO);
    let mut wrong = Vec::new();
    for k in 0..inputs {
        let input = make(&mut mutator);
        let (one, worked) = (Instant::now(), work());
        match catch_unwind(AssertUnwindSafe(|| read(&input))) {
            Ok(took) => taken += u64::from(took),
            Err(_) => wrong.push(kept_input(reader, k, &input)),
        }
        let took = one.elapsed().min(work().saturating_sub(worked));
        if took > LONGEST || one.elapsed() > LONGEST_WAIT {
            wrong.push(kept_input(reader, k, &input));
        }
        slowest = slowest.max(took);
    }
    println!(
        "{reader}: {inputs} inputs in {:.1} s, {taken} taken, slowest {:.0} ms",
        begun.elapsed().as_secs_f64(),
        slowest.as_secs_f64() * 1e3
    );
    assert!(wrong.is_empty(), "{reader}: {wrong:?}");
}

/// Processor time of this process, whoever else wants the processor (proc(5):
/// `stat`, fields 14 and 15, in hundredths of a second); where it is not told,
/// only waiting counts.
fn work() -> Duration {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(')').next().unwrap_or("").split_whitespace();
    let ticks = fields
        .skip(11)
        .take(2)
        .filter_map(|t| t.parse::<u64>().ok());
    Duration::from_millis(10 * ticks.sum::<u64>())
}

/// Where the input lies for a closer look.
fn kept_input(reader: &str, k: u64, input: &[u8]) -> String {
    let path = std::env::temp_dir().join(format!("focuslag-fuzz-{reader}-{k}"));
    std::fs::write(&path, input).unwrap();
    path.display().to_string()
}

fn texts(folders: &[&str], more: &[&str]) -> Vec<Vec<u8>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let all = folders
        .iter()
        .flat_map(|f| std::fs::read_dir(root.join(f)).unwrap());
    let mut paths: Vec<_> = all.map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    paths.extend(more.iter().map(|f| root.join(f)));
    paths.sort();
    paths.iter().map(|p| std::fs::read(p).unwrap()).collect()
}

#[test]
fn texts_that_people_write() {
    let utf8 = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let rigs = texts(&["rigs"], &[]);
    hold(
        "rig",
        600,
        |m| m.text(&rigs),
        |b| Rig::parse(&utf8(b), "rig").is_ok(),
    );
    let sessions = texts(&[], &["sample-clips/session.toml"]);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-clips");
    hold(
        "session",
        200,
        |m| m.text(&sessions),
        |b| Session::parse(&utf8(b), "session", &folder).is_ok(),
    );
    let policies = texts(&[], &["sample-clips/hire-policy.toml"]);
    hold(
        "policy",
        600,
        |m| m.text(&policies),
        |b| Policy::from_toml(&utf8(b), "policy").is_ok(),
    );
    let scenes = texts(&["rigs/scenes", "sample-clips/scenes"], &[]);
    hold(
        "scene",
        600,
        |m| m.text(&scenes),
        |b| Scene::from_toml(&utf8(b), "scene").is_ok(),
    );
}

#[test]
fn timing_files() {
    let all = [seeds().timing.clone()];
    hold(
        "timing file",
        400,
        |m| m.text(&all),
        |bytes| {
            let Ok(timing) = read_timing_from(bytes, "kit") else {
                return false;
            };
            let _ = doubts(&timing);
            let _ = time_report(&[&timing], &[]);
            for (clip, trial) in timing
                .clips
                .iter()
                .flat_map(|c| c.trials.iter().map(move |t| (c, t)))
            {
                let _ = trial_text(&Close::bare(&timing, clip, trial), None, &[]);
            }
            true
        },
    );
}

#[test]
fn evidence() {
    let all = [seeds().evidence.clone()];
    let timing = read_timing_from(&seeds().timing[..], "kit").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("kit.evidence.zip");
    hold(
        "evidence",
        50,
        |m| m.archive(&all),
        |bytes| {
            std::fs::write(&path, bytes).unwrap();
            let Ok(mut found) = Evidence::open(&path) else {
                return false;
            };
            let _ = found.misfits(&timing);
            let clip = &timing.clips[0];
            for trial in &clip.trials {
                let (kept, own) = (found.clip(clip).cloned(), found.trial(clip, trial).cloned());
                let close = Close {
                    kept: kept.as_ref(),
                    evidence: own.as_ref(),
                    ..Close::bare(&timing, clip, trial)
                };
                let _ = trial_text(&close, None, &[]);
                let _ = trial_csv(&close);
                let _ = evidence_sheet(&close, &mut |name: &str| found.picture(name));
            }
            true
        },
    );
}

#[test]
fn kept_signals() {
    let all = [seeds().signals.clone()];
    let timing = read_timing_from(&seeds().timing[..], "kit").unwrap();
    let folder = tempfile::tempdir().unwrap();
    hold(
        "kept signals",
        40,
        |m| m.archive(&all),
        |bytes| {
            std::fs::write(folder.path().join(&seeds().signals_name), bytes).unwrap();
            let earlier = Earlier {
                file: "kit.timing.json",
                timing: &timing,
                signals: folder.path().to_path_buf(),
            };
            judge_again(&[earlier], 2.5).is_ok()
        },
    );
}

/// Looks at nothing: the decoder is what is held.
struct Blind;

impl FrameSink for Blind {
    type Out = ();

    fn frame(&mut self, frame: &LumaFrame<'_>) {
        let mut row = vec![0.0; frame.size.0];
        frame.strongest(frame.size.1 / 2, 0, &mut row);
    }

    fn finish(self) {}
}

#[test]
fn clips_and_their_sound() {
    let all = [seeds().clip.clone()];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.mp4");
    hold(
        "clip",
        50,
        |m| m.bytes(&all),
        |bytes| {
            std::fs::write(&path, bytes).unwrap();
            let Ok(index) = probe(&path, &ProbeOptions::default()) else {
                return false;
            };
            let _ = sound(&index);
            decode(&index, 2, |_| Blind, |()| {}, |_| {}).is_ok()
        },
    );
}
