//! Timing files with made-up evidence, and the command to try on them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Output;

use assert_cmd::Command;
use focuslag::store::evidence::{
    BlurCurve, ClipEvidence, Grey, Index, Moment, Pack, SignalCurve, StillRecord, TrialEvidence,
    write_evidence,
};
use focuslag::store::schema::{Blur, ReferenceFrom, Timing};
use focuslag::store::{read_timing, write_timing};

use crate::simulate::{Scene, generator};

/// Names that have tried to break pages, files and shells.
pub const NASTY: [&str; 5] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "../../kit & 'amber'; -- ${x} `y`",
    "=HYPERLINK(\"a\")",
    "\u{202e}ערכת נמל \u{5e2}\u{5e0}\u{5d1}\u{5e8}",
];

/// A folder of its own, removed at the end.
pub struct Bench(tempfile::TempDir);

impl Bench {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Runs the command in the folder.
    pub fn run(&self, args: &[&str]) -> Output {
        let mut command = Command::cargo_bin("focuslag").unwrap();
        command.current_dir(self.0.path()).args(args);
        command.output().unwrap()
    }

    /// Writes a setup of `clips` × `trials`, with evidence where asked for.
    pub fn setup(
        &self,
        file: &str,
        name: &str,
        clips: u32,
        trials: u32,
        evidence: bool,
    ) -> PathBuf {
        let scene = Scene {
            clips,
            trials,
            ..Scene::default()
        };
        let case = u64::from(clips * 1000 + trials) + name.len() as u64;
        let mut timing = scene.session(name, &mut generator(case, 7));
        for (k, clip) in timing.clips.iter_mut().enumerate() {
            clip.sha256 = format!("{:064x}", case * 100 + k as u64);
            clip.least_permille = Some(1.2 + 0.1 * k as f64);
            clip.screen.height_px = Some(640.0);
            for trial in &mut clip.trials {
                trial.reference_from = Some(ReferenceFrom::Hand);
                trial.blur_permille = Some(Blur {
                    onset: Some(31.0),
                    end: Some(if trial.latency_ms.is_some() { 0.6 } else { 9.0 }),
                    end_u: Some(0.3),
                });
                trial.uncertainty_ms = trial.latency_ms.map(|_| 7.0);
            }
        }
        let path = self.path(&format!("{file}.timing.json"));
        write_timing(&path, &timing).unwrap();
        if evidence {
            write_evidence(&path, &pack(&timing)).unwrap();
        }
        path
    }

    /// Writes the evidence of a setup anew, less what `spoil` takes out of it.
    pub fn spoiled(&self, path: &Path, spoil: fn(&mut Pack)) {
        let mut made = pack(&read_timing(path).unwrap());
        spoil(&mut made);
        write_evidence(path, &made).unwrap();
    }
}

/// A picture as hard to pack as a film's grain makes it.
fn grain(seed: u32) -> Vec<u8> {
    let mut state = seed.wrapping_mul(2_654_435_761).max(1);
    let pixels = (0..320 * 240)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            110 + (state % 40) as u8
        })
        .collect();
    let grey = Grey {
        width: 320,
        height: 240,
        pixels,
    };
    grey.to_jpeg().unwrap()
}

/// What a trial's evidence shows: from a second before its onset to two after.
fn around(onset_s: f64, shown_s: &[f64], permille: &[f64]) -> BlurCurve {
    let first = shown_s.partition_point(|s| *s < onset_s - 1.0);
    let end = shown_s.partition_point(|s| *s < onset_s + 2.0);
    BlurCurve {
        first,
        permille: permille[first..end].to_vec(),
    }
}

fn pack(timing: &Timing) -> Pack {
    let picture = grain(timing.setup.name.len() as u32 + 1);
    let mut pictures = BTreeMap::new();
    let clips = timing.clips.iter().enumerate().map(|(k, clip)| {
        let last = clip.trials.last().map_or(0.0, |t| t.end_s + 1.0);
        let n = (last * 60.0) as u32;
        let shown_s: Vec<f64> = (0..n).map(|i| f64::from(i) / 60.0).collect();
        let blur = |t: &f64| {
            let own = clip.trials.iter().rfind(|x| x.onset_s <= *t);
            let ms = own.and_then(|x| x.latency_ms).unwrap_or(1e9);
            let since = own.map_or(0.0, |x| (t - x.onset_s) * 1000.0);
            let wave = (t * 37.0).sin() * 0.3;
            match since {
                s if s >= ms => 0.6 + wave,
                s if ms > 1e6 => 14.0 + 12.0 * (s / 130.0).sin(),
                // A lens that sets off late, passes its goal and comes back.
                s => (31.0 * (1.0 - (s / ms - 0.25).max(0.0) / 0.6)).abs() + wave.abs(),
            }
        };
        let permille: Vec<f64> = shown_s.iter().map(blur).collect();
        let level = |t: &f64| 1.0 / (1.0 + (blur(t) / 6.0).powi(2));
        ClipEvidence {
            path: clip.path.clone(),
            sha256: clip.sha256.clone(),
            curve: Some(SignalCurve {
                period_s: 1.0 / 60.0,
                sharpness: shown_s.iter().map(level).collect(),
                shown_s: shown_s.clone(),
            }),
            trials: clip
                .trials
                .iter()
                .map(|t| TrialEvidence {
                    index: t.index,
                    onset_s: t.onset_s,
                    blur: Some(around(t.onset_s, &shown_s, &permille)),
                    stills: [Moment::Onset, Moment::Blurred, Moment::Settled]
                        .into_iter()
                        .map(|moment| {
                            let file = format!("{k}/{}-{}.jpg", t.index, moment.word());
                            pictures.insert(file.clone(), picture.clone());
                            StillRecord {
                                moment,
                                time_s: t.onset_s,
                                frame: 1,
                                file,
                                screen: None,
                            }
                        })
                        .collect(),
                })
                .collect(),
        }
    });
    let clips = clips.collect();
    Pack {
        index: Index {
            timing_sha256: None,
            format: "focuslag-evidence".to_owned(),
            version: 1,
            setup: timing.setup.name.clone(),
            clips,
        },
        pictures,
    }
}

/// The text of a file.
pub fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

/// Every `<name …>` of a page.
pub fn tags<'a>(page: &'a str, name: &str) -> Vec<&'a str> {
    let open = format!("<{name} ");
    page.match_indices(&open)
        .map(|(at, _)| &page[at..at + page[at..].find('>').unwrap()])
        .collect()
}
