use super::super::*;
use super::{FULL, SMALL};
use crate::units::Millis;
use serde_json::json;

#[test]
fn defaults_are_those_of_the_table() {
    let rig = Rig::parse(SMALL, "r").unwrap();
    assert_eq!(rig.capture, Capture::default());
    assert_eq!(rig.screen.corners, None);
    assert!(!rig.screen.feed);
    assert_eq!(rig.screen.refresh_hz, None);
    assert_eq!(rig.screen.masks, vec![]);
    let area = rig.screen.af_area;
    assert_eq!(
        [area.left, area.top, area.right, area.bottom],
        [0.35, 0.30, 0.65, 0.70]
    );
    assert_eq!(rig.measure, DEFAULT_MEASURE);
    let (at, region) = (SwingAt::Rest, None);
    assert_eq!(rig.stimulus, Stimulus::Swing { at, region });
    assert_eq!(rig.trial.window, Millis(1500.0));
    assert_eq!(rig.trial.hold, Millis(200.0));
    assert_eq!(
        (rig.trial.settle_permille, rig.trial.hit_permille),
        (4.0, 4.0)
    );
    assert_eq!(rig.cues, vec![]);
}

#[test]
fn json_fills_in_defaults_and_leaves_open_things_null() {
    let rig = Rig::parse(SMALL, "r").unwrap().to_json();
    assert_eq!(rig["capture"]["fps"], json!(null));
    assert_eq!(rig["screen"]["af_area"], json!([0.35, 0.30, 0.65, 0.70]));
    assert_eq!(
        rig["sharpness"],
        json!({ "measure": "tenengrad", "smoothing_px": 1.0 })
    );
    assert_eq!(rig["stimulus"]["at"], "rest");
    assert_eq!(rig["trial"]["window_ms"], 1500.0);
    assert_eq!(rig["trial"]["settle_permille"], 4.0);
    assert_eq!(rig["trial"]["hit_permille"], 4.0);
}

#[test]
fn the_rig_as_used_reads_back_as_the_same_rig() {
    let light =
        "name = 'x'\nstimulus = { kind = 'light', region = [0, 0, 9, 9] }\nscreen.feed = true";
    let tone = "name = 'x'\nstimulus.kind = 'tone'\nsharpness.measure = 'brenner'";
    for text in [SMALL, FULL, light, tone] {
        let rig = Rig::parse(text, "r").unwrap();
        let again = Rig::from_json(&rig.to_json()).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(again, rig);
        assert_eq!(again.to_json(), rig.to_json());
    }
}

#[test]
fn a_rig_as_used_that_is_none_says_why() {
    let mut rig = Rig::parse(SMALL, "r").unwrap().to_json();
    rig["trial"]["tolerance"] = json!(0.05);
    rig["stimulus"]["kind"] = json!(null);
    let why = Rig::from_json(&rig).unwrap_err();
    assert!(
        why.contains("trial.tolerance: ") && why.contains("stimulus.kind: "),
        "{why}"
    );
}

#[test]
fn every_key_is_read_and_no_other() {
    let rig = Rig::parse(FULL, "r").unwrap();
    assert_eq!(rig.capture.frame_size, Some((1920, 1080)));
    assert_eq!(rig.capture.segments.len(), 2);
    let (low_cph, high_cph) = (20.0, 90.5);
    assert_eq!(rig.measure, MeasureSpec::MidBand { low_cph, high_cph });
    let CueKind::Color { color, .. } = rig.cues[0].kind else {
        panic!("a colour")
    };
    assert_eq!(color, [0x30, 0xc0, 0x40]);
    assert_eq!(rig.cues[2].kind, CueKind::Tone);
}
