use std::path::PathBuf;

use super::super::*;
use crate::written::Faults;
use tempfile::TempDir;

const RIG: &str = "name = \"counter\"\nstimulus.kind = \"swing\"\n";
const TONE: &str = "name = \"beeper\"\nstimulus.kind = \"tone\"\n";

/// A folder as at the counter: two rigs, clips of three kits, two by hand.
pub(super) fn counter() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| {
        let path = dir.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    put("rigs/pendulum.toml", RIG);
    put("rigs/tone.toml", TONE);
    put(
        "rigs/bad.toml",
        "stimulus.kind = \"swing\"\ntrial.window_ms = 1\n",
    );
    for clip in [
        "amber-1",
        "amber-2",
        "amber-10",
        "amber-hand-near",
        "amber-hand-far",
    ] {
        put(&format!("day/{clip}.mp4"), "");
    }
    for clip in [
        "day/slate-1.mp4",
        "day/slate [2].mp4",
        "day/more/slate-1.mp4",
        "day/slate-1.truth.json",
    ] {
        put(clip, "");
    }
    dir
}

pub(super) fn read(dir: &TempDir, text: &str) -> Result<Session, Faults> {
    let path = dir.path().join("day/session.toml");
    std::fs::write(&path, text).unwrap();
    Session::read(&path)
}

pub(super) fn names(paths: &[PathBuf]) -> Vec<String> {
    let name = |p: &PathBuf| p.file_name().unwrap().to_string_lossy().into_owned();
    paths.iter().map(name).collect()
}

pub(super) const AMBER: &str =
    "rig = \"../rigs/pendulum.toml\"\n[[setup]]\nname = \"kit-amber\"\nclips = [\"amber-*.mp4\"]\n";
pub(super) const SLATE: &str = "[[setup]]\nname = \"kit-slate\"\nclips = [\"slate-1.mp4\"]\n";

/// Wants exactly one fault, on `line` of the session file.
fn one(text: &str, line: usize, key: &str, words: &str) {
    let all = read(&counter(), text).expect_err("a fault").list;
    assert_eq!(all.len(), 1, "one fault wanted: {all:#?}");
    let said = all[0].to_string();
    assert!(
        said.contains(&format!("session.toml:{line}: {key}: ")),
        "{line} {key} … {said}"
    );
    assert!(said.contains(words), "{words} … {said}");
    assert!(said.contains(';'), "says what to do: {said}");
}

pub(super) fn and_amber(more: &str, line: usize, key: &str, words: &str) {
    one(&format!("{AMBER}{more}"), line, key, words);
}

#[test]
fn a_session_is_read_whole() {
    let text = r#"
rig = "../rigs/pendulum.toml"
[[setup]]
name = "kit-amber"
tags = { firmware = "2.0", aperture = "f/2" }
clips = ["amber-?.mp4", "amber-10.mp4"]
reference = { near = "amber-hand-near.mp4", far = "amber-hand-far.mp4" }
[[setup]]
name = "kit-slate"
rig = "../rigs/tone.toml"
clips = ["slate-*.mp4", "slate [2].mp4"]
reference = "amber-hand-far.mp4"
[[exclude]]
clip = "amber-2.mp4"
trial = 3
reason = "somebody walked through"
"#;
    let session = read(&counter(), text).unwrap_or_else(|e| panic!("{e}"));
    let [amber, slate] = session.setups.as_slice() else {
        panic!("two setups")
    };
    assert_eq!(
        names(&amber.clips),
        ["amber-1.mp4", "amber-2.mp4", "amber-10.mp4"]
    );
    assert_eq!(amber.tags["firmware"], "2.0");
    assert_eq!(amber.rig.name, "counter");
    assert_eq!(amber.reference.as_ref().unwrap().clips().len(), 2);
    assert_eq!(names(&slate.clips), ["slate-1.mp4", "slate [2].mp4"]);
    assert_eq!(slate.rig.name, "beeper");
    assert!(matches!(slate.reference, Some(Reference::Single(_))));
    assert_eq!(session.excludes[0].clip, amber.clips[1]);
    assert_eq!(session.excludes[0].trial, 3);
    assert!(session.warnings.is_empty(), "{:?}", session.warnings);
}

#[test]
fn a_pattern_passes_over_references_folders_and_results() {
    let text = format!(
        "{AMBER}reference = {{ near = \"amber-hand-near.mp4\", far = \"amber-hand-far.mp4\" }}\n"
    );
    let session = read(&counter(), &text).unwrap();
    assert_eq!(
        names(&session.setups[0].clips),
        ["amber-1.mp4", "amber-10.mp4", "amber-2.mp4"]
    );
    let text = format!("{AMBER}{}", SLATE.replace("slate-1.mp4", "slate*"));
    let session = read(&counter(), &text).unwrap();
    assert_eq!(
        names(&session.setups[1].clips),
        ["slate [2].mp4", "slate-1.mp4"]
    );
}

#[test]
fn a_folder_with_brackets_is_no_pattern() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("day [1]");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("a.mp4"), "").unwrap();
    std::fs::write(folder.join("rig.toml"), RIG).unwrap();
    let text = "rig = 'rig.toml'\n[[setup]]\nname = 'x'\nclips = ['*.mp4']\n";
    let session = Session::parse(text, "s", &folder).unwrap();
    assert_eq!(names(&session.setups[0].clips), ["a.mp4"]);
}

#[test]
fn setups_are_checked() {
    let rig = "rig = \"../rigs/pendulum.toml\"\n";
    one(rig, 1, "setup", "is missing");
    one(&format!("{rig}setup = []"), 2, "setup", "is missing");
    one(
        &format!("{rig}setup = 3"),
        2,
        "setup",
        "list in square brackets",
    );
    let rigless = AMBER.split_once('\n').unwrap().1;
    one(rigless, 1, "setup[0].rig", "is missing");
    one(&AMBER.replace("pendulum", "none"), 1, "rig", "is not there");
    and_amber(
        "[[setup]]\nclips = [\"slate-1.mp4\"]",
        5,
        "setup[1].name",
        "is missing",
    );
    and_amber(
        "[[setup]]\nname = \"kit-slate\"",
        5,
        "setup[1].clips",
        "is missing",
    );
    and_amber("klips = 3", 5, "setup[0].klips", "not a known key");
    and_amber(
        "tags = { firmware = 2.0 }",
        5,
        "setup[0].tags.firmware",
        "in quotes",
    );
    and_amber(
        "tags = { note = \"a\\nb\" }",
        5,
        "setup[0].tags.note",
        "control",
    );
    and_amber("tags = 2", 5, "setup[0].tags", "give a table");
}

#[test]
fn names_must_not_share_a_file() {
    let named = |name: &str| SLATE.replace("kit-slate", name);
    let key = "setup[1].name";
    and_amber(&named("kit-amber"), 6, key, "like another setup");
    and_amber(&named("Kit-Amber"), 6, key, "one file");
    and_amber(&named("kit/amber"), 6, key, "one file");
    and_amber(&named(""), 6, key, "is empty");
    and_amber(&named(&"n".repeat(121)), 6, key, "at most 120");
    and_amber(&named("a\\u0007b"), 6, key, "control");
}

#[test]
fn clips_are_checked() {
    let clips = |list: &str| format!("{AMBER}{}", SLATE.replace("[\"slate-1.mp4\"]", list));
    let key = "setup[1].clips[0]";
    one(&clips("[]"), 7, "setup[1].clips", "is empty");
    one(
        &clips("\"slate-1.mp4\""),
        7,
        "setup[1].clips",
        "list in square brackets",
    );
    one(&clips("[\"cobalt-*.mp4\"]"), 7, key, "matches no file");
    one(&clips("[\"cobalt-1.mp4\"]"), 7, key, "is not there");
    one(&clips("[\"more\"]"), 7, key, "is a folder");
    one(&clips("[\"more*\"]"), 7, key, "matches no file");
    one(&clips("[\"slate-[.mp4\"]"), 7, key, "no pattern");
    one(&clips("[3]"), 7, key, "text in quotes");
    one(
        &clips("[\"slate-1.mp4\",\n\"slate-*.mp4\"]"),
        8,
        "setup[1].clips[1]",
        "twice",
    );
    one(
        &clips("[\"slate-1.mp4\", \"../day/slate-1.mp4\"]"),
        7,
        "setup[1].clips[1]",
        "twice",
    );
    let hand = "[\"slate-1.mp4\"]\nreference.near = \"slate-1.mp4\"";
    one(&clips(hand), 7, key, "reference at once");
    let hand = "[\"slate-?.mp4\"]\nreference.near = \"slate-1.mp4\"";
    one(&clips(hand), 7, key, "only clips that serve as a reference");
}

#[test]
fn one_clip_in_two_setups_is_a_warning() {
    let text = format!("{AMBER}{}", SLATE.replace("slate-1.mp4", "amber-1.mp4"));
    let session = read(&counter(), &text).unwrap();
    let [warning] = session.warnings.as_slice() else {
        panic!("one warning")
    };
    for word in ["session.toml:7", "amber-1.mp4", "kit-amber", "kit-slate"] {
        assert!(warning.contains(word), "{word} … {warning}");
    }
}

#[test]
fn references_are_checked() {
    let key = "setup[0].reference";
    and_amber(
        "reference.near = \"none.mp4\"",
        5,
        "setup[0].reference.near",
        "is not there",
    );
    and_amber("reference = \"amber-hand-near.mp4\"", 5, key, "two sides");
    and_amber("reference = {}", 5, key, "names no clip");
    and_amber("reference = 7", 5, key, "give a table");
    and_amber(
        "reference.left = \"amber-hand-near.mp4\"\nreference.near = \"amber-hand-near.mp4\"",
        5,
        "setup[0].reference.left",
        "not a known key",
    );
    let tone = AMBER.replace("pendulum", "tone");
    one(
        &format!("{tone}reference.near = \"amber-hand-near.mp4\""),
        5,
        key,
        "have none",
    );
}
