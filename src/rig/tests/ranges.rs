use super::super::*;
use super::{SMALL, one, one_of};
use crate::units::Millis;

#[test]
fn capture_is_checked() {
    one("capture.fps = -3", 3, "capture.fps", "from 0.01 to 50000");
    one("capture.fps = 1e6", 3, "capture.fps", "from 0.01 to 50000");
    one(
        "capture.frame_size = [1920]",
        3,
        "capture.frame_size",
        "[width, height]",
    );
    one(
        "capture.frame_size = [1920, 2.5]",
        3,
        "capture.frame_size[1]",
        "whole number",
    );
    one(
        "capture.frame_size = [0, 1080]",
        3,
        "capture.frame_size[0]",
        "from 16",
    );
    let jumbled = "capture.segments = [{ from_s = 0, fps = 30 }, { from_s = 5, fps = 960 },\n{ from_s = 5, fps = 30 }]";
    one(jumbled, 3, "capture.segments", "not in order");
    one(
        "capture.segments = [{ from_s = 2, fps = 30 }]",
        3,
        "capture.segments",
        "before 2 s",
    );
    one(
        "capture.segments = [{ fps = 30 }]",
        3,
        "capture.segments[0].from_s",
        "is missing",
    );
    one(
        "capture.segments = [{ from_s = 0 }]",
        3,
        "capture.segments[0].fps",
        "is missing",
    );
    one(
        "capture.segments = [{ from_s = -1, fps = 30 }]",
        3,
        "capture.segments[0].from_s",
        "from 0",
    );
}

#[test]
fn corners_are_checked() {
    let key = "screen.corners";
    let order = "top left, top right, bottom right, bottom left";
    one("screen.corners = [[0,0],[90,0],[90,60]]", 3, key, order);
    one(
        "screen.corners = [[0,0],[90,60],[90,0],[0,60]]",
        3,
        key,
        "sides cross",
    );
    one(
        "screen.corners = [[0,0],[90,0],[180,0],[0,60]]",
        3,
        key,
        order,
    );
    one(
        "screen.corners = [[90,0],[0,0],[0,60],[90,60]]",
        3,
        key,
        "mirror",
    );
    one(
        "screen.corners = [[0,0],[1,0],[1,1],[0,1]]",
        3,
        key,
        "not fractions",
    );
    one(
        "screen.corners = [[0,0],[90,0],[90,60],\n[-4,60]]",
        4,
        "screen.corners[3]",
        "outside the frame",
    );
    one(
        "screen.corners = [[0,0],[90,0],[90,60],[1]]",
        3,
        "screen.corners[3]",
        "2 numbers: [x, y]",
    );
    let outside = "capture.frame_size = [80, 60]\nscreen.corners = [[0,0],[90,0],[80,60],[0,60]]";
    one(
        outside,
        4,
        "screen.corners[1]",
        "outside the frame of 80 × 60",
    );
    one(
        "screen.feed = true\nscreen.corners = [[0,0],[90,0],[90,60],[0,60]]",
        4,
        key,
        "feed = true",
    );
}

#[test]
fn areas_are_checked() {
    let key = "screen.af_area";
    one(
        "screen.af_area = [0.1, 0.2, 0.3]",
        3,
        key,
        "[left, top, right, bottom]",
    );
    one(
        "screen.af_area = [0.1, 0.2, 1.3, 0.4]",
        3,
        key,
        "from 0 to 1",
    );
    one(
        "screen.af_area = [0.6, 0.2, 0.3, 0.4]",
        3,
        key,
        "left must be smaller",
    );
    one(
        "screen.af_area = [0.1, 0.4, 0.3, 0.4]",
        3,
        key,
        "top smaller",
    );
    one(
        "screen.refresh_hz = 0",
        3,
        "screen.refresh_hz",
        "from 1 to 1000",
    );
    one(
        "screen.masks = [\n[0.1, 0.1, 0.2, 2]]",
        4,
        "screen.masks[0]",
        "from 0 to 1",
    );
}

#[test]
fn masks_must_leave_something_of_the_area() {
    let halves = "screen.masks = [[0.3, 0.2, 0.5, 0.8], [0.5, 0.2, 0.7, 0.8]]";
    one(halves, 3, "screen.masks", "cover the whole af_area");
    let gap = "screen.masks = [[0.3, 0.2, 0.5, 0.8], [0.51, 0.2, 0.7, 0.8]]";
    assert!(Rig::parse(&format!("{SMALL}{gap}"), "r").is_ok());
}

#[test]
fn sharpness_is_checked() {
    one(
        "sharpness.measure = 'best'",
        3,
        "sharpness.measure",
        "\"mid-band\"",
    );
    one(
        "sharpness.low_cph = 3",
        3,
        "sharpness.low_cph",
        "no parameter of the measure tenengrad",
    );
    one(
        "sharpness.smoothing_px = -1",
        3,
        "sharpness.smoothing_px",
        "from 0 to 10",
    );
    let band = "[sharpness]\nmeasure = 'mid-band'\nlow_cph = 90\nhigh_cph = 30";
    one(
        band,
        5,
        "sharpness.low_cph",
        "low_cph smaller than high_cph",
    );
    let plain = "[sharpness]\nmeasure = 'brenner'\nsmoothing_px = 1";
    one(
        plain,
        5,
        "sharpness.smoothing_px",
        "no parameter of the measure brenner",
    );
    for measure in MeasureSpec::all() {
        let text = format!("{SMALL}sharpness.measure = '{}'", measure.name());
        assert_eq!(Rig::parse(&text, "r").unwrap().measure, measure);
    }
}

#[test]
fn the_stimulus_is_checked() {
    let named = |s: &str| format!("name = 'x'\n[stimulus]\n{s}");
    one_of("name = 'x'", 1, "stimulus.kind", "is missing");
    one_of(
        &named("kind = 'bang'"),
        3,
        "stimulus.kind",
        "\"swing\", \"light\", \"tone\"",
    );
    one_of(
        &named("kind = 'swing'\nat = 'end'"),
        4,
        "stimulus.at",
        "\"rest\", \"cover\"",
    );
    one_of(&named("kind = 'light'"), 2, "stimulus.region", "is missing");
    one_of(
        &named("kind = 'light'\nregion = [5, 1, 2, 3]"),
        4,
        "stimulus.region",
        "x0 must be",
    );
    one_of(
        &named("kind = 'light'\nregion = [-5, 1, 2, 3]"),
        4,
        "stimulus.region",
        "outside",
    );
    one_of(
        &named("kind = 'tone'\nat = 'rest'"),
        4,
        "stimulus.at",
        "belongs to a swing",
    );
    one_of(
        &named("kind = 'tone'\nregion = [0, 1, 2, 3]"),
        4,
        "stimulus.region",
        "take it out",
    );
}

#[test]
fn the_trial_is_checked() {
    one(
        "trial.window_ms = 60001",
        3,
        "trial.window_ms",
        "from 100 to 60000",
    );
    one("trial.hold_ms = 0", 3, "trial.hold_ms", "above 0");
    one(
        "trial.hold_ms = 1600",
        3,
        "trial.hold_ms",
        "longer than the window of 1500 ms",
    );
    one(
        "trial.settle_permille = 0.4",
        3,
        "trial.settle_permille",
        "from 0.5 to 50",
    );
    one(
        "trial.hit_permille = 51",
        3,
        "trial.hit_permille",
        "from 0.5 to 50",
    );
    one(
        "trial.settle_permille = 2\ntrial.hit_permille = 1.5",
        4,
        "trial.hit_permille",
        "below settle_permille (2)",
    );
    let short = Rig::parse(&format!("{SMALL}trial.window_ms = 150"), "r").unwrap();
    assert_eq!(short.trial.hold, Millis(150.0));
    let coarse = Rig::parse(&format!("{SMALL}trial.settle_permille = 6"), "r").unwrap();
    assert_eq!(coarse.trial.hit_permille, 6.0);
    let fine = Rig::parse(&format!("{SMALL}trial.hit_permille = 1.5"), "r").unwrap();
    assert_eq!(fine.trial.settle_permille, 1.5);
}

#[test]
fn keys_that_are_gone_say_what_replaced_them() {
    for (line, key, words) in [
        ("tolerance = 0.05", "trial.tolerance", "`settle_permille`"),
        ("hit_ratio = 0.9", "trial.hit_ratio", "`hit_permille`"),
        ("settle = 'blur'", "trial.settle", "judged by blur"),
        (
            "blur_permille = 2",
            "trial.blur_permille",
            "now called `settle_permille`",
        ),
    ] {
        one(&format!("[trial]\n{line}"), 4, key, words);
    }
}

#[test]
fn cues_are_checked() {
    let cue = |s: &str| format!("[[cue]]\nname = 'box'\n{s}");
    let area = "region = [0, 0, 1, 1]";
    one("[[cue]]\nkind = 'tone'", 3, "cue[0].name", "is missing");
    one(&cue(""), 3, "cue[0].kind", "is missing");
    one(
        &cue("kind = 'smell'"),
        5,
        "cue[0].kind",
        "\"color\", \"light\", \"tone\"",
    );
    one(&cue("kind = 'light'"), 3, "cue[0].region", "is missing");
    one(
        &cue("kind = 'tone'\nregion = [0, 0, 1, 1]"),
        6,
        "cue[0].region",
        "no meaning",
    );
    one(
        &cue(&format!("kind = 'color'\n{area}")),
        3,
        "cue[0].color",
        "is missing",
    );
    for color in ["'#12'", "'green'", "'#gg0000'", "'#+12345'", "[1, 2]"] {
        one(
            &cue(&format!("kind = 'color'\n{area}\ncolor = {color}")),
            7,
            "cue[0].color",
            "#rrggbb",
        );
    }
    one(
        &cue(&format!("kind = 'color'\n{area}\ncolor = [1, 2, 256]")),
        7,
        "cue[0].color[2]",
        "0 to 255",
    );
    one(
        &cue(&format!("kind = 'light'\n{area}\ncolor = '#000000'")),
        7,
        "cue[0].color",
        "take it out",
    );
    one(
        &cue(&format!("kind = 'light'\n{area}\ntolerance = 0")),
        7,
        "cue[0].tolerance",
        "0.01 to 1",
    );
    one(
        &format!("{}\n{}", cue("kind = 'tone'"), cue("kind = 'tone'")),
        7,
        "cue[1].name",
        "its own name",
    );
}
