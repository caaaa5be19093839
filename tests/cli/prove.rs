//! `focuslag prove`: the error budget of a rig.

use super::bench::{Bench, RIG};

#[test]
fn a_rig_is_proved_and_the_seed_decides() {
    let bench = Bench::new();
    let told = bench.run("prove --rig rig.toml --quick --only none --seed 4 --json");
    assert_eq!(told.code, 0, "{told:?}");
    let budget = told.json();
    assert_eq!(budget["seed"], 4);
    let row = &budget["rows"][0];
    assert_eq!(row["name"], "none");
    assert_eq!(row["trials"], 5);
    assert_eq!(row["missed"], 0, "{row}");
    assert!(row["settle_p95_ms"].is_number() && row["covered"].is_number());
    let again = bench.run("prove --rig rig.toml --quick --only none --seed 4 --json");
    assert_eq!(told.out, again.out);
}

#[test]
fn what_cannot_be_proved_is_refused() {
    let bench = Bench::new();
    bench.file("slow.toml", &RIG.replace("fps = 240.0", ""));
    bench
        .run("prove --rig slow.toml --quick")
        .says(2, &["slow.toml", "capture.fps"]);
    bench
        .run("prove --rig rig.toml --only thunder")
        .says(2, &["--only", "thunder", "mains flicker"]);
    bench
        .run("prove --rig missing.toml")
        .says(2, &["missing.toml"]);
}
