//! Rendered scenes drafted by `scout` and held against their truth: how far
//! the corners are off, whether what starts a trial was told, and whether a
//! timing with the draft, nothing edited, gives the verdicts of the true rig.
//! Films without a screen must be refused.
//!
//! `cargo bench --bench scout -- [--seed N] [--lights COUNT] [--only TEXT] [--keep FOLDER]`
//!
//! With `--lights` so many trigger lights instead.
//!
//! Seeds from 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "scout/scenes.rs"]
mod scenes;
#[path = "../support/timed.rs"]
mod timed;

use std::path::{Path, PathBuf};

use focuslag::render::{Scene, Truth, foresee, render};
use focuslag::rig::Rig;
use focuslag::scout::{Draft, Kind, Request, ScoutError, scout};
use scenes::{Case, Want};

#[derive(Default)]
struct Tally {
    found: usize,
    refused: usize,
    wrongly_found: usize,
    corners: Vec<f64>,
    trials: usize,
    differ: usize,
    untrue: usize,
    stimulus_wrong: usize,
}

fn main() {
    let (mut seed, mut only, mut keep, mut lights) = (1u64, None, None, 0);
    let mut args = std::env::args().skip(1);
    while let Some(a) = args.next() {
        match a.as_str() {
            "--seed" => seed = args.next().and_then(|s| s.parse().ok()).expect("--seed N"),
            "--lights" => {
                lights = args
                    .next()
                    .and_then(|s| s.parse().ok())
                    .expect("--lights COUNT")
            }
            "--only" => only = args.next(),
            "--keep" => keep = args.next().map(PathBuf::from),
            _ => {}
        }
    }
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let folder = keep.as_deref().unwrap_or(scratch.path());
    println!(
        "{:<26} {:>11} {:>9} {:>9} {:>10} {:>7} {:>9}  draft",
        "scene", "corners px", "± 2u px", "trials", "verdicts", "untrue", "stimulus"
    );
    let mut tally = Tally::default();
    let cases = match lights {
        0 => scenes::cases(seed),
        count => scenes::lights(seed, count),
    };
    for case in cases {
        if only.as_ref().is_none_or(|o| case.name.contains(o.as_str())) {
            play(&case, seed, folder, &mut tally);
        }
    }
    tally.corners.sort_by(f64::total_cmp);
    let at = |p: f64| {
        let k = (p * tally.corners.len() as f64).ceil().max(1.0) as usize;
        tally.corners.get(k - 1).copied().unwrap_or(f64::NAN)
    };
    println!(
        "\nseed {seed}: {} screens found, {} refused; corners p50 {:.2} p95 {:.2} largest {:.2} px; \
         {} trials, {} verdicts differ from the true rig's, {} from the truth; stimulus wrong {}; found without a screen {}",
        tally.found,
        tally.refused,
        at(0.5),
        at(0.95),
        at(1.0),
        tally.trials,
        tally.differ,
        tally.untrue,
        tally.stimulus_wrong,
        tally.wrongly_found
    );
}

fn play(case: &Case, seed: u64, folder: &Path, tally: &mut Tally) {
    let scene = Scene::from_toml(&case.scene, &case.name).expect("a scene");
    let clip = folder.join(format!("{}-{seed}.mp4", case.name));
    let truth = if clip.exists() {
        foresee(&scene)
    } else {
        render(&scene, folder, &clip, |_, _| ())
    };
    let truth = truth.expect("a clip");
    let request = Request {
        workers: 2,
        feed: case.want == Want::Feed,
        // 60 frames a second do not tell whether they are real time.
        fps: (truth.capture_fps < 61.0).then_some(truth.capture_fps),
        ..Request::default()
    };
    let drafted = scout(&clip, &request, &|_, _| ());
    let (draft, _) = match (drafted, case.want) {
        (Err(ScoutError::Screen { reason, .. }), want) => {
            let right = matches!(want, Want::Nothing);
            tally.refused += usize::from(!right);
            let word = if right { "rightly refused" } else { "REFUSED" };
            println!(
                "{:<26} {word}: {}",
                case.name,
                &reason[..reason.len().min(70)]
            );
            return;
        }
        (Err(e), _) => {
            tally.refused += 1;
            println!("{:<26} FAILED: {e}", case.name);
            return;
        }
        (Ok((draft, _)), Want::Nothing) => {
            tally.wrongly_found += 1;
            let corners = draft.found.map(|f| f.rounded());
            println!(
                "{:<26} FOUND where there is no screen: {corners:?}",
                case.name
            );
            return;
        }
        (Ok(d), _) => d,
    };
    row(case, &truth, &draft, &clip, folder, tally);
}

fn row(case: &Case, truth: &Truth, draft: &Draft, clip: &Path, folder: &Path, tally: &mut Tally) {
    let off: Option<f64> = truth.screen.corners.zip(draft.found).map(|(t, f)| {
        let each = t.iter().zip(f.rounded());
        let off: Vec<f64> = each
            .map(|(t, f)| (t[0] - f[0]).hypot(t[1] - f[1]))
            .collect();
        tally.corners.extend(&off);
        off.into_iter().fold(0.0, f64::max)
    });
    tally.found += usize::from(draft.found.is_some());
    let told = match (draft.kind, case.want) {
        (Kind::Light(_), want) => want == Want::Light,
        (Kind::Swing(Some(_)), want) => want == Want::Direct,
        (Kind::Swing(None), want) => matches!(want, Want::Swing | Want::Feed),
    };
    tally.stimulus_wrong += usize::from(!told);
    let drafted = Rig::parse(&draft.toml(), "draft").expect("a rig");
    let true_rig = Rig::parse(&true_rig(case, truth, draft), "true").expect("a rig");
    let (mine, want) = (
        verdicts(&drafted, clip, folder),
        verdicts(&true_rig, clip, folder),
    );
    let longest = mine.len().max(want.len());
    let differ = (0..longest)
        .filter(|i| mine.get(*i) != want.get(*i))
        .count();
    let told_true = truth.trials.iter().map(|t| format!("{:?}", t.verdict));
    let mut judged = mine.iter().map(|m| m.split(' ').nth(1).unwrap_or(""));
    let untrue = told_true.filter(|t| judged.next() != Some(t)).count();
    tally.untrue += untrue;
    tally.trials += longest;
    tally.differ += differ;
    let px = |v: Option<f64>| v.map_or("-".to_owned(), |v| format!("{v:.2}"));
    println!(
        "{:<26} {:>11} {:>9} {:>9} {:>10} {:>7} {:>9}  {}",
        case.name,
        px(off),
        px(draft.found.map(|f| 2.0 * f.corner_u_px)),
        format!("{} of {}", mine.len(), truth.trials.len()),
        if differ == 0 {
            "same".to_owned()
        } else {
            format!("{differ} DIFFER")
        },
        untrue,
        if told { "told" } else { "WRONG" },
        draft.found.map_or("feed", |f| f.sureness()),
    );
}

/// The rig with true geometry; window and masks as drafted.
fn true_rig(case: &Case, truth: &Truth, draft: &Draft) -> String {
    let scene = Scene::from_toml(&case.scene, &case.name).expect("a scene");
    let screen = match truth.screen.corners {
        Some(c) => format!("corners = {c:?}"),
        None => "feed = true".to_owned(),
    };
    let masks = format!("masks = {:?}", draft.graphics.masks);
    let stimulus = match case.want {
        Want::Light => {
            let ([x, y], r) = (scene.light.center, 0.7 * scene.light.radius);
            let rect = [x - r, y - r, x + r, y + r];
            format!("kind = \"light\"\nregion = {rect:?}")
        }
        Want::Direct => {
            let view = scene.film.direct_view.expect("a direct view");
            format!("kind = \"swing\"\nregion = {view:?}")
        }
        _ => "kind = \"swing\"".to_owned(),
    };
    format!(
        "name = \"true\"\n[capture]\n{}\n[screen]\n{screen}\n{masks}\n[stimulus]\n{stimulus}\n\
         [trial]\nwindow_ms = {}\nhold_ms = 200\n",
        case.capture
            .map_or(format!("fps = {}", truth.capture_fps), str::to_owned),
        draft.window_ms()
    )
}

fn verdicts(rig: &Rig, clip: &Path, folder: &Path) -> Vec<String> {
    let done = match timed::tried(clip, rig.clone(), folder, 2) {
        Ok(done) => done,
        Err(faults) => return faults.iter().map(ToString::to_string).collect(),
    };
    let clips = done.written.into_iter().flat_map(|w| w.1.clips);
    clips
        .flat_map(|c| c.trials)
        .map(|t| format!("{:?} {:?} {:?}", t.side, t.verdict, t.reason))
        .collect()
}
