use super::*;

const AGREED: &str = "[change]\nhit_rate_drop = 0.05\nmedian_slowdown_ms = 20 # of \
    time-to-focus\np90_slowdown_ms = 50\n[require]\nhit_rate = 0.70\np90_ms = 600\n[test]\n\
    confidence = 0.95\nmin_trials = 20\n";

#[test]
fn a_policy_reads_as_written() {
    let policy = Policy::from_toml(AGREED, "p.toml").unwrap();
    assert_eq!(policy.change, Policy::default().change);
    assert_eq!(policy.test, Test::default());
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
            "change.hit_rate_drop",
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
            "p95_slowdown_ms",
        ),
        ("hit_rate = 0.70", "hit_rate = 1.0", 6, "require.hit_rate"),
        ("p90_ms = 600", "p90_ms = nan", 7, "require.p90_ms"),
        ("confidence = 0.95", "confidence = 95", 9, "test.confidence"),
        ("min_trials = 20", "min_trials = 0", 10, "test.min_trials"),
        ("min_trials = 20", "min_trials = \"many\"", 10, "string"),
        ("[test]", "[tests]", 8, "tests"),
        ("[change]", "[change", 1, ""),
    ];
    for (from, to, line, word) in cases {
        let text = AGREED.replace(from, to);
        let said = Policy::from_toml(&text, "p.toml").unwrap_err().to_string();
        assert!(
            said.starts_with(&format!("p.toml: line {line}:")),
            "{to}: {said}"
        );
        assert!(said.contains(word), "{to}: {said}");
    }
    let said = Policy::from_toml("[test]\n", "p.toml").unwrap_err();
    assert!(said.to_string().contains("no limit"));
}
