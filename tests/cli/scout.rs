//! A rig drafted from a clip, and what would be done with it.

use focuslag::render::{Scene, render};
use focuslag::rig::Rig;
use serde_json::json;

use super::bench::{Bench, RIG, content};

/// The true corners of the bench's clip.
const CORNERS: [[f64; 2]; 4] = [[20.0, 14.0], [300.0, 16.0], [302.0, 226.0], [18.0, 224.0]];

fn off(corners: &[[f64; 2]]) -> f64 {
    let pairs = corners.iter().zip(CORNERS);
    pairs
        .map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]))
        .fold(0.0, f64::max)
}

#[test]
fn a_draft_reads_as_a_rig_times_its_clip_and_is_not_replaced() {
    let bench = Bench::new();
    let told = bench.run("scout good.mp4 -o drafted.toml");
    assert_eq!(told.code, 0, "{told:?}");
    assert!(told.out.contains("Ready to time"), "{}", told.out);
    let rig = Rig::read(&bench.path("drafted.toml")).unwrap();
    let corners = rig.screen.corners.unwrap().corners.map(|p| [p.x, p.y]);
    assert!(off(&corners) < 1.5, "{corners:?}");
    let picture = image::open(bench.path("drafted.png")).unwrap();
    assert_eq!((picture.width(), picture.height()), (320, 240));
    let timed = bench.run("time --rig drafted.toml --setup kit-amber good.mp4 --json");
    assert_eq!(timed.code, 0, "{timed:?}");
    let written = content(&bench.path("drafted.toml"));
    bench
        .run("scout good.mp4 -o drafted.toml")
        .says(2, &["drafted.toml", "drafted.png", "--force"]);
    assert_eq!(content(&bench.path("drafted.toml")), written);
    let again = bench.run("scout good.mp4 -o drafted.toml --force --json");
    assert_eq!(again.code, 0, "{again:?}");
    assert_eq!(
        content(&bench.path("drafted.toml")),
        written,
        "the same bytes"
    );
    let json: serde_json::Value = serde_json::from_str(&again.out).unwrap();
    assert_eq!(json["stimulus"], "swing");
    assert_eq!(json["findings"].as_array().unwrap().len(), 7);
}

#[test]
fn what_cannot_be_drafted_is_said_and_nothing_is_written() {
    let bench = Bench::new();
    bench.file("words.mp4", "these are words");
    bench
        .run("scout words.mp4 -o a.toml")
        .says(1, &["words.mp4"]);
    bench
        .run("scout gone.mp4 -o a.txt")
        .says(2, &["gone.mp4", ".toml"]);
    bench
        .run("scout good.mp4 -o nowhere/a.toml")
        .says(2, &["nowhere"]);
    bench
        .run("scout good.mp4 -o a.toml --fps 0")
        .says(2, &["above 0"]);
    assert!(bench.listed("a.toml").is_empty() && bench.listed(".png").is_empty());
}

#[test]
fn a_rig_without_corners_has_them_found() {
    let bench = Bench::new();
    let rig: String = RIG
        .lines()
        .filter(|l| !l.starts_with("corners"))
        .map(|l| l.to_owned() + "\n")
        .collect();
    bench.file("rig.toml", &rig);
    let told = bench.run("time session.toml --json");
    assert_eq!(told.code, 0, "{told:?}");
    assert!(told.err.contains("found by itself"), "{}", told.err);
    let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    let clip = &json["timings"][0]["timing"]["clips"][0];
    let corners: Vec<[f64; 2]> = serde_json::from_value(clip["screen"]["corners"].clone()).unwrap();
    assert!(off(&corners) < 1.5, "{corners:?}");
    assert_eq!(clip["trials"].as_array().unwrap().len(), 3);
}

#[test]
fn check_says_what_would_be_done_and_all_faults_at_once() {
    let bench = Bench::new();
    let told = bench.run("check session.toml");
    assert_eq!(told.code, 0, "{told:?}");
    for word in [
        "kit-amber",
        "240.00",
        "would be written",
        "Nothing is wrong",
    ] {
        assert!(told.out.contains(word), "{word}\n{}", told.out);
    }
    assert!(bench.listed(".timing.json").is_empty());
    bench.bytes("broken.mp4", b"these are words");
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"good.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"broken.mp4\"]\n",
    );
    bench.run("check session.toml").says(1, &["broken.mp4"]);
    let rig = RIG.replace("fps = 240.0", "frame_size = [640, 480]");
    bench.file("rig.toml", &rig);
    let told = bench.run("check session.toml --json");
    told.says(2, &["capture.frame_size", "broken.mp4"]);
    let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(json["setups"].as_array().unwrap().len(), 2);
    assert_eq!(json["errors"].as_array().unwrap().len(), 1);
    assert_eq!(json["failures"].as_array().unwrap().len(), 1);
    bench.file("rig.toml", RIG);
    let told = bench.run("check --rig rig.toml good.mp4 --json");
    assert_eq!(told.code, 0, "{told:?}");
    let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(json["setups"][0]["clips"][0]["rate_from"], "rig");
}

/// Signals kept by `time` tell of the whole clip; without them its beginning is
/// looked at, and `--look 0` asks for headers alone.
#[test]
fn check_foresees_the_trials_that_time_finds() {
    let bench = Bench::new();
    let looked = |args: &str| {
        let told = bench.run(args);
        let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
        (told.code, json["setups"][0]["clips"][0]["look"].clone())
    };
    assert_eq!(
        looked("check session.toml --look 0 --json"),
        (0, json!(null))
    );
    let (code, begun) = looked("check session.toml --json");
    assert_eq!((code, &begun["from"]), (0, &json!("clip")), "{begun}");
    assert!(bench.listed("signals").is_empty());
    assert_eq!(bench.run("time session.toml").code, 0);
    let (code, kept) = looked("check session.toml --force --json");
    assert_eq!((code, &kept["from"]), (0, &json!("signals")));
    let timing: serde_json::Value =
        serde_json::from_slice(&content(&bench.path("kit-amber.timing.json"))).unwrap();
    let trials = timing["clips"][0]["trials"].as_array().unwrap();
    let void = trials.iter().filter(|t| t["verdict"] == "void");
    let foreseen = kept["void"].as_object().unwrap().values();
    let foreseen = foreseen.map(|n| n.as_u64().unwrap()).sum::<u64>();
    assert_eq!(foreseen, void.count() as u64, "{kept}");
    assert_eq!(kept["trials"], trials.len());
    assert_eq!(begun["trials"], kept["trials"]);
    // A window that nothing fits into.
    bench.file(
        "rig.toml",
        &RIG.replace("window_ms = 600", "window_ms = 3000"),
    );
    let told = bench.run("check session.toml --force");
    assert_eq!(told.code, 0, "{told:?}");
    assert!(told.out.contains("3 trials, void: 3 (cut)"), "{}", told.out);
    assert!(
        told.out.contains("the longest `window_ms` that fits"),
        "{}",
        told.out
    );
}

/// Where nothing starts a trial: what came nearest, a picture of it, and no picture
/// any more once something does.
#[test]
fn a_clip_without_a_trial_is_said_and_drawn() {
    let bench = Bench::new();
    let light = "kind = \"light\"\nregion = [2, 230, 12, 238]";
    bench.file("rig.toml", &RIG.replace("kind = \"swing\"", light));
    for command in ["check session.toml", "time session.toml"] {
        let told = bench.run(command);
        assert_eq!(told.code, 1, "{command}: {told:?}");
        let said = format!("{}{}", told.out, told.err);
        for word in [
            "no light went on in 2,230 to 12,238 px",
            "its brightest part went from",
            "a plain step of 4 points",
            "kit-amber.good.not-found.png",
        ] {
            assert!(said.contains(word), "{command}: {word}\n{said}");
        }
        let picture = content(&bench.path("kit-amber.good.not-found.png"));
        let picture = image::load_from_memory(&picture).unwrap();
        assert!(picture.width() == 1000 && picture.height() > 500);
    }
    bench.file("rig.toml", RIG);
    assert_eq!(bench.run("time session.toml").code, 0);
    assert!(bench.listed("not-found.png").is_empty());
}

#[test]
fn a_clip_without_a_screen_is_said_and_drawn() {
    let bench = Bench::new();
    // The feed itself fills the frame: there is no rim.
    let scene = "seed = 45\nwindow_ms = 600\n[film]\nsize = [320, 240]\nfeed = true\n[[trial]]\n";
    let scene = Scene::from_toml(scene, "scene").unwrap();
    render(&scene, &bench.path("."), &bench.path("feed.mp4"), |_, _| {}).unwrap();
    bench.file(
        "open.toml",
        "name = \"open\"\n[capture]\nfps = 240.0\n[stimulus]\nkind = \"swing\"\n",
    );
    for command in [
        "time --rig open.toml --setup kit-slate feed.mp4",
        "check --rig open.toml --setup kit-slate feed.mp4",
    ] {
        let told = bench.run(command);
        told.says(1, &["no screen was found", "kit-slate.feed.not-found.png"]);
        assert!(bench.path("kit-slate.feed.not-found.png").exists());
    }
    let told = bench.run("scout feed.mp4 -o feed.toml --fps 240");
    told.says(1, &["no screen was found", "feed.not-found.png"]);
    assert!(!bench.path("feed.toml").exists());
}

#[test]
fn a_folder_becomes_a_session_that_times() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("clips")).unwrap();
    for name in ["amber-1", "amber-2", "slate-1"] {
        let to = bench.path(&format!("clips/{name}.mp4"));
        std::fs::copy(bench.path("good.mp4"), to).unwrap();
    }
    bench.file("clips/words-1.mp4", "these are words");
    bench
        .run("scout clips/amber-1.mp4 clips/slate-1.mp4 -o drafted.toml")
        .says(2, &["--session"]);
    let told = bench.run("scout clips -o drafted.toml --session whole.toml");
    assert_eq!(told.code, 0, "{told:?}");
    assert!(
        told.out.contains("amber: 2 clips, rig drafted.toml"),
        "{}",
        told.out
    );
    assert!(told.out.contains("words: left out"), "{}", told.out);
    let timed = bench.run("time whole.toml --json");
    assert_eq!(timed.code, 0, "{timed:?}");
    assert!(bench.path("amber.timing.json").exists());
    assert!(bench.path("slate.timing.json").exists());
    let written = content(&bench.path("whole.toml"));
    bench
        .run("scout clips -o drafted.toml --session whole.toml")
        .says(2, &["whole.toml", "--force"]);
    assert_eq!(content(&bench.path("whole.toml")), written);
    std::fs::create_dir(bench.path("empty")).unwrap();
    bench
        .run("scout empty -o a.toml --session b.toml")
        .says(2, &["no clip in this folder"]);
}
