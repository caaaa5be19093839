use super::*;
use crate::stats::fixtures::{clip, swings, timing, trial};
use crate::store::schema::Timing;

/// `n` swings spread over `clips`, near and far in turn, latencies from a
/// fixed skewed pattern scaled by `scale` and a miss in every `miss`-th trial.
fn setup(name: &str, n: u32, clips: u32, scale: f64, miss: u32) -> Timing {
    let all: Vec<Option<f64>> = (0..n)
        .map(|k| {
            let u = f64::from((k * 73 + 29) % 101) / 101.0;
            (miss == 0 || k % miss != 0).then_some(scale * (180.0 + 160.0 * u * u))
        })
        .collect();
    let per = (n / clips).max(1) as usize;
    let clips = all
        .chunks(per)
        .enumerate()
        .map(|(k, ms)| clip(&format!("{name}-{k}"), swings(ms)))
        .collect();
    timing(name, clips)
}

fn run(a: Option<&Timing>, b: &Timing, policy: &Policy) -> Gate {
    let before = a.map(|timing| Named {
        file: "before.timing.json",
        timing,
    });
    let after = Named {
        file: "after.timing.json",
        timing: b,
    };
    gate(before.as_ref(), &after, policy, &GateOptions::default()).unwrap()
}

fn policy(text: &str) -> Policy {
    Policy::from_toml(text, "p.toml").unwrap()
}

#[test]
fn the_same_behaviour_passes_and_a_slow_one_does_not() {
    let before = setup("old", 600, 4, 1.0, 41);
    let same = run(
        Some(&before),
        &setup("new", 600, 4, 1.001, 41),
        &Policy::default(),
    );
    assert_eq!(same.verdict, Verdict::Pass, "{:#?}", same.checks);
    assert_eq!(same.checks.len(), 9);
    assert_eq!(same.more_trials_per_setup, None);
    let slow = run(
        Some(&before),
        &setup("new", 600, 4, 1.5, 41),
        &Policy::default(),
    );
    assert_eq!(slow.verdict, Verdict::Regression);
    let median = &slow.checks[1];
    assert_eq!(
        (median.name.as_str(), median.side.as_str()),
        ("median_slowdown_ms", "near")
    );
    assert!(median.low.unwrap() > 20.0 && median.low < median.value && median.value < median.high);
}

/// Slow trials turned into lost ones: hits alone look faster, time-to-focus
/// does not.
#[test]
fn losing_the_slow_trials_does_not_pass() {
    let before = setup("old", 300, 4, 1.0, 0);
    let mut after = setup("new", 300, 4, 0.99, 0);
    for trial in after.clips.iter_mut().flat_map(|c| &mut c.trials) {
        if trial.latency_ms.is_some_and(|ms| ms > 260.0) {
            let lost = crate::stats::fixtures::trial(trial.index, trial.side, None, 1500.0);
            *trial = lost;
        }
    }
    let text = "[change]\nmedian_slowdown_ms = 20\np90_slowdown_ms = 50\n";
    let got = run(Some(&before), &after, &policy(text));
    let p90 = &got.checks[1];
    assert_eq!((p90.value, p90.verdict), (None, Verdict::Regression));
    assert_eq!((p90.candidate, p90.not_reached_by_ms), (None, Some(1500.0)));
    // Later than the window less the baseline's own p90, at the least.
    assert!(p90.low.unwrap() > 1000.0, "{p90:?}");
    assert_eq!(
        (got.verdict, got.more_trials_per_setup),
        (Verdict::Regression, None)
    );
}

#[test]
fn a_quantile_beyond_the_window_is_judged_by_its_low_end() {
    let often = setup("new", 120, 3, 1.0, 2);
    let far = |limit: u32| {
        let got = run(
            None,
            &often,
            &policy(&format!("[require]\np90_ms = {limit}\n")),
        );
        let mut checks = got.checks.into_iter();
        let near = checks.find(|c| c.side == "near").unwrap();
        (near.verdict, near.value, near.low, near.not_reached_by_ms)
    };
    // Half of the trials are lost: no 90 % within the window of 1500 ms.
    let beyond = (Verdict::Regression, None, Some(1500.0), Some(1500.0));
    assert_eq!(far(600), beyond);
    assert_eq!(far(1500), beyond);
    // What happens after the window nobody saw.
    assert_eq!(far(1600).0, Verdict::Inconclusive);
    // One in eight of this side is lost: the low end lies within the window.
    let some = setup("new", 120, 3, 1.0, 16);
    let got = run(None, &some, &policy("[require]\np90_ms = 600\n"));
    let near = &got.checks[0];
    assert_eq!(
        (near.verdict, near.value),
        (Verdict::Inconclusive, None),
        "{near:?}"
    );
    assert!(near.low.unwrap() < 600.0 && near.why.as_ref().unwrap().contains("not reached"));
}

#[test]
fn few_trials_and_wide_intervals_are_inconclusive() {
    let before = setup("old", 30, 3, 1.0, 0);
    let few = run(
        Some(&before),
        &setup("new", 30, 3, 1.01, 0),
        &Policy::default(),
    );
    assert_eq!(few.verdict, Verdict::Inconclusive);
    assert!(
        few.checks[0]
            .why
            .as_ref()
            .unwrap()
            .contains("built-in limits ask for 20")
    );
    assert!(
        few.checks.iter().all(|c| c.few == (c.side != "all")),
        "{few:#?}"
    );
    assert!(
        few.more_trials_per_setup.is_some_and(|n| n >= 5),
        "{:#?}",
        few.checks
    );
    let text = "[change]\nhit_rate_drop = 0.05\n";
    let wide = run(
        Some(&setup("old", 60, 3, 1.0, 7)),
        &setup("new", 60, 3, 1.01, 7),
        &policy(text),
    );
    assert_eq!(wide.verdict, Verdict::Inconclusive);
    assert!(wide.more_trials_per_setup.unwrap() > 50);
    let wanted = wide.more_trials_for.unwrap();
    assert_eq!(wanted.name, "hit_rate_drop");
}

#[test]
fn require_alone_needs_no_baseline() {
    let text = "[require]\nhit_rate = 0.70\np90_ms = 600\n";
    let good = setup("new", 120, 3, 1.0, 0);
    let got = run(None, &good, &policy(text));
    assert_eq!(got.verdict, Verdict::Pass, "{:#?}", got.checks);
    assert_eq!(got.checks[0].judged, [None, Some(60)]);
    let bad = run(None, &setup("new", 120, 3, 1.0, 2), &policy(text));
    assert_eq!(bad.verdict, Verdict::Regression);
    let slow = run(None, &setup("new", 120, 3, 3.0, 0), &policy(text));
    assert_eq!(slow.verdict, Verdict::Regression);
    let named = Named {
        file: "after.timing.json",
        timing: &good,
    };
    let refused = gate(None, &named, &Policy::default(), &GateOptions::default());
    assert!(matches!(refused, Err(GateError::NothingNamed)));
    let change = policy("[change]\nhit_rate_drop = 0.05\n");
    let refused = gate(None, &named, &change, &GateOptions::default());
    assert!(matches!(refused, Err(GateError::NoBaseline)));
}

/// A clip in which everything goes wrong weighs on the interval from five
/// clips on.
#[test]
fn from_five_clips_on_clips_are_resampled() {
    let text = "[require]\nhit_rate = 0.70\np90_ms = 600\n";
    let mut uneven = setup("new", 300, 6, 1.0, 0);
    for trial in &mut uneven.clips[0].trials {
        *trial = crate::stats::fixtures::trial(trial.index, trial.side, None, 1500.0);
    }
    let got = run(None, &uneven, &policy(text));
    let check = &got.checks[0];
    assert!(check.method.contains("clips"));
    assert!((check.value.unwrap() - 250.0 / 300.0).abs() < 1e-9);
    assert_eq!(check.verdict, Verdict::Inconclusive);
}

#[test]
fn light_and_tone_have_one_check_per_limit() {
    let trials = |base: f64| {
        (0..40)
            .map(|k| trial(k, None, Some(base + f64::from(k)), 1500.0))
            .collect()
    };
    let a = timing("a", vec![clip("a", trials(200.0))]);
    let b = timing("b", vec![clip("b", trials(210.0))]);
    let got = run(Some(&a), &b, &Policy::default());
    let sides: Vec<_> = got.checks.iter().map(|c| c.side.as_str()).collect();
    assert_eq!(sides, ["all", "all", "all"]);
    assert!((got.checks[1].value.unwrap() - 10.0).abs() < 1e-9);
    let json = serde_json::to_value(&got).unwrap();
    for key in ["name", "side", "limit", "value", "low", "high", "verdict"] {
        assert!(!json["checks"][1][key].is_null(), "{key}");
    }
    assert!(json.get("more_trials_per_setup").is_some());
    assert_eq!(got, run(Some(&a), &b, &Policy::default()));
}

/// Two setups of 1,000 trials, all five limits, resampled by trial and by clip.
#[test]
fn two_thousand_trials_do_not_keep_anyone_waiting() {
    let text = "[change]\nhit_rate_drop = 0.05\nmedian_slowdown_ms = 20\n\
        p90_slowdown_ms = 50\n[require]\nhit_rate = 0.7\np90_ms = 600\n";
    let start = std::time::Instant::now();
    for clips in [4, 10] {
        let before = setup("old", 1000, clips, 1.0, 41);
        let got = run(
            Some(&before),
            &setup("new", 1000, clips, 1.01, 43),
            &policy(text),
        );
        assert_eq!(got.checks.len(), 15);
    }
    let took = start.elapsed().as_secs_f64();
    println!("two gates of 2 x 1,000 trials: {took:.2} s");
    assert!(took < 8.0, "{took} s");
}

/// `hits` of 60 trials started by a light.
fn lit(name: &str, day: u32, hits: u32) -> Timing {
    let trials = (0..60)
        .map(|k| trial(k, None, (k < hits).then(|| 200.0 + f64::from(k)), 1500.0))
        .collect();
    timing(name, vec![clip(&format!("{name}-{day}"), trials)])
}

fn over(sessions: &[Timing], after: &Timing, policy: &Policy) -> Gate {
    let sessions: Vec<Named> = sessions
        .iter()
        .map(|timing| Named {
            file: "before.timing.json",
            timing,
        })
        .collect();
    let after = Named {
        file: "after.timing.json",
        timing: after,
    };
    gate_over_sessions(&sessions, &after, policy, &GateOptions::default()).unwrap()
}

/// By arithmetic: rates 0.9, 0.95 and 0.8 scatter by 0.076376; t with 2 degrees
/// of freedom 4.302653 (any printed table) times √(1 + 1/3).
#[test]
fn what_sessions_differ_by_anyway_widens_a_change() {
    let before: Vec<Timing> = [54, 57, 48]
        .iter()
        .enumerate()
        .map(|(day, &hits)| lit("old", day as u32, hits))
        .collect();
    let after = lit("new", 9, 33);
    let text = "[change]\nhit_rate_drop = 0.05\n";
    let got = over(&before, &after, &policy(text));
    let check = &got.checks[0];
    assert_eq!(
        (got.baseline_sessions, check.judged),
        (3, [Some(180), Some(60)])
    );
    let by = 4.302_653 * (4.0f64 / 3.0).sqrt() * 0.076_376_26;
    let value = (54.0 + 57.0 + 48.0) / 180.0 - 33.0 / 60.0;
    assert!((check.between_sessions.unwrap() - 0.076_376_26).abs() < 1e-8);
    assert!((check.value.unwrap() - value).abs() < 1e-12, "{check:?}");
    assert!(
        (check.low.unwrap() - (value - by)).abs() < 1e-6,
        "{check:?}"
    );
    assert!(
        (check.high.unwrap() - (value + by)).abs() < 1e-6,
        "{check:?}"
    );
    assert_eq!(check.verdict, Verdict::Inconclusive);
    assert_eq!(got.more_trials_per_setup, None);
    assert!(check.method.contains("3 sessions"), "{}", check.method);
    assert!(!got.warnings.iter().any(|w| w.contains("is not known here")));
    // Held against one session alone the same kit fails, and that is said.
    let alone = over(&before[..1], &after, &policy(text));
    assert_eq!(alone.verdict, Verdict::Regression);
    assert!(
        alone.warnings[0].contains("one session of the baseline"),
        "{:?}",
        alone.warnings
    );
    let two = over(&before[..2], &after, &policy(text));
    assert_eq!(two.checks[0].between_sessions, None);
    assert!(
        two.warnings[0].contains("2 sessions of the baseline"),
        "{:?}",
        two.warnings
    );
}

/// No hit rate falls by more than all of it, whatever sessions differ by.
#[test]
fn a_drop_of_the_hit_rate_ends_at_all_of_it() {
    let before = [lit("old", 1, 60), lit("old", 2, 30), lit("old", 3, 0)];
    let text = "[change]\nhit_rate_drop = 0.05\n";
    let check = &over(&before, &lit("new", 9, 33), &policy(text)).checks[0];
    assert_eq!(
        (check.low, check.high),
        (Some(-1.0), Some(1.0)),
        "{check:?}"
    );
}

/// A quantile that one session does not reach: its spread could be anything.
#[test]
fn a_session_that_does_not_reach_the_quantile_decides_nothing() {
    let before = [lit("old", 1, 60), lit("old", 2, 59), lit("old", 3, 30)];
    let text = "[change]\np90_slowdown_ms = 50\n";
    let got = over(&before, &lit("new", 9, 30), &policy(text));
    let check = &got.checks[0];
    assert_eq!((check.low, check.high), (None, None), "{check:?}");
    assert_eq!(check.verdict, Verdict::Inconclusive);
    // Alike in all sessions it is judged as ever.
    let alike: Vec<Timing> = (0..3).map(|day| lit("old", day, 60)).collect();
    let got = over(&alike, &lit("new", 9, 60), &policy(text));
    assert_eq!(got.verdict, Verdict::Pass, "{:#?}", got.checks);
    assert_eq!(got.checks[0].between_sessions, Some(0.0));
}

#[test]
fn the_same_session_twice_is_refused() {
    let before = lit("old", 1, 60);
    let named = Named {
        file: "before.timing.json",
        timing: &before,
    };
    let after = lit("new", 9, 60);
    let after = Named {
        file: "after.timing.json",
        timing: &after,
    };
    let refused = gate_over_sessions(
        &[named, named],
        &after,
        &Policy::default(),
        &GateOptions::default(),
    );
    assert!(matches!(refused, Err(GateError::Pair(_))));
}
