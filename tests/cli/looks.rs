//! Looking before all is filmed: the plan, the looks, and what is refused.

use serde_json::{Value, json};

use super::bench::Bench;

/// A timing file with the fixed keys alone: `n` trials started by a light, of
/// which every `miss`-th is lost.
pub fn lights(name: &str, tags: Value, n: u32, miss: u32, base: f64) -> Value {
    let trials: Vec<Value> = (0..n)
        .map(|k| {
            let hit = miss == 0 || k % miss != 0;
            let onset = 1.0 + 4.0 * f64::from(k);
            let ms = base + f64::from(k * 37 % 101);
            json!({
                "index": k, "side": null, "verdict": if hit { "hit" } else { "lost" },
                "reason": (!hit).then_some("hunted on"), "early": null, "move_s": null,
                "onset_s": onset, "reaction_s": null,
                "settle_s": hit.then_some(onset + ms / 1000.0), "end_s": onset + 1.5,
                "latency_ms": hit.then_some(ms), "latency_corrected_ms": null,
                "uncertainty_ms": null, "reversals": null, "relapses": null,
                "overshoot_permille": null, "onset_seen": "direct", "delta_permille": 4.0,
                "hit_limit_permille": 4.0, "reference_from": "hand", "close_call": false,
                "blur_permille": null, "cues": {}
            })
        })
        .collect();
    json!({
        "format": "focuslag-timing", "version": 1, "setup": { "name": name, "tags": tags },
        "rig": { "stimulus": { "kind": "light" } },
        "measure": { "name": "blur", "version": 1, "settle_permille": 4.0, "hit_permille": 4.0 },
        "made_by": {},
        "clips": [ {
            "path": format!("{name}.mp4"), "sha256": format!("{name}-{n}-{base}"), "frames": 1440,
            "duration_s": 600.0, "capture_fps": 240.0,
            "screen": { "corners": null, "refresh_hz": 60.0 }, "least_permille": 1.4,
            "live_view_lag_ms": null, "warnings": [], "error": null, "trials": trials
        } ]
    })
}

#[test]
fn a_plan_with_looks_says_when_to_look_and_what_counts() {
    let bench = Bench::new();
    let told = bench.run("plan --hit-rate 0.9 --versus 0.75 --looks 5");
    assert_eq!(told.code, 0, "{told:?}");
    for words in ["Look 5 times", "Shown if", "--looks 5 --planned "] {
        assert!(told.out.contains(words), "{words}\n{}", told.out);
    }
    let json = bench
        .run("plan --hit-rate 0.9 --versus 0.75 --looks 5 --json")
        .json();
    let once = bench.run("plan --hit-rate 0.9 --versus 0.75 --json").json();
    let trials = |json: &Value| json["trials_per_setup"].as_u64().unwrap();
    let more = trials(&json) as f64 / trials(&once) as f64;
    assert!(more > 1.01 && more < 1.05, "{more}");
    let looks = json["looks"]["schedule"].as_array().unwrap();
    assert_eq!(looks[4]["judged"], json["trials_per_setup"]);
    assert!(once["looks"].is_null() && once.as_object().unwrap().contains_key("looks"));
    let average = json["looks"]["average_if_different"].as_f64().unwrap();
    assert!(average < 0.9 * trials(&once) as f64, "{average}");
    for (args, words) in [
        ("plan --looks 5", "needs two kits"),
        (
            "plan --hit-rate 0.9 --versus 0.75 --looks 1",
            "--looks: 1 is outside 2 to 50",
        ),
        (
            "plan --hit-rate 0.9 --at-least 0.7 --looks 3",
            "--at-least by itself",
        ),
        ("plan --hit-rate 0.9 --versus 0.7 --spend even", "--looks"),
    ] {
        bench.run(args).says(2, &[words]);
    }
}

#[test]
fn each_look_says_shown_or_how_many_more() {
    let bench = Bench::new();
    let file = |name: &str, n, miss| {
        let timing = lights(name, json!({}), n, miss, 200.0);
        bench.file(&format!("{name}.timing.json"), &timing.to_string());
    };
    file("kit-amber", 24, 0);
    file("kit-cobalt", 24, 6);
    let both = "compare kit-amber.timing.json kit-cobalt.timing.json";
    let told = bench.run(&format!("{both} --looks 5 --planned 120"));
    assert_eq!(told.code, 0, "{told:?}");
    let first = told.out.split("\n\n").next().unwrap().replace('\n', " ");
    for words in [
        "is shown yet: about 24 more judged trials",
        "96 at most",
        "add --looked 24.",
    ] {
        assert!(first.contains(words), "{words}\n{first}");
    }
    file("kit-cobalt", 24, 1);
    let told = bench.run(&format!(
        "{both} --looks 5 --planned 120 --looked 12 --format markdown"
    ));
    assert!(
        told.out
            .contains("Shown: kit-amber reaches focus sooner than kit-cobalt"),
        "{told:?}"
    );
    let json = bench
        .run(&format!(
            "{both} --looks 5 --planned 120 --looked 12 --json"
        ))
        .json();
    assert_eq!(json["look"]["time_to_focus"]["verdict"], "shown");
    assert_eq!(json["look"]["looked"], json!([12, 24]));
    for (args, words) in [
        ("--looks 5", "--looks needs --planned"),
        ("--planned 120", "--looks"),
        ("--looks 5 --planned 120 --looked 30", "no more than the 30"),
        ("--looks 2 --planned 120 --looked 6,12", "say --looks 3"),
        ("--looks 5 --planned 120 --looked 6;12", "looked"),
    ] {
        bench.run(&format!("{both} {args}")).says(2, &[words]);
    }
}
