//! What the camera claims, held against films that say when it claimed it: a box
//! that turns green, a lamp on the screen, a beep; a tone that starts trials;
//! a clip that is slowed down in part.

// Helpers of tests may stop the test.
#![allow(clippy::expect_used, clippy::panic)]

#[path = "support/pair.rs"]
mod pair;
#[path = "support/timed.rs"]
mod timed;

use focuslag::job::{Done, JobError};
use focuslag::render::{Scene, Truth, render};
use focuslag::rig::Rig;
use focuslag::stats::describe::describe;
use focuslag::stats::sample::Latencies;
use focuslag::store::schema::{Clip, Verdict};

/// A small film of this scene and what `rig` (more TOML) makes of it.
fn tried(name: &str, scene: &str, rig: &str) -> (Truth, Result<Done, Vec<JobError>>) {
    let dir = tempfile::tempdir().expect("a folder");
    let scene = Scene::from_toml(scene, "small.toml").expect("a scene");
    let path = dir.path().join(name);
    let truth = render(&scene, dir.path(), &path, |_, _| ()).expect("a clip");
    let corners = truth.screen.corners.expect("a screen");
    let rig = format!("name = \"r\"\nscreen.corners = {corners:?}\n{rig}\n");
    let rig = Rig::parse(&rig, "rig").expect("a rig");
    (truth, timed::tried(&path, rig, dir.path(), 2))
}

fn timed(name: &str, scene: &str, rig: &str) -> (Truth, Clip) {
    let (truth, done) = tried(name, scene, rig);
    let mut done = done.unwrap_or_else(|e| panic!("{e:?}"));
    assert!(!done.written.is_empty(), "{:?}", done.failures);
    (truth, done.written.remove(0).1.clips[0].clone())
}

const SCREEN: &str = "[screen]\nrefresh_hz = 60\n\
    corners = [[20, 14], [380, 16], [382, 294], [18, 292]]\n\
    [film]\nfps = 240\nsize = [400, 310]\n";

/// Four trials on a swing; the box is around the focus area.
fn swing(seed: u64, trials: &str, more: &str) -> String {
    format!("seed = {seed}\n{trials}\n{SCREEN}[motion]\nmove_ms = 250\npause_ms = 1950\n{more}\n")
}

const FOUR: &str = "[[trial]]\ndrive_ms = 180\n[[trial]]\ndrive_ms = 260\n\
    [[trial]]\ndrive_ms = 120\n[[trial]]\ndrive_ms = 200\n";
const SWING: &str = "stimulus.kind = \"swing\"\n";

/// Each trial's shown times against the truth; the largest difference, s.
fn worst(truth: &Truth, clip: &Clip, name: &str) -> f64 {
    assert_eq!(clip.trials.len(), truth.trials.len());
    let mut worst: f64 = 0.0;
    for (t, found) in truth.trials.iter().zip(&clip.trials) {
        let want = t.cues.iter().find(|c| c.name == name).map(|c| c.shown_s);
        let want = want.filter(|s| (found.onset_s..=found.end_s).contains(s));
        let got = found.cues[name].shown_s;
        assert_eq!(got.is_some(), want.is_some(), "{name}: {want:?} {found:?}");
        if let (Some(want), Some(got)) = (want, got) {
            worst = worst.max((want - got).abs());
        }
    }
    println!("{name}: worst {:.2} ms", 1e3 * worst);
    worst
}

/// A green box in three trials of four, and a lamp in the corner of the screen
/// in two: times within one update of the truth, none invented.
#[test]
fn a_box_and_a_lamp_on_the_screen_are_timed() {
    for (seed, name, film) in [
        (21, "a.mp4", ""),
        (
            22,
            "b.mp4",
            "[container]\ndepth = 10\nfull_range = true\n[film.tremor]\npx = 0.6\n",
        ),
    ] {
        let more = format!(
            "[[overlay]]\nname = \"af box\"\narea = [0.3, 0.24, 0.7, 0.76]\nsince = \"onset\"\n\
             at_ms = 330\nfor_ms = 800\ntrials = [0, 1, 3]\ncolor = [0.19, 0.75, 0.25]\n\
             line_permille = 10\n\
             [[overlay]]\nname = \"lamp\"\nshape = \"fill\"\narea = [0.03, 0.04, 0.12, 0.12]\n\
             since = \"onset\"\nat_ms = 250\nfor_ms = 400\ntrials = [1, 2]\n{film}"
        );
        let rig = format!(
            "{SWING}screen.masks = [[0.28, 0.22, 0.32, 0.78]]\n\
             [[cue]]\nname = \"af box\"\nkind = \"color\"\ncolor = \"#30c040\"\n\
             region = [0.25, 0.2, 0.75, 0.8]\n\
             [[cue]]\nname = \"lamp\"\nkind = \"light\"\nregion = [0.04, 0.05, 0.11, 0.11]\n"
        );
        let (truth, clip) = timed(name, &swing(seed, FOUR, &more), &rig);
        for cue in ["af box", "lamp"] {
            assert!(worst(&truth, &clip, cue) < 1.0 / 60.0, "{seed} {cue}");
        }
    }
}

/// A thin box is filmed as another colour than it is drawn in: the rig's own colour
/// finds none, and what is then said of the nearest finds every one.
#[test]
fn a_box_that_is_never_found_tells_its_colour_as_filmed() {
    let more = "[[overlay]]\nname = \"af box\"\narea = [0.3, 0.24, 0.7, 0.76]\nsince = \"onset\"\n\
        at_ms = 330\nfor_ms = 800\ntrials = [0, 1, 3]\ncolor = [0.19, 0.88, 0.25]\n\
        line_permille = 4\n";
    let rig = |color: &str| {
        format!(
            "{SWING}screen.masks = [[0.28, 0.22, 0.32, 0.78]]\n\
             [[cue]]\nname = \"af box\"\nkind = \"color\"\ncolor = \"{color}\"\n\
             tolerance = 0.06\nregion = [0.25, 0.2, 0.75, 0.8]\n"
        )
    };
    let scene = swing(23, FOUR, more);
    let (_, clip) = timed("a.mp4", &scene, &rig("#30e040"));
    let never = clip.warnings.iter().find(|w| w.contains("never shown"));
    let never = never.unwrap_or_else(|| panic!("{:?}", clip.warnings));
    println!("{never}");
    let (_, nearest) = never
        .split_once("nearest in its region with ")
        .expect("a colour");
    let (truth, clip) = timed("a.mp4", &scene, &rig(&nearest[..7]));
    assert!(worst(&truth, &clip, "af box") < 1.0 / 60.0);
    assert!(!clip.warnings.iter().any(|w| w.contains("never shown")));
}

/// A beep in MP4 (AAC), QuickTime and Matroska (samples), from a track that
/// begins later than the picture: within 5 ms.
#[test]
fn a_beep_is_timed_to_five_milliseconds() {
    for (seed, name, sound) in [
        (31, "a.mp4", ""),
        (32, "b.mov", "[sound]\nbegin_ms = 137\nnoise = 0.02\n"),
        (
            33,
            "c.mkv",
            "[sound]\nbegin_ms = 400\n[container]\nfirst_stamp_s = 1.5\n",
        ),
    ] {
        let more = format!(
            "[[beep]]\nname = \"beep\"\nsince = \"onset\"\nat_ms = 410\ntrials = [0, 2, 3]\n{sound}"
        );
        let rig = format!("{SWING}[[cue]]\nname = \"beep\"\nkind = \"tone\"\n");
        let (truth, clip) = timed(name, &swing(seed, FOUR, &more), &rig);
        assert!(worst(&truth, &clip, "beep") < 0.005, "{name}");
        assert!(clip.warnings.iter().any(|w| w.contains("3 ms a metre")));
    }
}

/// Claims of every kind: too soon, with focus, too late, about a picture that
/// never was sharp, about one that did not stay, and a box that was on already.
#[test]
fn false_claims_are_counted_exactly() {
    let trials = "[[trial]]\ndrive_ms = 300\n[[trial]]\ndrive_ms = 200\n\
        [[trial]]\noutcome = \"soft\"\nresidual_permille = 16\n[[trial]]\ndrive_ms = 200\n\
        [[trial]]\ndrive_ms = 200\n";
    let mark = |at_ms: i32, for_ms: u32, trials: &str| {
        format!(
            "[[overlay]]\nname = \"af box\"\nshape = \"fill\"\narea = [0.05, 0.05, 0.14, 0.14]\n\
             since = \"settle\"\nat_ms = {at_ms}\nfor_ms = {for_ms}\ntrials = [{trials}]\n\
             color = [0.19, 0.75, 0.25]\n"
        )
    };
    let more = [
        mark(-160, 300, "0"),
        mark(300, 300, "1"),
        mark(200, 300, "2"),
        mark(250, 4000, "4"),
    ]
    .concat();
    let rig = format!(
        "{SWING}[[cue]]\nname = \"af box\"\nkind = \"color\"\ncolor = [48, 192, 64]\n\
         region = [0.03, 0.03, 0.16, 0.16]\n"
    );
    let (truth, clip) = timed("a.mp4", &swing(41, trials, &more), &rig);
    let said: Vec<Verdict> = clip.trials.iter().map(|t| t.verdict).collect();
    println!(
        "{:?} {said:?}",
        truth.trials.iter().map(|t| t.verdict).collect::<Vec<_>>()
    );
    let got = describe(&[clip], Latencies::AsSeen, 0.95);
    let c = got.cues["af box"];
    println!("{c:?}");
    // What begins blurred is judged wherever the lens came from.
    assert_eq!(c.judged, 5);
    assert_eq!(
        (c.claimed_not_sharp, c.claimed_early, c.sharp_first),
        (1, 1, 2)
    );
    assert_eq!(
        (c.claimed_with_focus, c.claimed_then_lost, c.on_at_onset),
        (0, 0, 0)
    );
    let early = c.early_by_ms.expect("one was early")[1];
    assert!((100.0..190.0).contains(&early), "{early}");
}

/// A box that stays from one trial into the next claims nothing about it.
#[test]
fn a_box_that_was_on_already_is_told() {
    let more = "[[overlay]]\nname = \"af box\"\nshape = \"fill\"\narea = [0.05, 0.05, 0.14, 0.14]\n\
        since = \"onset\"\nat_ms = 600\nfor_ms = 2200\ntrials = [0]\ncolor = [0.19, 0.75, 0.25]\n";
    let rig = format!(
        "{SWING}[[cue]]\nname = \"af box\"\nkind = \"color\"\ncolor = \"#30c040\"\n\
         region = [0.03, 0.03, 0.16, 0.16]\n"
    );
    let (_, clip) = timed("a.mp4", &swing(42, FOUR, more), &rig);
    let cue = |i: usize| clip.trials[i].cues["af box"].clone();
    assert!(cue(0).shown_s.is_some() && !cue(0).on_at_onset);
    assert!(cue(1).shown_s.is_none() && cue(1).on_at_onset);
    assert!(cue(2).shown_s.is_none() && !cue(2).on_at_onset);
}

/// Trials that start by a tone: onsets to 5 ms, verdicts as the truth has them.
#[test]
fn a_tone_starts_trials() {
    let scene =
        format!("seed = 51\nstimulus = \"tone\"\n{FOUR}{SCREEN}[container]\nb_frames = 2\n");
    let (truth, clip) = timed("a.mp4", &scene, "stimulus.kind = \"tone\"\n");
    assert_eq!(clip.trials.len(), 4, "{:?}", clip.trials);
    for (k, (t, found)) in truth.trials.iter().zip(&clip.trials).enumerate() {
        let off = found.onset_s - t.onset_s;
        assert!(off.abs() < 0.005, "{off}");
        assert_eq!((found.side, found.early), (None, Some(false)));
        assert_eq!(found.verdict, Verdict::Hit);
        assert!(found.latency_ms.is_some() && found.latency_corrected_ms.is_none());
        let pair = truth
            .settled(k, found.delta_permille.expect("δ"))
            .expect("a settle")
            .pair;
        let got = found.settle_s.expect("a hit");
        let unit = 1.0 / 60.0 + 1.0 / 240.0;
        assert!(pair::agrees(pair, got, unit), "{pair:?} {got}");
    }
}

/// Without sound a tone cannot start trials, and a beep cannot be listened for.
#[test]
fn a_clip_without_sound_says_so() {
    let scene = swing(52, "[[trial]]\n[[trial]]\n", "");
    let (_, done) = tried("mute.mp4", &scene, "stimulus.kind = \"tone\"\n");
    let done = done.expect("a sound request");
    let said = done.failures.join("\n");
    assert!(
        said.contains("mute.mp4") && said.contains("no sound track"),
        "{said}"
    );
    let rig = format!("{SWING}[[cue]]\nname = \"beep\"\nkind = \"tone\"\n");
    let (_, clip) = timed("mute.mp4", &scene, &rig);
    assert!(clip.trials.iter().all(|t| t.cues.is_empty()));
    assert!(
        clip.warnings
            .iter()
            .any(|w| w.contains("\"beep\"") && w.contains("no sound track"))
    );
    let two = "stimulus.kind = \"tone\"\n[[cue]]\nname = \"beep\"\nkind = \"tone\"\n";
    let faults = tried("mute.mp4", &scene, two).1.expect_err("two tones");
    assert!(
        faults[0].to_string().contains("two beeps apart"),
        "{faults:?}"
    );
}

/// The middle of a film is stored eight times slower. With the table the times
/// are those of the film stored as shot; without it nobody can know, and a
/// table that does not fit is refused.
#[test]
fn a_clip_slowed_in_part_is_timed_by_its_table() {
    let slow =
        "[container]\nsegments = [{ from_s = 1.5, fps = 30 }, { from_s = 5.25, fps = 240 }]\n";
    let scene = swing(61, FOUR, slow);
    // 1.5 s as they are, 3.75 s eight times slower, the rest as it is.
    let table = "capture.segments = [{ from_s = 0.0, fps = 240 }, { from_s = 1.5, fps = 240 }, \
        { from_s = 31.5, fps = 240 }]\n";
    let (truth, clip) = timed("slow.mp4", &scene, &format!("{SWING}{table}"));
    let (_, plain) = timed("plain.mp4", &swing(61, FOUR, ""), SWING);
    assert_eq!(clip.trials.len(), truth.trials.len());
    assert!((clip.duration_s - plain.duration_s).abs() < 0.01);
    let unit = 1.0 / 60.0 + 1.0 / 240.0;
    let trials = truth.trials.iter().zip(&clip.trials).zip(&plain.trials);
    for (k, ((t, slow), plain)) in trials.enumerate() {
        println!(
            "onset {:+.4} settle {:?} {:?}",
            slow.onset_s - t.onset_s,
            slow.settle_s,
            t.settle_s
        );
        assert_eq!(slow.verdict, Verdict::Hit);
        // The coder spends its bits by the stamps, so the pixels differ a little.
        assert!(
            (slow.onset_s - plain.onset_s).abs() < unit,
            "{slow:?} {plain:?}"
        );
        assert!(
            (slow.onset_s - t.onset_s).abs() < 2.0 * unit,
            "{slow:?} {t:?}"
        );
        let pair = truth
            .settled(k, slow.delta_permille.expect("δ"))
            .expect("a settle")
            .pair;
        let got = slow.settle_s.expect("a hit");
        assert!(pair::agrees(pair, got, unit), "{pair:?} {got}");
    }
    for (rig, words) in [
        (
            SWING.to_owned(),
            "as in a clip that is slowed down in parts",
        ),
        (format!("{SWING}capture.fps = 240\n"), "capture.segments"),
        (
            format!("{SWING}capture.segments = [{{ from_s = 0.0, fps = 240 }}]\n"),
            "start a part where the stamps change",
        ),
    ] {
        let faults = tried("slow.mp4", &scene, &rig)
            .1
            .expect_err("no sound request");
        let said = faults[0].to_string();
        assert!(said.contains(words) && said.contains("slow.mp4"), "{said}");
    }
}
