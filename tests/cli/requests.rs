//! Requests that cannot be met: found before anything is decoded, with file,
//! line and key.

use super::bench::{Bench, RIG};

const TIME: &str = "time --rig rig.toml --setup kit good.mp4";

/// A rig with one thing changed.
fn rig(from: &str, to: &str) -> String {
    assert!(RIG.contains(from), "{from}");
    RIG.replacen(from, to, 1)
}

#[test]
fn a_rig_that_cannot_be_is_refused_by_line_and_key() {
    let bench = Bench::new();
    for (text, words) in [
        (
            rig("[trial]", "[trial]\nwindow = 3"),
            &["rig.toml:10", "window"][..],
        ),
        (
            rig("[300, 16], [302, 226]", "[302, 226], [300, 16]"),
            &["rig.toml:6", "screen.corners"],
        ),
        (
            rig("[stimulus]", "af_area = [0.4, 0.4, 1.3, 0.6]\n[stimulus]"),
            &["rig.toml:7", "screen.af_area"],
        ),
        (
            rig("window_ms = 600", "window_ms = -600"),
            &["rig.toml:10", "trial.window_ms"],
        ),
        (rig("kind = \"swing\"", ""), &["stimulus.kind"]),
        (rig("[capture]", "[capture"), &["rig.toml:3"]),
    ] {
        bench.file("rig.toml", &text);
        let told = bench.run(TIME);
        told.says(2, words);
        assert!(told.out.is_empty() && bench.listed(".timing.json").is_empty());
    }
}

#[test]
fn a_rig_that_does_not_fit_its_clip_is_refused() {
    let bench = Bench::new();
    for (text, words) in [
        (
            rig("fps = 240.0", "fps = 240.0\nframe_size = [1920, 1080]"),
            &["good.mp4", "320×240", "1920×1080", "capture.frame_size"][..],
        ),
        (
            rig("[302, 226]", "[502, 326]"),
            &["good.mp4", "screen.corners", "outside the upright frame"],
        ),
        (
            rig("[stimulus]", "af_area = [0.5, 0.5, 0.52, 0.52]\n[stimulus]"),
            &["good.mp4", "screen.af_area"],
        ),
        (
            rig(
                "kind = \"swing\"",
                "kind = \"light\"\nregion = [300, 200, 400, 300]",
            ),
            &["good.mp4", "stimulus.region", "outside"],
        ),
    ] {
        bench.file("rig.toml", &text);
        let told = bench.run(TIME);
        told.says(2, words);
        assert!(told.out.is_empty() && bench.listed(".timing.json").is_empty());
    }
}

#[test]
fn a_session_that_cannot_be_is_refused_by_line_and_key() {
    let bench = Bench::new();
    let setup =
        |name: &str, clips: &str| format!("[[setup]]\nname = \"{name}\"\nclips = {clips}\n");
    for (text, words) in [
        (setup("kit", "[]"), &["session.toml:4", "clips"][..]),
        (
            setup("kit", "[\"amber-*.mp4\"]"),
            &["session.toml:4", "matches no file", "check the pattern"],
        ),
        (
            setup("kit", "[\"good.mp4\"]") + &setup("Kit", "[\"good.mp4\"]"),
            &["session.toml:6", "name"],
        ),
        (String::new(), &["session.toml", "setup"]),
        (setup(" ", "[\"good.mp4\"]"), &["session.toml:3", "name"]),
        (
            setup("kit", "[\"good.mp4\"]")
                + "[[exclude]]\nclip = \"other.mp4\"\ntrial = 0\nreason = \"x\"\n",
            &["session.toml:6", "other.mp4"],
        ),
    ] {
        bench.session(&text);
        let told = bench.run("time session.toml");
        told.says(2, words);
        assert!(told.out.is_empty() && bench.listed(".timing.json").is_empty());
    }
}

#[test]
fn all_faults_are_told_at_once() {
    let bench = Bench::new();
    bench.file(
        "rig.toml",
        &rig(
            "[trial]",
            "[trial]\nhold_ms = 0\ntolerance = 0.05\nwindo_ms = 3",
        ),
    );
    let told = bench.run(TIME);
    told.says(
        2,
        &["trial.hold_ms", "trial.tolerance", "windo_ms", "window_ms"],
    );
}

#[test]
fn the_wrong_files_are_told_from_sessions() {
    let bench = Bench::new();
    for (args, words) in [
        ("time", &["Usage:"][..]),
        ("time gone.toml", &["gone.toml", "cannot be read"]),
        ("time good.mp4", &["good.mp4", "not text", "--rig"]),
        (
            "compare rig.toml rig.toml",
            &[
                "rig.toml: is a rig file",
                "focuslag time first",
                "name a timing file",
            ],
        ),
        (
            "compare session.toml rig.toml",
            &["session.toml: is a session file", "focuslag time first"],
        ),
        (
            "compare good.mp4 good.mp4",
            &["good.mp4: is a film", "focuslag time first"],
        ),
        ("compare . .", &[".: is a folder; it holds no .timing.json"]),
        ("time session.toml rig.toml", &["one session file", "--rig"]),
        ("time good.mp4 --setup kit", &["--rig"]),
        ("time --rig rig.toml good.mp4", &["--setup"]),
        ("time --rig gone.toml --setup kit good.mp4", &["gone.toml"]),
        (
            "time --rig rig.toml --setup kit --tag firmware good.mp4",
            &["--tag", "KEY=VALUE"],
        ),
        ("time session.toml --workers 0", &["--workers"]),
        ("tiem session.toml", &["time"]),
        ("", &["Usage:"]),
    ] {
        let told = bench.run(args);
        told.says(2, words);
        assert!(told.out.is_empty(), "{args}: {told:?}");
    }
}
