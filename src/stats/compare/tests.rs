use std::time::Instant;

use proptest::prelude::*;

use super::*;
use crate::stats::fixtures::{clip, swings, timing, trial};
use crate::store::schema::Trial;

fn named<'a>(file: &'a str, timing: &'a Timing) -> Named<'a> {
    Named { file, timing }
}

fn run(a: &Timing, b: &Timing) -> Comparison {
    let both = [named("a.timing.json", a), named("b.timing.json", b)];
    compare(&both, &CompareOptions::default()).unwrap()
}

/// `hits` hits among `n` trials started by a light, latencies from `base` up.
fn lights(name: &str, hits: u32, n: u32, base: f64) -> Timing {
    let trials = (0..n)
        .map(|k| {
            let ms = (k < hits).then(|| base + f64::from(k * 37 % 101));
            trial(k, None, ms, 1500.0)
        })
        .collect();
    timing(name, vec![clip(name, trials)])
}

fn swinging(name: &str, clips: &[Vec<Option<f64>>]) -> Timing {
    let clips = clips
        .iter()
        .enumerate()
        .map(|(k, ms)| clip(&format!("{name}-{k}"), swings(ms)))
        .collect();
    timing(name, clips)
}

/// Newcombe 1998, table II (a), and Fisher's test of the same table (R 4.2.2
/// `fisher.test`), through the whole comparison.
#[test]
fn newcombe_and_fisher_end_to_end() {
    let got = run(
        &lights("kit-amber", 56, 70, 200.0),
        &lights("kit-slate", 48, 80, 200.0),
    );
    assert_eq!(got.pairs.len(), 1);
    let rate = got.pairs[0].hit_rate_difference;
    assert!((rate.low.unwrap() - 0.052_431_472_4).abs() < 1e-9);
    assert!((rate.high.unwrap() - 0.333_872_654_0).abs() < 1e-9);
    assert!((rate.fisher_p.unwrap() - 0.012_521_129_749).abs() < 1e-10);
    assert_eq!(rate.holm_p, rate.fisher_p);
    assert_eq!(got.pairs[0].hit_rate_verdict, Higher::AHigher);
}

#[test]
fn the_fixed_shape_of_the_json() {
    let mut clips = Vec::new();
    for k in 0..3 {
        clips.push(vec![Some(210.0 + f64::from(k)); 8]);
    }
    let slow: Vec<_> = clips
        .iter()
        .map(|c| c.iter().map(|ms| ms.map(|v| v + 90.0)).collect())
        .collect();
    let got = run(
        &swinging("kit-amber", &clips),
        &swinging("kit-cobalt", &slow),
    );
    let json = serde_json::to_value(&got).unwrap();
    for key in ["confidence", "seed", "latencies", "setups", "pairs"] {
        assert!(!json[key].is_null(), "{key}");
    }
    let setup = &json["setups"][0];
    for key in ["name", "label", "judged", "hit", "soft", "lost", "void"] {
        assert!(!setup[key].is_null(), "{key}");
    }
    assert!(setup["hit_rate"]["low"].is_number());
    assert!(setup["latency_ms"]["p50"].is_number() && setup["latency_ms"]["n"].is_number());
    assert!(setup["time_to_focus_ms"]["restricted_mean"].is_number());
    let sides: Vec<_> = got.pairs.iter().map(|p| p.side.as_str()).collect();
    assert_eq!(sides, ["near", "far", "all"]);
    let pair = &json["pairs"][2];
    for key in ["value", "low", "high", "fisher_p", "holm_p"] {
        assert!(pair["hit_rate_difference"][key].is_number(), "{key}");
    }
    for key in ["value", "low", "high", "mann_whitney_p", "holm_p"] {
        assert!(pair["hit_latency_shift_ms"][key].is_number(), "{key}");
    }
    for key in ["log_rank_p", "holm_p", "restricted_mean_difference_ms"] {
        assert!(pair["time_to_focus"][key].is_number(), "{key}");
    }
    assert_eq!(pair["a_sooner_probability"], 1.0);
    assert_eq!(pair["verdict"], "a_sooner");
    assert_eq!(pair["hit_rate_verdict"], "no_difference_shown");
    assert!(pair["more_trials_per_setup"].is_null());
    let text = pair["sentence"].as_str().unwrap();
    assert!(
        text.starts_with("kit-amber reaches focus sooner than kit-cobalt"),
        "{text}"
    );
    assert!((got.pairs[2].hit_latency_shift_ms.value.unwrap() + 90.0).abs() < 1e-9);
    assert!(got.pairs[2].by_clip.is_none());
}

#[test]
fn fewer_than_six_judged_on_a_side_is_too_few() {
    let a = swinging("a", &[vec![Some(200.0); 12]]);
    let b = swinging("b", &[vec![Some(900.0); 11]]);
    let got = run(&a, &b);
    let verdicts: Vec<_> = got.pairs.iter().map(|p| p.verdict).collect();
    let few = Sooner::TooFewTrials;
    assert_eq!(verdicts, [Sooner::ASooner, few, few]);
    assert_eq!(got.pairs[1].more_trials_per_setup, Some(1));
    assert!(got.pairs[1].sentence.contains("Too few"));
}

#[test]
fn different_windows_are_cut_to_the_shorter() {
    let long: Vec<Trial> = (0..20)
        .map(|k| trial(k, None, Some(if k < 10 { 300.0 } else { 1200.0 }), 3000.0))
        .collect();
    let short: Vec<Trial> = (0..20)
        .map(|k| trial(k, None, (k < 10).then_some(300.0), 1000.0))
        .collect();
    let got = run(
        &timing("long", vec![clip("l", long)]),
        &timing("short", vec![clip("s", short)]),
    );
    let pair = &got.pairs[0];
    assert!((pair.window_ms.unwrap() - 1000.0).abs() < 1e-6);
    assert_eq!(pair.hit_rate_difference.value, Some(0.0));
    let difference = pair.time_to_focus.restricted_mean_difference_ms.unwrap();
    assert!(difference.abs() < 1e-6);
    assert_eq!(pair.a_sooner_probability, Some(0.5));
    assert!(
        got.warnings.iter().any(|w| w.contains("windows differ")),
        "{:?}",
        got.warnings
    );
}

#[test]
fn corrected_only_if_every_clip_is() {
    let with_lag = |name: &str, lag: Option<f64>| {
        let mut t = lights(name, 12, 14, 300.0);
        t.clips[0].live_view_lag_ms = lag;
        for trial in &mut t.clips[0].trials {
            trial.latency_corrected_ms = trial.latency_ms.zip(lag).map(|(ms, l)| ms - l);
        }
        t
    };
    let (a, b) = (with_lag("a", Some(50.0)), with_lag("b", Some(80.0)));
    let corrected = run(&a, &b);
    assert_eq!(corrected.latencies, "corrected");
    let shift = corrected.pairs[0].hit_latency_shift_ms.value.unwrap();
    assert!((shift - 30.0).abs() < 1e-9);
    let limit = corrected.pairs[0].time_to_focus.restricted_to_ms.unwrap();
    assert!((limit - 1420.0).abs() < 1e-6);
    let mixed = run(&a, &with_lag("b", None));
    assert_eq!(mixed.latencies, "as seen");
    assert_eq!(mixed.pairs[0].hit_latency_shift_ms.value, Some(0.0));
    assert!(mixed.warnings.iter().any(|w| w.contains("live-view lag")));
}

/// A clip of misses only, its lag unknown: how long it was watched on the
/// corrected axis is unknown too.
#[test]
fn an_unknown_lag_among_misses_forbids_correction() {
    let with_lag = |name: &str| {
        let mut t = lights(name, 12, 14, 300.0);
        t.clips[0].live_view_lag_ms = Some(50.0);
        for trial in &mut t.clips[0].trials {
            trial.latency_corrected_ms = trial.latency_ms.map(|ms| ms - 50.0);
        }
        t
    };
    let (a, mut b) = (with_lag("a"), with_lag("b"));
    assert_eq!(run(&a, &b).latencies, "corrected");
    let lost = (0..3).map(|k| trial(k, None, None, 1500.0)).collect();
    b.clips.push(clip("blind", lost));
    assert_eq!(run(&a, &b).latencies, "as seen");
    b.clips[1].live_view_lag_ms = Some(60.0);
    assert_eq!(run(&a, &b).latencies, "corrected");
    let none = lights("none", 0, 9, 300.0);
    assert_eq!(
        run(&none, &lights("never", 0, 8, 300.0)).latencies,
        "as seen"
    );
}

#[test]
fn what_does_not_compare_is_refused() {
    let a = lights("a", 8, 9, 200.0);
    let mut b = lights("b", 8, 9, 250.0);
    let refusal = |x: &Timing, y: &Timing| {
        let both = [named("a.timing.json", x), named("b.timing.json", y)];
        compare(&both, &CompareOptions::default())
            .unwrap_err()
            .to_string()
    };
    b.measure = serde_json::json!({ "name": "tenengrad", "version": 1 });
    let text = refusal(&a, &b);
    assert!(
        text.contains("b.timing.json") && text.contains("tenengrad"),
        "{text}"
    );
    b.measure = crate::stats::fixtures::measure(2.0);
    b.measure["version"] = serde_json::json!(2);
    let text = refusal(&a, &b);
    assert!(
        text.contains("blur, version 1") && text.contains("focuslag time SESSION.toml"),
        "{text}"
    );
    b.measure = a.measure.clone();
    for trial in &mut b.clips[0].trials {
        trial.delta_permille = Some(3.5);
    }
    let text = refusal(&a, &b);
    assert!(
        text.contains("compare --at-permille 3.5 a.timing.json b.timing.json"),
        "{text}"
    );
    // What no trial says, `measure` says.
    for trial in &mut b.clips[0].trials {
        trial.delta_permille = None;
    }
    let both = [named("a", &a), named("b", &b)];
    assert!(compare(&both, &CompareOptions::default()).is_ok());
    b.measure["settle_permille"] = serde_json::json!(2.5);
    assert!(refusal(&a, &b).contains("--at-permille 2.5"));
    b.measure = a.measure.clone();
    assert!(refusal(&a, &a).contains("same trials"));
    assert!(refusal(&a, &swinging("s", &[vec![Some(200.0); 12]])).contains("sides"));
    let one = [named("a.timing.json", &a)];
    assert!(compare(&one, &CompareOptions::default()).is_err());
    let c = lights("c", 8, 9, 210.0);
    for confidence in [0.2, 1.0, f64::NAN] {
        let options = CompareOptions {
            confidence,
            ..CompareOptions::default()
        };
        assert!(compare(&[named("a", &a), named("c", &c)], &options).is_err());
    }
}

#[test]
fn namesakes_are_told_apart() {
    let with = |firmware: Option<&str>, base: f64| {
        let mut t = lights("kit-amber", 8, 9, base);
        if let Some(value) = firmware {
            t.setup.tags.insert("firmware".to_owned(), value.to_owned());
        }
        t
    };
    let (old, new) = (with(Some("1.0"), 200.0), with(Some("2.0"), 240.0));
    let got = run(&old, &new);
    let labels: Vec<_> = got.setups.iter().map(|s| s.label.as_str()).collect();
    assert_eq!(labels, ["kit-amber (1.0)", "kit-amber (2.0)"]);
    assert_eq!(got.pairs[0].a, labels[0]);
    let (plain, again) = (with(None, 200.0), with(None, 240.0));
    let got = run(&plain, &again);
    assert_eq!(got.setups[1].label, "kit-amber (b.timing.json)");
    let deep = [named("x/k.json", &plain), named("y/k.json", &again)];
    let got = compare(&deep, &CompareOptions::default()).unwrap();
    assert_eq!(got.setups[1].label, "kit-amber (y/k.json)");
}

#[test]
fn differing_settings_are_said_aloud() {
    let mut a = lights("a", 8, 9, 200.0);
    a.made_by.insert("focuslag".to_owned(), "0.1.0".to_owned());
    let mut b = lights("b", 8, 9, 240.0);
    b.rig["trial"]["hit_permille"] = serde_json::json!(6.0);
    b.clips[0].capture_fps = Some(120.0);
    b.made_by.insert("focuslag".to_owned(), "9.9.9".to_owned());
    b.setup.tags.insert("light".to_owned(), "dusk".to_owned());
    b.setup.tags.insert("af".to_owned(), "single".to_owned());
    let said = run(&a, &b).warnings.join("\n");
    for word in [
        "trial.hit_permille 4.0 / 6.0",
        "120 fps",
        "9.9.9",
        "dusk",
        "one of them",
        "Few clips: a 1, b 1.",
    ] {
        assert!(said.contains(word), "{word}: {said}");
    }
}

/// Six equal setups: Holm must cost, and no pair may be told apart here.
#[test]
fn holm_runs_over_the_pairs_of_each_test() {
    let all: Vec<_> = (0..4)
        .map(|k| lights(&format!("kit-{k}"), 20 + k, 30, 200.0 + f64::from(k)))
        .collect();
    let list: Vec<_> = all.iter().map(|t| named("f", t)).collect();
    let got = compare(&list, &CompareOptions::default()).unwrap();
    assert_eq!(got.pairs.len(), 6);
    let raw: Vec<_> = got
        .pairs
        .iter()
        .map(|p| p.time_to_focus.log_rank_p)
        .collect();
    let adjusted: Vec<_> = got.pairs.iter().map(|p| p.time_to_focus.holm_p).collect();
    assert_eq!(adjusted, crate::stats::holm::holm(&raw));
    assert!(adjusted.iter().zip(&raw).any(|(h, p)| h > p));
}

fn random_setup(name: &'static str) -> impl Strategy<Value = Timing> {
    let latency = prop::option::weighted(0.8, (100u32..1400).prop_map(f64::from));
    let one_clip = prop::collection::vec(latency, 1..9);
    prop::collection::vec(one_clip, 1..7).prop_map(move |clips| swinging(name, &clips))
}

fn flipped(x: Option<f64>, y: Option<f64>) -> bool {
    match (x, y) {
        (Some(x), Some(y)) => (x + y).abs() < 1e-6,
        (None, None) => true,
        _ => false,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn swapping_the_setups_flips_the_signs(a in random_setup("a"), b in random_setup("b")) {
        let there = run(&a, &b);
        let back = run(&b, &a);
        for (p, q) in there.pairs.iter().zip(&back.pairs) {
            prop_assert_eq!(&p.side, &q.side);
            let (r, s) = (p.hit_rate_difference, q.hit_rate_difference);
            prop_assert!(flipped(r.value, s.value) && flipped(r.low, s.high));
            prop_assert!(flipped(r.fisher_p, s.fisher_p.map(|x| -x)));
            let (r, s) = (p.hit_latency_shift_ms, q.hit_latency_shift_ms);
            prop_assert!(flipped(r.value, s.value) && flipped(r.low, s.high));
            let (r, s) = (p.time_to_focus, q.time_to_focus);
            prop_assert!(flipped(r.restricted_mean_difference_ms, s.restricted_mean_difference_ms));
            prop_assert!(flipped(r.log_rank_p, s.log_rank_p.map(|x| -x)));
            let sum = p.a_sooner_probability.zip(q.a_sooner_probability);
            prop_assert!(sum.is_none_or(|(x, y)| (x + y - 1.0).abs() < 1e-9));
            let mirrored = match p.verdict {
                Sooner::ASooner => Sooner::BSooner,
                Sooner::BSooner => Sooner::ASooner,
                other => other,
            };
            prop_assert_eq!(mirrored, q.verdict);
            if let (Some(r), Some(s)) = (p.by_clip, q.by_clip) {
                let (r, s) = (r.restricted_mean_difference_ms, s.restricted_mean_difference_ms);
                prop_assert!(flipped(r.map(|i| i.low), s.map(|i| i.high)));
            }
        }
        prop_assert_eq!(&there, &run(&a, &b));
        prop_assert!(serde_json::to_string(&there).is_ok());
    }
}

/// Six setups of 1,000 trials in ten clips each. The bound is for an optimised
/// build on a busy machine; the tests are optimised too.
#[test]
fn six_thousand_trials_do_not_keep_anyone_waiting() {
    let all: Vec<_> = (0..6u32)
        .map(|s| {
            let clips: Vec<Vec<_>> = (0..10u32)
                .map(|c| {
                    (0..100u32)
                        .map(|k| {
                            let mix = (s * 7919 + c * 104_729 + k * 1_299_709) % 9973;
                            (mix % 11 != 0).then(|| 150.0 + f64::from(mix) / 11.3)
                        })
                        .collect()
                })
                .collect();
            swinging(&format!("kit-{s}"), &clips)
        })
        .collect();
    let list: Vec<_> = all.iter().map(|t| named("f", t)).collect();
    let start = Instant::now();
    let got = compare(&list, &CompareOptions::default()).unwrap();
    let took = start.elapsed().as_secs_f64();
    assert_eq!(got.pairs.len(), 45);
    assert!(got.pairs.iter().all(|p| p.by_clip.is_some()));
    println!("six setups of 1,000 trials: {took:.2} s");
    assert!(took < 6.0, "{took} s");
}
