use super::*;
use crate::report::gate_junit;
use crate::stats::compare::Named;
use crate::stats::fixtures::{clip, swings, timing};
use crate::stats::gate::{GateOptions, Policy, gate};
use crate::store::schema::Timing;

/// `trials` trials, every `miss`-th of them lost, latencies from 200 to 300 ms
/// times `scale`.
fn setup(name: &str, scale: f64, trials: u32, miss: u32) -> Timing {
    let ms: Vec<_> = (0..trials)
        .map(|k| (miss == 0 || k % miss != 0).then(|| scale * (200.0 + f64::from(k * 37 % 101))))
        .collect();
    timing(name, vec![clip(name, swings(&ms))])
}

fn run(before: Option<&Timing>, after: &Timing, policy: &Policy) -> Gate {
    let named = |timing| Named {
        file: "k.timing.json",
        timing,
    };
    let before = before.map(named);
    gate(
        before.as_ref(),
        &named(after),
        policy,
        &GateOptions::default(),
    )
    .unwrap()
}

fn sample(scale: f64, trials: u32) -> Gate {
    let before = setup("kit <old>", 1.0, trials, 0);
    let after = setup("kit & new", scale, trials, 0);
    run(Some(&before), &after, &Policy::default())
}

fn required(timing: &Timing, text: &str) -> Gate {
    run(None, timing, &Policy::from_toml(text, "p.toml").unwrap())
}

#[test]
fn text_fits_and_names_the_verdict() {
    let slow = gate_text(&sample(1.6, 200));
    println!("{slow}");
    assert!(slow.starts_with("Gate: REGRESSION: kit & new against kit <old>"));
    assert!(slow.contains("Before") && slow.contains("the limit is +20 ms"));
    let few = gate_text(&sample(1.0001, 30));
    println!("{few}");
    assert!(few.starts_with("Gate: INCONCLUSIVE"));
    assert!(few.contains("near 15, far 15; the built-in limits ask for 20"));
    assert_eq!(few.matches("ask for 20").count(), 1, "{few}");
    assert!(few.contains("more judged"));
    let few_joined = few.replace('\n', " ");
    assert!(few_joined.contains("for figures that stay just as they are; focuslag plan"));
    let both = [slow, few].concat();
    assert!(both.lines().all(|l| l.chars().count() <= 100));
}

#[test]
fn without_a_baseline_it_is_a_minimum_that_is_missed() {
    let got = required(
        &setup("kit-cobalt", 1.0, 60, 2),
        "[require]\nhit_rate = 0.9\n",
    );
    let text = gate_text(&got);
    println!("{text}");
    assert!(text.starts_with("Gate: FAIL (below what the policy requires): kit-cobalt\n"));
    assert!(text.contains("near: 0 of 30 hit; 11 % at best, the policy asks for 90 %."));
    assert!(!text.contains("Before\n") && !text.contains("After"));
    assert_eq!(serde_json::to_value(&got).unwrap()["verdict"], "regression");
    assert!(gate_junit(&got).unwrap().contains("type=\"regression\""));
}

/// Half of the trials never come into focus.
#[test]
fn a_quantile_beyond_the_window_says_so() {
    let got = required(
        &setup("kit-cobalt", 1.0, 80, 4),
        "[require]\np90_ms = 600\n",
    );
    let text = gate_text(&got);
    println!("{text}");
    assert!(
        text.contains("near: fewer than 90 % came into focus within 1500 ms"),
        "{text}"
    );
    assert!(text.contains("> 1500"), "{text}");
}

/// Hits that have no yardstick but the setup's own best.
#[test]
fn a_floor_on_hits_without_a_reference_says_what_a_hit_is() {
    let mut own = setup("kit-amber", 1.0, 60, 0);
    for trial in own.clips.iter_mut().flat_map(|c| &mut c.trials) {
        trial.reference_from = Some(crate::store::schema::ReferenceFrom::Setup);
    }
    let text = gate_text(&required(&own, "[require]\nhit_rate = 0.5\n"));
    println!("{text}");
    let joined = text.replace('\n', " ");
    assert!(
        joined.starts_with("Gate: PASS: kit-amber; unverified: a hit only means as sharp as"),
        "{text}"
    );
    assert!(!text.contains("share no yardstick"), "{text}");
    assert!(
        joined.contains("inside its limit, even at the worse end of its interval."),
        "{text}"
    );
}

#[test]
fn markdown_holds_the_same_checks() {
    let page = gate_markdown(&sample(1.6, 200));
    assert!(page.starts_with("## Gate: REGRESSION"));
    assert_eq!(page.lines().filter(|l| l.starts_with('|')).count(), 2 + 9);
}

#[test]
fn junit_counts_failures_and_errors() {
    let got = sample(1.6, 200);
    let xml = gate_junit(&got).unwrap();
    let failures = got
        .checks
        .iter()
        .filter(|c| c.verdict == Verdict::Regression)
        .count();
    assert!(failures > 0);
    assert!(
        xml.contains(&format!("failures=\"{failures}\" errors=\"0\"")),
        "{xml}"
    );
    assert!(xml.contains("name=\"kit &amp; new\""), "{xml}");
    let open = gate_junit(&sample(1.0001, 30)).unwrap();
    assert!(
        open.contains("<error") && open.contains("inconclusive"),
        "{open}"
    );
    assert_eq!(open, gate_junit(&sample(1.0001, 30)).unwrap());
}
