//! Sessions of one kit: how much they differ, and a gate that allows for it.

use serde_json::json;

use super::bench::Bench;
use super::looks::lights;

fn four_days(bench: &Bench) -> String {
    let days = [
        ("mon", 200.0),
        ("tue", 240.0),
        ("wed", 190.0),
        ("fri", 225.0),
    ];
    for (day, base) in days {
        let timing = lights("kit-amber", json!({ "day": day }), 30, 10, base);
        bench.file(&format!("{day}.timing.json"), &timing.to_string());
    }
    days.map(|(day, _)| format!("{day}.timing.json")).join(" ")
}

#[test]
fn a_bench_learns_how_repeatable_it_is() {
    let bench = Bench::new();
    let files = four_days(&bench);
    let told = bench.run(&format!("repeat {files}"));
    assert_eq!(told.code, 0, "{told:?}");
    let first = told.out.split("\n\n").next().unwrap().replace('\n', " ");
    for words in [
        "From session to session the mean settle time of kit-amber",
        "four times out of five",
    ] {
        assert!(first.contains(words), "{words}\n{first}");
    }
    assert!(
        told.out.contains("kit-amber (tue)") && told.out.lines().all(|l| l.chars().count() <= 100)
    );
    let json = bench.run(&format!("repeat {files} --by day --json")).json();
    assert_eq!(json["sessions"][1]["label"], "tue");
    let settle = &json["figures"][0];
    assert_eq!(
        (&settle["name"], &settle["sessions"]),
        (&"settle_ms".into(), &4.into())
    );
    // Bases 200, 240, 190, 225 scatter by 22.9; a miss has no settle time.
    let between = settle["between"].as_f64().unwrap();
    assert!(between > 20.0 && between < 23.0, "{between}");
    assert_eq!(settle["trials"], 108);
    bench
        .run("repeat mon.timing.json")
        .says(2, &["at least two sessions"]);
    bench
        .run(&format!("repeat {files} --by week"))
        .says(2, &["no tag `week`", "it has day"]);
    bench
        .run(&format!("repeat {files} --confidence 95"))
        .says(2, &["write 0.95"]);
    let plan = "plan --sessions 4 --between-ms 22 --spread-ms 29 --trials 27";
    assert!(
        bench
            .run(plan)
            .out
            .contains("One more session of 27 judged trials")
    );
    bench
        .run("plan --sessions 4 --between-ms 22")
        .says(2, &["--spread-ms"]);
}

#[test]
fn a_gate_with_several_sessions_allows_for_their_spread() {
    let bench = Bench::new();
    let files = four_days(&bench);
    let after = lights("kit-amber", json!({ "day": "next" }), 30, 10, 245.0);
    bench.file("after.timing.json", &after.to_string());
    let alone = bench.run("gate --baseline mon.timing.json --candidate after.timing.json");
    let text = alone.out.replace("\n    ", " ");
    assert!(
        text.contains("is not known here (one session of the baseline"),
        "{alone:?}"
    );
    let told = bench.run(&format!(
        "gate --baseline {files} --candidate after.timing.json --json"
    ));
    let json = told.json();
    assert_eq!((told.code, &json["verdict"]), (4, &"inconclusive".into()));
    assert_eq!(json["baseline_sessions"], 4);
    let median = &json["checks"][1];
    let between = median["between_sessions"].as_f64().unwrap();
    assert!(between > 20.0 && between < 25.0, "{between}");
    assert!(median["method"].as_str().unwrap().contains("4 sessions"));
    let text = bench
        .run(&format!(
            "gate --baseline {files} --candidate after.timing.json"
        ))
        .out;
    for words in [
        "against kit-amber in 4 sessions",
        "the 4 sessions of the baseline differ by",
    ] {
        assert!(text.replace('\n', " ").contains(words), "{words}\n{text}");
    }
    let compared = bench.run("compare mon.timing.json after.timing.json").out;
    assert!(
        compared
            .replace("\n    ", " ")
            .contains("are one kit in two sessions"),
        "{compared}"
    );
}
