//! Several clips of one setup, framed anew for each, without a clip focused by
//! hand: a clip whose every trial stops out of focus is held against the others.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "support/timed.rs"]
mod timed;

use std::path::Path;

use focuslag::render::{Scene, render};
use focuslag::rig::{Rig, Session};
use focuslag::store::schema::{Clip, ReferenceFrom, Verdict};
use timed::ran;

const FRAMINGS: [&str; 3] = [
    "[[30, 18], [390, 22], [394, 290], [28, 286]]",
    "[[36, 24], [388, 20], [390, 284], [34, 290]]",
    "[[26, 20], [392, 26], [390, 294], [24, 288]]",
];

const RIG: &str = "name = \"r\"\n[capture]\nfps = 240\n\
    [stimulus]\nkind = \"light\"\nregion = [22, 312, 38, 328]\n[trial]\nwindow_ms = 900\n";

/// A clip of two trials that all end `permille` out of focus.
fn film(folder: &Path, framing: usize, permille: u32) {
    let outcome = if permille > 0 {
        "outcome = \"soft\"\n"
    } else {
        ""
    };
    let scene = format!(
        "seed = {}\nlook_seed = 77\nstimulus = \"light\"\nwindow_ms = 900\n\
         [light]\ncenter = [30, 320]\nradius = 8\non_ms = 1500\noff_ms = 700\n\
         [screen]\ncorners = {}\nbezel_px = 8\n[film]\nsize = [420, 340]\n\
         [container]\npreset = \"ultrafast\"\nquality = 14\n[lens]\nresidual_permille = {}\n{}",
        framing + 1,
        FRAMINGS[framing],
        permille.max(1),
        format!("[[trial]]\n{outcome}").repeat(2),
    );
    let scene = Scene::from_toml(&scene, "scene").unwrap();
    let clip = folder.join(format!("{framing}-{permille}.mp4"));
    render(&scene, folder, &clip, |_, _| {}).unwrap();
}

fn clips(folder: &Path, names: [&str; 3]) -> Vec<Clip> {
    let rig = Rig::parse(RIG, "rig").unwrap();
    let mut session = Session::of_one("kit-amber", folder.join(names[0]), rig);
    session.setups[0].clips = names.map(|n| folder.join(n)).to_vec();
    let mut done = ran(&session, folder, 2).expect("a sound request");
    done.written.remove(0).1.clips
}

#[test]
fn a_clip_that_never_focuses_is_held_against_those_that_do() {
    let dir = tempfile::tempdir().unwrap();
    for (framing, permille) in [(0, 0), (1, 0), (2, 0), (2, 10), (2, 20)] {
        film(dir.path(), framing, permille);
    }
    let warned = |c: &Clip| {
        c.warnings
            .iter()
            .any(|w| w.contains("another clip of the setup"))
    };
    for off in [0.0f64, 10.0, 20.0] {
        let third = format!("2-{off}.mp4");
        let all = clips(dir.path(), ["0-0.mp4", "1-0.mp4", &third]);
        for clip in &all[..2] {
            assert!(
                clip.trials.iter().all(|t| t.verdict == Verdict::Hit),
                "{off}"
            );
            assert!(!warned(clip), "{:?}", clip.warnings);
        }
        let last = &all[2];
        assert_eq!(warned(last), off > 0.0, "{:?}", last.warnings);
        for trial in &last.trials {
            let end = trial.blur_permille.as_ref().unwrap().end.unwrap();
            let is = |v| trial.verdict == v;
            match off {
                0.0 => assert!(is(Verdict::Hit), "{end}"),
                10.0 => assert!(is(Verdict::Soft) && (end - off).abs() < 2.0, "{end}"),
                // So far out a clip alone hardly tells a stop from no move.
                _ => assert!(is(Verdict::Soft) || is(Verdict::Lost), "{end}"),
            }
            assert!(off == 0.0 || trial.reference_from == Some(ReferenceFrom::Setup));
        }
    }
}
