//! Clips held against the corners in their rig.

use focuslag::render::{Scene, render};
use focuslag::store::schema::{Clip, Timing};

use super::bench::{Bench, content};

/// Where the rig has the screen.
const SAID: [[f64; 2]; 4] = [[70.0, 50.0], [350.0, 52.0], [352.0, 262.0], [68.0, 260.0]];

/// The same, moved by (9, −8) px and turned by 1.5° about its middle.
fn moved() -> [[f64; 2]; 4] {
    let (s, c) = 1.5f64.to_radians().sin_cos();
    SAID.map(|[x, y]| {
        let (x, y) = (x - 210.0, y - 156.0);
        [219.0 + c * x - s * y, 148.0 + s * x + c * y]
    })
}

fn film(bench: &Bench, name: &str, corners: &[[f64; 2]; 4]) {
    let scene = format!(
        "seed = 47\nwindow_ms = 600\n[near]\ntexture = \"leaves\"\n\
         [motion]\nmove_ms = 250\npause_ms = 1000\nlead_ms = 400\n\
         [screen]\ncorners = {corners:?}\nbezel_px = 10\n\
         [film]\nsize = [420, 320]\n[container]\nquality = 12\n[[trial]]\n[[trial]]\n[[trial]]\n"
    );
    let scene = Scene::from_toml(&scene, "scene").unwrap();
    render(&scene, &bench.path("."), &bench.path(name), |_, _| {}).unwrap();
}

fn rig(bench: &Bench, corners: &[[f64; 2]; 4]) {
    bench.file(
        "rig.toml",
        &format!(
            "name = \"counter\"\n[capture]\nfps = 240.0\n[screen]\ncorners = {corners:?}\n\
             [stimulus]\nkind = \"swing\"\n[trial]\nwindow_ms = 600\n"
        ),
    );
}

fn timed(bench: &Bench, name: &str) -> Clip {
    let bytes = content(&bench.path(name));
    let timing: Timing = serde_json::from_slice(&bytes).unwrap();
    timing.clips.into_iter().next().unwrap()
}

fn corners(clip: &Clip) -> [[f64; 2]; 4] {
    clip.screen.corners.unwrap()
}

#[test]
fn a_clip_beside_its_rig_is_measured_where_its_screen_lies() {
    let bench = Bench::new();
    film(&bench, "good.mp4", &SAID);
    film(&bench, "moved.mp4", &moved());
    rig(&bench, &SAID);
    let told = bench.run("time --rig rig.toml --setup fits good.mp4");
    assert_eq!(told.code, 0, "{told:?}");
    let fits = timed(&bench, "fits.timing.json");
    assert_eq!(corners(&fits), SAID);
    assert!(!told.err.contains("where the rig has it"), "{}", told.err);

    let told = bench.run("time --rig rig.toml --setup moved moved.mp4");
    told.says(
        0,
        &[
            "moved: moved.mp4: the screen lies up to",
            "more than 3.0 px",
            "focuslag scout",
        ],
    );
    let found = timed(&bench, "moved.timing.json");
    let pairs = corners(&found).into_iter().zip(moved());
    for (got, want) in pairs {
        let off = (got[0] - want[0]).hypot(got[1] - want[1]);
        assert!(off < 1.0, "{got:?} {want:?}");
    }
    // As with a rig of its own.
    let bytes = content(&bench.path("moved.timing.json"));
    rig(&bench, &moved());
    bench
        .run("time --rig rig.toml --setup own moved.mp4")
        .says(0, &[]);
    let own = timed(&bench, "own.timing.json");
    assert_eq!(found.trials.len(), 3);
    for (a, b) in found.trials.iter().zip(&own.trials) {
        assert_eq!(a.verdict, b.verdict);
        assert!((a.onset_s - b.onset_s).abs() < 0.005, "{a:?} {b:?}");
    }
    // Kept signals know where they were measured.
    rig(&bench, &SAID);
    let told = bench.run("time --rig rig.toml --setup moved moved.mp4 --force");
    told.says(
        0,
        &["1 of 1 clips were not decoded", "the screen lies up to"],
    );
    assert_eq!(content(&bench.path("moved.timing.json")), bytes);
}

#[test]
fn a_rig_that_points_at_nothing_refuses_its_clip_and_no_other() {
    let bench = Bench::new();
    film(&bench, "good.mp4", &SAID);
    // The screen has other proportions and lies aside.
    let aside = [[20.0, 20.0], [190.0, 20.0], [190.0, 140.0], [20.0, 140.0]];
    film(&bench, "aside.mp4", &aside);
    let narrow = [
        [290.0, 170.0],
        [390.0, 170.0],
        [390.0, 300.0],
        [290.0, 300.0],
    ];
    rig(&bench, &narrow);
    let told = bench.run("time --rig rig.toml --setup kit aside.mp4");
    told.says(
        1,
        &["aside.mp4: no screen lies where the rig has it", "290,170"],
    );
    assert!(bench.listed(".timing.json").is_empty());
    bench.file("narrow.toml", &content_of(&bench));
    rig(&bench, &SAID);
    bench.file(
        "session.toml",
        "rig = \"rig.toml\"\n[[setup]]\nname = \"kit-amber\"\nrig = \"narrow.toml\"\n\
         clips = [\"aside.mp4\"]\n[[setup]]\nname = \"kit-slate\"\nclips = [\"good.mp4\"]\n",
    );
    bench
        .run("time session.toml")
        .says(1, &["aside.mp4: no screen lies"]);
    assert_eq!(bench.listed(".timing.json"), ["kit-slate.timing.json"]);
}

fn content_of(bench: &Bench) -> String {
    String::from_utf8(content(&bench.path("rig.toml"))).unwrap()
}
