//! The scenes under `rigs/scenes` are what their comments say.

// Helpers of tests may stop the test.
#![allow(clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};

use focuslag::render::{Scene, Truth, Verdict, foresee};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("rigs/scenes")
}

fn read(name: &str) -> (String, Scene) {
    let text = std::fs::read_to_string(folder().join(name)).expect(name);
    let scene = Scene::from_toml(&text, name).unwrap_or_else(|e| panic!("{e}"));
    (text, scene)
}

fn truth(name: &str) -> Truth {
    foresee(&read(name).1).unwrap_or_else(|e| panic!("{e}"))
}

fn verdicts(name: &str) -> Vec<Verdict> {
    truth(name).trials.iter().map(|t| t.verdict).collect()
}

/// The rig a scene names shows the same screen, stimulus and window.
#[test]
fn every_scene_is_short_and_fits_its_rig() {
    for entry in std::fs::read_dir(folder()).expect("rigs/scenes") {
        let name = entry
            .expect("a file")
            .file_name()
            .into_string()
            .expect("a name");
        if !name.ends_with(".toml") {
            continue;
        }
        let (text, scene) = read(&name);
        let truth = foresee(&scene).unwrap_or_else(|e| panic!("{e}"));
        assert!(truth.trials.len() <= 8, "{name}");
        assert!(truth.frames as f64 <= 20.0 * truth.capture_fps, "{name}");
        let rig = text
            .lines()
            .find_map(|l| l.strip_prefix("# Rig: "))
            .expect("a rig");
        let rig = std::fs::read_to_string(folder().join(rig)).expect("the rig");
        let rig: toml::Table = rig.parse().expect("TOML");
        let corners: Vec<Vec<f64>> = rig["screen"]["corners"]
            .clone()
            .try_into()
            .expect("corners");
        let own = truth.screen.corners.expect("a screen");
        assert_eq!(corners, own.map(|p| p.to_vec()), "{name}");
        let area: [f64; 4] = rig["screen"]["af_area"]
            .clone()
            .try_into()
            .expect("an area");
        assert_eq!(area, truth.af_area, "{name}");
        assert_eq!(
            rig["capture"]["fps"].as_float(),
            Some(truth.capture_fps),
            "{name}"
        );
        assert_eq!(
            rig["stimulus"]["kind"].as_str(),
            Some(truth.stimulus),
            "{name}"
        );
        let at = rig["stimulus"].get("at").and_then(|a| a.as_str());
        assert_eq!(at.unwrap_or("rest"), truth.at, "{name}");
        let window = rig["trial"]["window_ms"].as_integer().expect("a window");
        assert_eq!(window as f64, truth.window_ms, "{name}");
    }
}

#[test]
fn scenes_hold_the_verdicts_they_are_for() {
    use Verdict::{Hit, Lost, Soft, Void};
    for name in [
        "rest-240-60.toml",
        "overshoot-120-60.toml",
        "hunting-240-30.toml",
    ] {
        assert_eq!(verdicts(name), [Hit; 6], "{name}");
    }
    let wrong = [Soft, Hit, Lost, Hit, Lost, Void, Lost, Hit];
    assert_eq!(verdicts("soft-lost-240-60.toml"), wrong);
    assert_eq!(
        verdicts("cover-240-60.toml"),
        [Hit, Hit, Hit, Hit, Soft, Hit]
    );
    assert_eq!(
        verdicts("light-240-60.toml"),
        [Hit, Hit, Hit, Soft, Lost, Hit]
    );
    assert_eq!(
        verdicts("unhurried-240-60.toml"),
        [Hit, Hit, Hit, Hit, Hit, Soft, Hit]
    );
    assert_eq!(
        verdicts("phone-rate-240-60.toml"),
        [Hit, Hit, Hit, Soft, Hit, Hit]
    );
    assert_eq!(
        verdicts("small-light-240-60.toml"),
        [Hit, Hit, Hit, Soft, Hit]
    );
    assert_eq!(verdicts("flicker-240-60.toml"), [Hit, Hit, Hit, Soft]);
    assert_eq!(verdicts("handheld-240-60.toml"), [Hit; 4]);
    let cues = &truth("handheld-240-60.toml").trials[0].cues;
    let names: Vec<_> = cues.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["focus box", "in focus"]);
    let early: Vec<_> = truth("early-240-60.toml")
        .trials
        .iter()
        .map(|t| t.early)
        .collect();
    let [yes, no] = [Some(true), Some(false)];
    assert_eq!(early, [yes, yes, no, no, yes, no]);
}
