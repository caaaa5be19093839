//! A session's work in steps of one clip each, in any order and side by side.

use std::path::PathBuf;
use std::process::Child;

use focuslag::store::evidence::beside;

use super::bench::{Bench, RIG, Told, content};

/// Two setups of three clips, one of them in both.
fn bench() -> Bench {
    let bench = Bench::new();
    let good = content(&bench.path("good.mp4"));
    for (n, name) in ["amber-1.mp4", "amber-2.mp4", "slate-1.mp4"]
        .iter()
        .enumerate()
    {
        // Another clip by its content: a box that says nothing.
        let mut other = good.clone();
        other.extend(b"\x00\x00\x00\x09free");
        other.push(u8::try_from(n).unwrap());
        bench.bytes(name, &other);
    }
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"amber-?.mp4\", \"good.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"slate-1.mp4\", \"good.mp4\"]\n",
    );
    for folder in ["plain", "steps"] {
        std::fs::create_dir(bench.path(folder)).unwrap();
    }
    bench
}

/// The names of what a folder holds.
fn names(bench: &Bench, folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(bench.path(folder)).unwrap();
    let mut out: Vec<PathBuf> = entries.map(|e| e.unwrap().file_name().into()).collect();
    out.sort();
    out
}

/// Timing files and evidence of both folders.
fn same(bench: &Bench) {
    for name in ["kit-amber", "kit-slate"] {
        let of = |folder: &str| bench.path(&format!("{folder}/{name}.timing.json"));
        let (plain, steps) = (of("plain"), of("steps"));
        assert_eq!(content(&plain), content(&steps), "{name}");
        assert_eq!(content(&beside(&plain)), content(&beside(&steps)), "{name}");
    }
}

const ONLY: &str = "time session.toml --signals steps/signals --signals-only --only";

#[test]
fn steps_and_one_judging_give_the_bytes_of_one_run() {
    let bench = bench();
    bench.run("time session.toml --out plain").says(0, &[]);
    let listed = bench.run("check session.toml --list-clips");
    let clips: Vec<&str> = listed.out.lines().collect();
    assert_eq!(
        clips,
        ["amber-1.mp4", "amber-2.mp4", "good.mp4", "slate-1.mp4"]
    );
    for (k, clip) in clips.iter().rev().enumerate() {
        let told = bench.run(&format!("{ONLY} {clip}"));
        told.says(0, &[]);
        assert!(
            told.out
                .starts_with(&format!("{clip}: signals kept in steps/signals/"))
        );
        // Signals and stills, nothing else and no rest.
        assert_eq!(names(&bench, "steps/signals").len(), 2 * (k + 1));
        assert_eq!(names(&bench, "steps").len(), 1, "nothing is judged");
    }
    let judged = bench.run("time session.toml --out steps --from-signals");
    judged.says(0, &["4 of 4 clips were not decoded"]);
    assert!(!judged.err.contains("without a still"), "{judged:?}");
    same(&bench);
    assert_eq!(
        names(&bench, "plain/signals"),
        names(&bench, "steps/signals")
    );
}

#[test]
fn a_step_is_not_done_twice_unless_something_of_it_is_missing() {
    let bench = bench();
    let step = format!("{ONLY} amber-1.mp4");
    bench.run(&step).says(0, &[]);
    let told = bench.run(&step);
    told.says(0, &[]);
    assert_eq!(told.out.lines().count(), 1, "{told:?}");
    assert!(
        told.out.contains("signals were kept already in"),
        "{told:?}"
    );
    let json = bench.run(&format!("{step} --json")).json();
    assert_eq!(json["signals"][0]["made"], false);
    assert_eq!(json["unfinished"], false);
    // Ended between the two files.
    let stills = names(&bench, "steps/signals").remove(0);
    let stills = bench.path("steps/signals").join(stills);
    assert!(stills.to_string_lossy().ends_with(".evidence.zip"));
    let whole = content(&stills);
    std::fs::remove_file(&stills).unwrap();
    let told = bench.run(&step);
    assert!(told.out.contains("signals kept in"), "{told:?}");
    assert_eq!(content(&stills), whole);
}

#[test]
fn two_at_once_on_one_clip_do_not_harm_each_other() {
    let bench = bench();
    let start = || -> Child {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_focuslag"));
        command.current_dir(bench.path("."));
        command.args(ONLY.split_whitespace()).arg("amber-1.mp4");
        command.stdout(std::process::Stdio::piped());
        command.stderr(std::process::Stdio::piped());
        command.spawn().unwrap()
    };
    let both = [start(), start()];
    for child in both {
        Told::of(child.wait_with_output().unwrap()).says(0, &[]);
    }
    assert_eq!(names(&bench, "steps/signals").len(), 2);
    let told = bench.run(&format!("{ONLY} amber-1.mp4"));
    assert!(told.out.contains("kept already"), "{told:?}");
}

/// What a killed run leaves is in nobody's way.
#[test]
fn a_killed_step_is_done_again() {
    let bench = bench();
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_focuslag"));
    command.current_dir(bench.path("."));
    command.args(ONLY.split_whitespace()).arg("amber-1.mp4");
    let mut child = command.stdout(std::process::Stdio::null()).spawn().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(60));
    child.kill().unwrap();
    child.wait().unwrap();
    // The rest of a file, as one killed while writing leaves it.
    std::fs::create_dir_all(bench.path("steps/signals")).unwrap();
    bench.bytes("steps/signals/.focuslag-abc.part", b"half");
    bench.run(&format!("{ONLY} amber-1.mp4")).says(0, &[]);
    bench.run("time session.toml --out plain").says(0, &[]);
    for clip in ["amber-2.mp4", "good.mp4", "slate-1.mp4"] {
        bench.run(&format!("{ONLY} {clip}")).says(0, &[]);
    }
    bench
        .run("time session.toml --out steps --from-signals")
        .says(0, &[]);
    same(&bench);
}

#[test]
fn an_unreadable_clip_fails_alone() {
    let bench = bench();
    bench.bytes("amber-2.mp4", b"no film at all");
    let told = bench.run(&format!("{ONLY} amber-2.mp4 --json"));
    told.says(1, &["error: amber-2.mp4"]);
    let json = told.json();
    assert!(json["signals"][0]["error"].is_string(), "{json}");
    assert_eq!(json["unfinished"], false, "the same command would not help");
    for clip in ["amber-1.mp4", "good.mp4", "slate-1.mp4"] {
        bench.run(&format!("{ONLY} {clip}")).says(0, &[]);
    }
    bench
        .run("time session.toml --out plain")
        .says(1, &["amber-2.mp4"]);
    let told = bench.run("time session.toml --out steps");
    told.says(1, &["amber-2.mp4", "3 of 3 clips were not decoded"]);
    same(&bench);
}

#[test]
fn what_cannot_be_kept_may_be_had_by_the_same_command() {
    let bench = bench();
    bench.bytes("steps/signals", b"a file in the way");
    let told = bench.run(&format!("{ONLY} amber-1.mp4 --json"));
    told.says(1, &["the signals cannot be kept", "--signals"]);
    assert_eq!(told.json()["unfinished"], true);
}

/// A rig without corners, and a clip in which nothing moves: its screen is the
/// one that lies there in the setup's other clips, which its step looks at too.
#[test]
fn a_clip_focused_by_hand_takes_its_screen_from_the_others_in_its_step_too() {
    let bench = bench();
    bench.file(
        "rig.toml",
        &RIG.replace("corners = [[20, 14], [300, 16], [302, 226], [18, 224]]", ""),
    );
    // The target at rest, between two swings.
    let cut = "-v error -y -ss 1.15 -t 0.45 -i good.mp4 -c:v libx264 -crf 12 card.mp4";
    let mut made = std::process::Command::new("ffmpeg");
    made.current_dir(bench.path("."))
        .args(cut.split_whitespace());
    if !made.status().is_ok_and(|s| s.success()) {
        println!("skipped: the ffmpeg tool is not installed, or has no encoder libx264");
        return;
    }
    let alone = bench.run("time --rig rig.toml --setup kit-cobalt card.mp4 --no-signals");
    alone.says(1, &["card.mp4", "does not change"]);
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"amber-1.mp4\"]\n\
         reference = { near = \"card.mp4\" }\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"slate-1.mp4\"]\n",
    );
    let plain = bench.run("time session.toml --out plain");
    assert!(!plain.err.contains("error"), "{plain:?}");
    for clip in ["card.mp4", "slate-1.mp4", "amber-1.mp4"] {
        bench.run(&format!("{ONLY} {clip}")).says(0, &[]);
    }
    bench
        .run("time session.toml --out steps --from-signals")
        .says(0, &["3 of 3"]);
    same(&bench);
}

/// Two rigs of one name that look at other parts of the screen.
#[test]
fn a_clip_of_two_rigs_is_kept_for_both_in_one_step() {
    let bench = bench();
    let other = RIG.replace("[stimulus]", "af_area = [0.3, 0.3, 0.6, 0.6]\n[stimulus]");
    bench.file("other.toml", &other);
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\nclips = [\"amber-1.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"amber-1.mp4\"]\nrig = \"other.toml\"\n",
    );
    let told = bench.run(&format!("{ONLY} amber-1.mp4"));
    told.says(0, &[]);
    assert_eq!(told.out.matches("signals kept in").count(), 2, "{told:?}");
    bench.run("time session.toml --out plain").says(0, &[]);
    bench
        .run("time session.toml --out steps --from-signals")
        .says(0, &["1 of 1"]);
    same(&bench);
}

#[test]
fn wrong_requests_are_refused() {
    let bench = bench();
    let told = bench.run(&format!("{ONLY} rig.toml"));
    told.says(
        2,
        &["rig.toml", "is no clip of this session", "--list-clips"],
    );
    for more in ["--from-signals", "--no-signals", "--force"] {
        let told = bench.run(&format!("time session.toml --signals-only {more}"));
        assert_eq!(told.code, 2, "{told:?}");
    }
    let told = bench.run("time session.toml --only amber-1.mp4");
    assert_eq!(told.code, 2, "{told:?}");
    assert!(!bench.path("steps/signals").exists());
    let told = bench.run(
        "time --rig rig.toml --setup kit-amber amber-1.mp4 --signals steps/signals --signals-only",
    );
    told.says(0, &[]);
    assert!(
        told.out.starts_with("amber-1.mp4: signals kept in"),
        "{told:?}"
    );
}
