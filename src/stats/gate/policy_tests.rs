use super::*;

const AGREED: &str = "[change]\nhit_rate_drop = 0.05\nmedian_slowdown_ms = 20 # of \
    time-to-focus\np90_slowdown_ms = 50\n[require]\nhit_rate = 0.70\np90_ms = 600\n[test]\n\
    confidence = 0.95\nmin_trials = 20\n";

#[test]
fn a_policy_reads_as_written() {
    let policy = Policy::from_toml(AGREED, "p.toml").unwrap();
    assert_eq!(policy.change, Policy::default().change);
    assert!(policy.test.min_trials_named && !policy.built_in);
    assert_eq!(policy.test.min_trials, Test::default().min_trials);
    assert_eq!(
        (policy.require.hit_rate, policy.require.p90_ms),
        (Some(0.7), Some(600.0))
    );
}

#[test]
fn faults_name_file_line_and_key() {
    let cases = [
        (
            "hit_rate_drop = 0.05",
            "hit_rate_drop = 5",
            2,
            "change.hit_rate_drop: is 5; write 0.05",
        ),
        (
            "median_slowdown_ms = 20",
            "median_slowdown_ms = -1",
            3,
            "change.median_slowdown_ms",
        ),
        (
            "p90_slowdown_ms = 50",
            "p95_slowdown_ms = 50",
            4,
            "did you mean `change.p90_slowdown_ms`",
        ),
        ("hit_rate = 0.70", "hit_rate = 1.0", 6, "require.hit_rate"),
        ("hit_rate = 0.70", "hit_rate = 70", 6, "write 0.70 for 70 %"),
        (
            "hit_rate = 0.70",
            "hit_rate = 0,7",
            6,
            "a plain number without a unit, with a point",
        ),
        (
            "hit_rate = 0.70",
            "hit_rate = 70 %",
            6,
            "a plain number without a unit, with a point",
        ),
        (
            "p90_ms = 600",
            "p90_ms = 600 ms",
            7,
            "a plain number without a unit, with a point",
        ),
        (
            "p90_ms = 600",
            "p90_ms = \"600 ms\"",
            7,
            "require.p90_ms: is a string; give a number",
        ),
        ("p90_ms = 600", "p90_ms = nan", 7, "require.p90_ms"),
        (
            "confidence = 0.95",
            "confidence = 95",
            9,
            "write 0.95 for 95 %",
        ),
        ("min_trials = 20", "min_trials = 0", 10, "test.min_trials"),
        ("min_trials = 20", "min_trials = \"many\"", 10, "string"),
        ("[test]", "[tests]", 8, "tests"),
        ("[change]", "[change", 1, ""),
        (
            "[change]\n",
            "p90_ms = 600\n[change]\n",
            1,
            "put it under [require]",
        ),
        (
            "[test]\n",
            "p90_slowdown_ms = 5\n[test]\n",
            8,
            "put it under [change]",
        ),
    ];
    for (from, to, line, word) in cases {
        let text = AGREED.replace(from, to);
        let said = Policy::from_toml(&text, "p.toml").unwrap_err().to_string();
        assert!(
            said.starts_with(&format!("p.toml:{line}: ")),
            "{to}: {said}"
        );
        assert!(said.contains(word), "{to}: {said}");
    }
    let said = Policy::from_toml("[test]\n", "p.toml").unwrap_err();
    assert!(said.to_string().contains("no limit"));
    let json = "{ \"format\": \"focuslag-timing\" }";
    let said = Policy::from_toml(json, "k.json").unwrap_err().to_string();
    assert!(said.contains("this is a timing file"), "{said}");
}

#[test]
fn every_fault_is_told_at_once() {
    let text = "[require]\nhit_rate = 70\np90 = 600\n[test]\nconfidence = 95\n";
    let told = Policy::from_toml(text, "p.toml").unwrap_err().messages();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(
        told[1].contains("did you mean `require.p90_ms`"),
        "{told:?}"
    );
}
