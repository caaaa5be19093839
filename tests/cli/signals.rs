//! Kept signals: judging again gives what a fresh decode gives, to the byte.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};

use focuslag::job::{Events, JobOptions, Keeping, Line, run};
use focuslag::render::{Scene, render};
use focuslag::rig::Session;
use focuslag::store::evidence::{Evidence, beside};
use focuslag::store::schema::Timing;

use super::bench::{Bench, RIG, content};

const SWING: &str = "time --rig rig.toml --setup kit good.mp4 --force ";
const FINER: &str = "[trial]\nwindow_ms = 500\nhold_ms = 150\nsettle_permille = 3.0\n\
                     hit_permille = 6.0\n";

/// The files of signals in their folder.
fn kept(bench: &Bench, folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(bench.path(folder)).unwrap();
    let mut out: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    out.retain(|p| p.extension().is_some_and(|e| e == "npz"));
    out.sort();
    out
}

/// Times once, judges again with and without the clip, then with other
/// settings against a fresh decode with these.
fn agrees(bench: &Bench, rig: &str) {
    let timed = |out: &str| content(&bench.path(&format!("{out}/kit.timing.json")));
    for out in ["a", "b"] {
        std::fs::create_dir(bench.path(out)).unwrap();
    }
    let first = bench.run(&format!("{SWING} --out a"));
    first.says(0, &["written"]);
    assert!(!first.err.contains("not decoded"), "{first:?}");
    let bytes = timed("a");
    assert_eq!(kept(bench, "a/signals").len(), 1);
    let again = bench.run(&format!("{SWING} --out a"));
    again.says(0, &["1 of 1 clips were not decoded"]);
    assert_eq!((timed("a"), &again.out), (bytes.clone(), &first.out));

    let settings = rig.find("[trial]").unwrap();
    bench.file("rig.toml", &format!("{}{FINER}", &rig[..settings]));
    let fresh = bench.run(&format!("{SWING} --out b --no-signals"));
    fresh.says(0, &["written"]);
    assert!(!bench.path("b/signals").exists());
    std::fs::remove_file(bench.path("good.mp4")).unwrap();
    let judged = bench.run(&format!("{SWING} --out a --from-signals"));
    judged.says(0, &["1 of 1 clips were not decoded"]);
    assert_eq!(judged.out, fresh.out);
    assert_eq!(timed("a"), timed("b"));
    assert_ne!(timed("a"), bytes);
}

#[test]
fn a_swing_judged_again_is_the_swing_decoded_again() {
    agrees(&Bench::new(), RIG);
}

/// The same with a film of another scene and its rig.
fn other(scene: &str, rig: &str) -> Bench {
    let bench = Bench::new();
    let scene = Scene::from_toml(scene, "scene").unwrap();
    render(&scene, &bench.path("."), &bench.path("good.mp4"), |_, _| {}).unwrap();
    bench.file("rig.toml", rig);
    agrees(&bench, rig);
    bench
}

#[test]
fn a_light_judged_again_is_the_light_decoded_again() {
    let scene = "seed = 42\nstimulus = \"light\"\nwindow_ms = 600\n\
                 [light]\ncenter = [40, 250]\nradius = 8\non_ms = 1200\noff_ms = 500\n\
                 [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\nbezel_px = 8\n\
                 [film]\nsize = [320, 270]\n[[trial]]\n[[trial]]\n";
    let rig = RIG.replace(
        "kind = \"swing\"",
        "kind = \"light\"\nregion = [34, 244, 46, 256]",
    );
    other(scene, &rig);
}

#[test]
fn a_swing_seen_directly_judged_again_is_the_same_decoded_again() {
    let scene = "seed = 43\nwindow_ms = 600\n\
                 [motion]\nmove_ms = 250\npause_ms = 1000\nlead_ms = 400\n\
                 [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\nbezel_px = 8\n\
                 [film]\nsize = [320, 360]\ndirect_view = [40, 250, 180, 350]\n\
                 [[trial]]\n[[trial]]\n";
    let rig = RIG.replace(
        "kind = \"swing\"",
        "kind = \"swing\"\nregion = [40, 250, 180, 350]",
    );
    other(scene, &rig);
}

#[test]
fn a_cue_judged_again_is_the_cue_decoded_again() {
    let scene = "seed = 44\nwindow_ms = 600\n\
                 [motion]\nmove_ms = 250\npause_ms = 1000\nlead_ms = 400\n\
                 [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\nbezel_px = 8\n\
                 [film]\nsize = [320, 240]\n\
                 [[overlay]]\nname = \"lamp\"\nshape = \"fill\"\narea = [0.03, 0.04, 0.13, 0.14]\n\
                 since = \"onset\"\nat_ms = 250\nfor_ms = 400\n[[trial]]\n[[trial]]\n";
    let cue = "[[cue]]\nname = \"lamp\"\nkind = \"light\"\nregion = [0.04, 0.05, 0.12, 0.13]\n";
    let rig = RIG.replace("[trial]", &format!("{cue}[trial]"));
    let bench = other(scene, &rig);
    let text = String::from_utf8(content(&bench.path("a/kit.timing.json"))).unwrap();
    assert!(
        text.contains("\"lamp\"") && text.contains("shown_s"),
        "{text}"
    );
}

/// What the evidence beside a timing file holds: its bytes, and its stills by
/// trial.
fn evidence(bench: &Bench) -> (Vec<u8>, Vec<usize>) {
    let timing = bench.path("kit.timing.json");
    let bytes = content(&beside(&timing));
    let found = Evidence::of(&timing).unwrap();
    let timing: Timing = serde_json::from_slice(&content(&timing)).unwrap();
    let clip = found.of_hash(&timing.clips[0].sha256).unwrap();
    (bytes, clip.trials.iter().map(|t| t.stills.len()).collect())
}

#[test]
fn stills_are_taken_over_or_said_to_be_missing() {
    let bench = Bench::new();
    bench.run(SWING).says(0, &["written"]);
    let (bytes, stills) = evidence(&bench);
    assert_eq!(stills, [3, 3, 3]);
    let told = bench.run(SWING);
    told.says(0, &["1 of 1 clips were not decoded"]);
    assert!(!told.err.contains("still"), "{told:?}");
    assert_eq!(evidence(&bench), (bytes.clone(), stills.clone()));
    // From beside the signals.
    let timing = bench.path("kit.timing.json");
    std::fs::remove_file(beside(&timing)).unwrap();
    bench.run(SWING).says(0, &["1 of 1 clips were not decoded"]);
    assert_eq!(evidence(&bench), (bytes.clone(), stills.clone()));
    // Without either there is nothing to take them from.
    std::fs::remove_file(beside(&timing)).unwrap();
    let file = kept(&bench, "signals").remove(0);
    std::fs::remove_file(file.with_extension("evidence.zip")).unwrap();
    let told = bench.run(SWING);
    told.says(
        0,
        &["3 trials have a moment without a still", "--decode-again"],
    );
    assert_eq!(evidence(&bench).1, [0, 0, 0]);
    let told = bench.run("show kit.timing.json");
    assert!(told.out.contains("--decode-again"), "{told:?}");
    bench.run(&format!("{SWING} --decode-again")).says(0, &[]);
    assert_eq!(evidence(&bench), (bytes, stills));
}

#[test]
fn what_needs_decoding_is_named() {
    let bench = Bench::new();
    bench.run(SWING).says(0, &["written"]);
    let moved = RIG.replace("[stimulus]", "af_area = [0.3, 0.3, 0.6, 0.6]\n[stimulus]");
    bench.file("rig.toml", &moved);
    let told = bench.run(&format!("{SWING} --from-signals"));
    told.says(2, &["good.mp4", "`screen.af_area`", "--from-signals"]);
    let told = bench.run(SWING);
    told.says(0, &["`screen.af_area` changed", "decoded again"]);
    assert!(!told.err.contains("not decoded"), "{told:?}");
    // Both are kept now.
    bench.file("rig.toml", RIG);
    bench.run(SWING).says(0, &["1 of 1 clips were not decoded"]);
    let told = bench.run(&format!("{SWING} --decode-again"));
    assert!(!told.err.contains("not decoded"), "{told:?}");
    // A clip that was never decoded, and a folder that is not there.
    bench.bytes("new.mp4", b"another film");
    let told = bench.run("time --rig rig.toml --setup kit new.mp4 --from-signals --force");
    told.says(2, &["new.mp4: no signals of this clip are kept"]);
    let told = bench.run(&format!("{SWING} --from-signals --signals nowhere"));
    told.says(2, &["nowhere", "no signals are kept here"]);
    let told = bench.run(&format!("{SWING} --from-signals --no-signals"));
    assert_eq!(told.code, 2);
}

/// Two setups of one film in folders of their own, judged at two δ.
#[test]
fn setups_of_two_deltas_are_compared_at_one() {
    let bench = Bench::new();
    let settings = RIG.find("[trial]").unwrap();
    for (out, delta, window) in [("a", 7.0, 600), ("b", 8.0, 500)] {
        std::fs::create_dir(bench.path(out)).unwrap();
        let trial = format!("[trial]\nwindow_ms = {window}\nsettle_permille = {delta}\n");
        bench.file("rig.toml", &format!("{}{trial}", &RIG[..settings]));
        let time = format!("time --rig rig.toml --setup kit-{out} good.mp4 --out {out}");
        bench.run(&time).says(0, &["written"]);
    }
    // Nothing but the signals is needed, and nothing is written.
    std::fs::remove_file(bench.path("good.mp4")).unwrap();
    let files = "a/kit-a.timing.json b/kit-b.timing.json";
    let before = content(&bench.path("a/kit-a.timing.json"));
    let told = bench.run(&format!("compare {files}"));
    told.says(
        2,
        &[
            "(7 ‰)",
            "(8 ‰)",
            &format!("compare --at-permille 8 {files}"),
        ],
    );
    let gate = "gate --baseline a/kit-a.timing.json --candidate b/kit-b.timing.json";
    bench.run(gate).says(2, &["settle_permille = 8"]);
    for delta in ["8", "7.5"] {
        let told = bench.run(&format!("compare {files} --at-permille {delta} --json"));
        told.says(0, &[]);
        assert_eq!(told.json()["setups"].as_array().unwrap().len(), 2);
    }
    assert_eq!(content(&bench.path("a/kit-a.timing.json")), before);

    bench
        .run(&format!("compare {files} --at-permille 0.1"))
        .says(2, &["0.5 to 50"]);
    std::fs::remove_dir_all(bench.path("b/signals")).unwrap();
    bench.run(&format!("compare {files} --at-permille 7")).says(
        2,
        &[
            "b/kit-b.timing.json: no signals of ../good.mp4 are kept",
            "focuslag time SESSION.toml",
            "--signals",
        ],
    );
    // One folder that holds them all serves both.
    bench
        .run(&format!(
            "compare {files} --at-permille 3 --signals a/signals"
        ))
        .says(0, &[]);
}

#[test]
fn damaged_signals_are_told_and_made_anew() {
    let bench = Bench::new();
    let first = bench.run(SWING);
    let bytes = content(&bench.path("kit.timing.json"));
    let file = kept(&bench, "signals").remove(0);
    let whole = content(&file);
    // Cut short, and a hole in an array that is judged from.
    let mut holed = whole.clone();
    let name = b"band_energy.npy";
    let at = holed.windows(name.len()).position(|w| w == name);
    let at = at.expect("its local header") + 500;
    holed[at..at + 64].fill(0);
    for damaged in [&whole[..whole.len() / 2], &holed] {
        std::fs::write(&file, damaged).unwrap();
        let told = bench.run(&format!("{SWING} --from-signals"));
        assert!(told.code == 1 || told.code == 2, "{told:?}");
        told.says(told.code, &["these kept signals cannot be used"]);
        let told = bench.run(SWING);
        told.says(0, &["these kept signals cannot be used"]);
        assert_eq!(told.out, first.out);
        assert_eq!(content(&bench.path("kit.timing.json")), bytes);
        assert_eq!(content(&file), whole, "made anew, the same bytes");
    }
}

/// Gives up after so many frames in all.
struct Impatient {
    left: AtomicU64,
}

impl Events for Impatient {
    fn clip(&self, _: &str, _: u64) -> Line<'_> {
        Box::new(|_| {
            let less = |n: u64| Some(n.saturating_sub(1));
            let _ = self
                .left
                .fetch_update(Ordering::Relaxed, Ordering::Relaxed, less);
        })
    }
    fn warning(&self, text: &str) {
        panic!("{text}");
    }
    fn stopped(&self) -> bool {
        self.left.load(Ordering::Relaxed) == 0
    }
}

#[test]
fn a_session_stopped_half_way_goes_on_from_there() {
    let bench = Bench::new();
    let mut other = content(&bench.path("good.mp4"));
    // Another clip by its content: a box of eight bytes that says nothing.
    other.extend(b"\x00\x00\x00\x08free");
    bench.bytes("more.mp4", &other);
    bench.session("[[setup]]\nname = \"kit\"\nclips = [\"good.mp4\", \"more.mp4\"]\n");
    let frames = focuslag::clip::probe(
        &bench.path("good.mp4"),
        &focuslag::clip::ProbeOptions::default(),
    );
    let frames = frames.unwrap().stamps.len() as u64;
    let session = Session::read(&bench.path("session.toml")).unwrap();
    let options = JobOptions {
        out: bench.path("."),
        force: false,
        // One after the other: which clip is done first is then known.
        workers: 1,
        stdin: None,
        keeping: Keeping {
            folder: Some(bench.path("signals")),
            ..Keeping::default()
        },
    };
    let events = Impatient {
        left: AtomicU64::new(frames + frames / 2),
    };
    let done = run(&session, &options, &events).unwrap();
    assert!(done.stopped && done.written.is_empty());
    assert_eq!(kept(&bench, "signals").len(), 1, "no rest of the second");
    let told = bench.run("time session.toml");
    told.says(0, &["1 of 2 clips were not decoded"]);
    let bytes = content(&bench.path("kit.timing.json"));
    bench.run("time session.toml --no-signals").says(0, &[]);
    assert_eq!(content(&bench.path("kit.timing.json")), bytes);
}

/// What a run that was killed leaves is no obstacle to the next: stills come
/// before the signals that keep the clip from being decoded again, pictures of
/// another rig are not taken for this one's, half-made files are swept.
#[cfg(unix)]
#[test]
fn a_run_after_a_killed_one_ends_as_if_there_had_been_none() {
    use std::os::unix::fs::MetadataExt;
    let bench = Bench::new();
    let outputs = ["kit.timing.json", "kit.evidence.zip"].map(|name| bench.path(name));
    let read = || outputs.each_ref().map(|path| content(path));
    assert_eq!(bench.run(SWING).code, 0);
    let before = read();
    // When they got their names (rename(2) marks the status as changed).
    let named = |path: &PathBuf| {
        let about = std::fs::metadata(path).unwrap();
        (about.ctime(), about.ctime_nsec())
    };
    let signals = &kept(&bench, "signals")[0];
    let stills = signals.with_extension("evidence.zip");
    assert!(named(&stills) <= named(signals), "stills come first");

    bench.file("rig.toml", &RIG.replace("[18, 224]", "[24, 220]"));
    assert_eq!(bench.run(SWING).code, 0);
    let whole = read();
    assert_ne!(whole[1], before[1]);
    for (path, old) in outputs.iter().zip(&before) {
        std::fs::write(path, old).unwrap();
    }
    let half = bench.path("signals/.focuslag-abc.part");
    let hour_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(3600);
    std::fs::write(&half, "half").unwrap();
    let file = std::fs::File::options().write(true).open(&half).unwrap();
    file.set_modified(hour_ago).unwrap();
    bench.run(SWING).says(0, &["1 of 1 clips were not decoded"]);
    assert!(read() == whole, "as if nothing of the old rig were there");
    assert!(!half.exists());
}
