//! Texts held against files under `tests/golden`; `REGENERATE=1` writes them.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use focuslag::report::{compare_text, gate_text, plan_text, time_report};
use focuslag::stats::compare::{CompareOptions, Named, compare};
use focuslag::stats::gate::{GateOptions, Policy, gate};
use focuslag::store::read_timing_from;
use focuslag::store::schema::Timing;
use serde_json::{Value, json};

/// A trial: latency of a hit, or its verdict and reason.
fn trial(index: usize, side: Option<&str>, how: &Value, from: &str) -> Value {
    let onset = 1.0 + 4.0 * index as f64;
    let hit = how.as_f64();
    let (verdict, reason) = match how.as_str() {
        None => ("hit", None),
        Some("soft") => ("soft", None),
        Some(lost @ ("hunted on" | "never moved" | "did not stay")) => ("lost", Some(lost)),
        Some(void) => ("void", Some(void)),
    };
    let settled = hit.or((verdict == "soft").then_some(400.0));
    json!({
        "index": index, "side": side, "verdict": verdict, "reason": reason, "early": false,
        "move_s": null, "onset_s": onset, "reaction_s": null,
        "settle_s": settled.map(|ms| onset + ms / 1000.0), "end_s": onset + 1.5,
        "latency_ms": hit, "latency_corrected_ms": if side.is_some() { hit } else { None },
        "uncertainty_ms": hit.map(|_| 6.9),
        "reversals": index % 3, "relapses": usize::from(index == 5), "overshoot": null,
        "sharpness": { "floor": 0.1, "plateau": 0.8, "reference": 0.9, "reference_from": from,
            "ratio": 0.9 },
    })
}

/// A clip of trials that take turns, near first; without sides where `sided` is not set.
fn clip(name: &str, sided: bool, from: &str, trials: &[Value]) -> Value {
    let sides = ["near", "far"];
    let trials: Vec<Value> = trials
        .iter()
        .enumerate()
        .map(|(k, how)| trial(k, sided.then(|| sides[k % 2]), how, from))
        .collect();
    json!({
        "path": format!("{name}.mp4"), "sha256": name, "frames": 1440, "duration_s": 60.0,
        "capture_fps": 240.0, "screen": { "corners": null, "refresh_hz": 60.0 },
        "live_view_lag_ms": null, "warnings": [], "error": null, "trials": trials,
    })
}

fn setup(name: &str, tags: Value, clips: &[Value]) -> Timing {
    let sided = clips[0]["trials"][0]["side"].is_string();
    let text = json!({
        "format": "focuslag-timing", "version": 1, "setup": { "name": name, "tags": tags },
        "rig": { "stimulus": { "kind": if sided { "swing" } else { "light" } } },
        "measure": { "name": "mid-band" }, "made_by": {}, "clips": clips,
    });
    read_timing_from(text.to_string().as_bytes(), name).unwrap_or_else(|e| panic!("{e}"))
}

/// Four setups: an ordinary one with every kind of trouble, one with a
/// reference by hand and no void, one by trigger light, one that never hit.
fn session() -> Vec<Timing> {
    let mixed = [
        json!(214.0),
        json!(322.0),
        json!("cut"),
        json!(541.0),
        json!(301.5),
        json!(611.0),
        json!("hunted on"),
        json!(244.0),
        json!(262.0),
        json!("excluded: somebody walked through"),
        json!(333.0),
        json!("soft"),
        json!("cut"),
        json!(287.0),
        json!(352.0),
    ];
    let quick: Vec<Value> = (0..16)
        .map(|k| json!(180.0 + 7.0 * f64::from(k * 5 % 16)))
        .collect();
    let mut broken = clip("amber-2", true, "trials", &[]);
    broken["error"] = json!("amber-2.mp4: is empty (0 bytes)");
    broken["capture_fps"] = Value::Null;
    vec![
        setup(
            "kit-amber",
            json!({ "firmware": "2.0", "af": "single" }),
            &[clip("amber-1", true, "trials", &mixed), broken],
        ),
        setup(
            "kit-slate",
            json!({}),
            &[clip("slate-1", true, "clip", &quick)],
        ),
        setup(
            "kit-amber-release",
            json!({ "firmware": "2.0" }),
            &[clip(
                "release-1",
                false,
                "trials",
                &[json!(310.0), json!(290.0), json!("no signal")],
            )],
        ),
        setup(
            "kit-cobalt",
            json!({}),
            &[clip(
                "cobalt-1",
                true,
                "trials",
                &[json!("never moved"), json!("not displaced")],
            )],
        ),
    ]
}

fn held_against(name: &str, text: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden")
        .join(name);
    if std::env::var_os("REGENERATE").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    let wanted = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert!(
        text == wanted,
        "{name} differs; if the change is meant, run with REGENERATE=1 and look at it\n{text}"
    );
}

#[test]
fn the_text_of_time() {
    let session = session();
    let text = time_report(&session.iter().collect::<Vec<_>>(), &[]);
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    held_against("time.txt", &text);
}

/// A kit with its reference by hand that misses every third near trial.
fn missing(name: &str, clip_name: &str, by: f64) -> Timing {
    let trials: Vec<Value> = (0..24)
        .map(|k| match k {
            k if k % 6 == 0 => json!("hunted on"),
            k if k % 8 == 3 => json!("soft"),
            k => json!(by + 11.0 * f64::from(k * 5 % 16)),
        })
        .collect();
    let tags = json!({ "lens": name, "firmware": "1.1" });
    setup(name, tags, &[clip(clip_name, true, "clip", &trials)])
}

fn fits(text: &str) {
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
}

#[test]
fn the_texts_of_compare_and_of_time_with_it() {
    let setups = [
        missing("kit-amber", "amber-1", 200.0),
        missing("kit-slate", "slate-1", 520.0),
        missing("kit-cobalt", "cobalt-1", 530.0),
    ];
    let named: Vec<Named> = setups
        .iter()
        .map(|timing| Named {
            file: "k.timing.json",
            timing,
        })
        .collect();
    let compared = compare(&named, &CompareOptions::default()).unwrap();
    let text = compare_text(&compared);
    fits(&text);
    held_against("compare.txt", &text);
    let text = time_report(&setups.iter().collect::<Vec<_>>(), &[compared]);
    fits(&text);
    held_against("time-compared.txt", &text);
}

#[test]
fn the_texts_of_the_gate() {
    let before = missing("kit-amber", "amber-1", 200.0);
    let after = missing("kit-amber-new", "amber-2", 420.0);
    let [a, b] = [&before, &after].map(|timing| Named {
        file: "k.timing.json",
        timing,
    });
    let policy = |text: &str| Policy::from_toml(text, "policy.toml").unwrap();
    let floor = policy("[require]\nhit_rate = 0.70\np90_ms = 600\n[test]\nmin_trials = 10\n");
    let both = policy("[change]\nmedian_slowdown_ms = 20\n[require]\nhit_rate = 0.50\n");
    let mut all = String::new();
    for (baseline, policy) in [
        (Some(&a), &Policy::default()),
        (None, &floor),
        (Some(&a), &both),
    ] {
        let got = gate(baseline, &b, policy, &GateOptions::default()).unwrap();
        all.push_str(&gate_text(&got));
        all.push('\n');
    }
    fits(&all);
    held_against("gate.txt", &all);
}

#[test]
fn the_text_of_a_plan() {
    let question = focuslag::plan::Question {
        rates: Some(focuslag::plan::Rates {
            hit_rate: 0.9,
            versus: 0.75,
        }),
        floor: Some(focuslag::plan::Floor {
            hit_rate: 0.9,
            at_least: 0.7,
        }),
        latencies: Some(focuslag::plan::Latencies {
            spread_ms: 100.0,
            detect_ms: 60.0,
        }),
        trials: Some(40),
        capture: Some(focuslag::plan::CaptureQuestion {
            fps: 59.94,
            refresh_hz: Some(60.0),
            mains_hz: None,
            onset_on_screen: true,
        }),
        ..Default::default()
    };
    let text = plan_text(&focuslag::plan::plan(&question).unwrap());
    fits(&text);
    held_against("plan.txt", &text);
}

/// 10 of 12: Wilson 1927, J. Am. Stat. Assoc. 22:209, gives 0.552 to 0.953 at
/// 95 %. 244 ms and less are two of twelve, 541 ms and less are nine.
#[test]
fn its_numbers_are_those_of_the_trials() {
    let session = session();
    let text = time_report(&[&session[0]], &[]);
    for words in [
        "15 trials filmed in 2 clips, 3 void: 2 cut (not filmed to the end of its window); 1",
        "excluded (somebody walked through).",
        "1 of 2 clips could not be judged",
        "1 soft: settled on the wrong plane, end blur above the hit limit",
        "1 lost: hunted on (still hunting when the window was over).",
        "83 % (55 to 95)",
        "One latency: ± 14 ms",
    ] {
        let joined = text.replace("\n  ", " ");
        assert!(joined.contains(words), "{words}\n{text}");
    }
    let all = text.lines().find(|l| l.starts_with(" all ")).unwrap();
    let cells: Vec<&str> = all.split_whitespace().collect();
    assert_eq!(cells[..7], ["all", "15", "12", "10", "1", "1", "3"]);
    let end: Vec<&str> = cells[cells.len() - 6..].to_vec();
    assert_eq!(end, ["17", "%", "67", "%", "83", "%"], "{all}");
}

#[test]
fn no_setup_is_no_text() {
    assert_eq!(time_report(&[], &[]), "");
}
