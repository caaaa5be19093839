//! Timing files through the disk: what is read back gives the same numbers.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first fault")]

#[path = "bench/simulate.rs"]
mod simulate;

use focuslag::stats::compare::{CompareOptions, Named, compare};
use focuslag::stats::summary::summarise;
use focuslag::store::{StoreError, read_timing, read_timing_from, write_timing};
use simulate::{Scene, generator};

#[test]
fn a_round_trip_changes_no_number() {
    let folder = tempfile::tempdir().unwrap();
    let scene = Scene {
        clips: 6,
        trials: 12,
        ..Scene::default()
    };
    let mut rng = generator(40, 0);
    let made = ["kit-amber", "kit-slate"].map(|name| scene.session(name, &mut rng));
    let read = made.each_ref().map(|timing| {
        let path = folder
            .path()
            .join(format!("{}.timing.json", timing.setup.name));
        let mut stored = timing.clone();
        stored.summary = Some(summarise(&timing.clips, 0.95).unwrap());
        write_timing(&path, &stored).unwrap();
        let first = std::fs::read(&path).unwrap();
        write_timing(&path, &stored).unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), first);
        read_timing(&path).unwrap()
    });
    assert_eq!(read, made);
    let compared = [&made, &read].map(|both| {
        let named = both.each_ref().map(|timing| Named {
            file: "kit.timing.json",
            timing,
        });
        compare(&named, &CompareOptions::default()).unwrap()
    });
    assert_eq!(compared[0], compared[1]);
}

/// A summary that lies is not believed: trials are the truth.
#[test]
fn a_lying_summary_changes_nothing() {
    let timing = Scene::default().session("kit-amber", &mut generator(41, 0));
    let mut json = serde_json::to_value(&timing).unwrap();
    json["summary"] = serde_json::json!({ "hit": 10_000, "hit_rate": { "value": 1.0 } });
    let read = read_timing_from(json.to_string().as_bytes(), "-").unwrap();
    assert_eq!(
        summarise(&read.clips, 0.95).unwrap(),
        summarise(&timing.clips, 0.95).unwrap()
    );
    json["version"] = serde_json::json!(7);
    let refused = read_timing_from(json.to_string().as_bytes(), "-").unwrap_err();
    assert!(matches!(refused, StoreError::File { .. }), "{refused}");
}
