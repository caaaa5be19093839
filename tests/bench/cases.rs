//! What is asked of the simulated sessions: coverage, false alarms, power.
#![allow(
    dead_code,
    reason = "shared by a test and a bench that use parts of it"
)]
#![allow(
    clippy::unwrap_used,
    reason = "simulated sessions are always comparable"
)]

use std::collections::BTreeMap;

use focuslag::stats::compare::{CompareOptions, Comparison, Higher, Named, Pair, Sooner, compare};
use focuslag::stats::gate::{Gate, GateOptions, Policy, Verdict, gate};
use focuslag::stats::summary::summarise;
use focuslag::store::schema::{Side, Timing};

use crate::simulate::{Scene, Share, generator};

/// Shares by what was asked.
pub type Table = BTreeMap<String, Share>;

fn add(table: &mut Table, key: &str, held: bool) {
    table.entry(key.to_owned()).or_default().add(held);
}

/// The real comparison.
pub fn compared(all: &[Timing], resamples: usize) -> Comparison {
    let named: Vec<Named> = all
        .iter()
        .map(|timing| Named {
            file: "simulated",
            timing,
        })
        .collect();
    let options = CompareOptions {
        resamples,
        ..CompareOptions::default()
    };
    compare(&named, &options).unwrap()
}

/// How often equal setups are told apart: on near, on all, and anywhere among
/// the pairs of a test.
pub fn false_alarms(case: u64, scene: &Scene, setups: usize, sets: u64) -> Table {
    let mut table = Table::new();
    for set in 0..sets {
        let mut rng = generator(case, set);
        let all: Vec<_> = (0..setups)
            .map(|k| scene.session(&format!("kit-{k}"), &mut rng))
            .collect();
        let got = compared(&all, 199);
        let on = |side: &str| {
            got.pairs
                .iter()
                .filter(move |p| p.side == side)
                .collect::<Vec<_>>()
        };
        let sooner = |p: &&Pair| matches!(p.verdict, Sooner::ASooner | Sooner::BSooner);
        let higher = |p: &&Pair| matches!(p.hit_rate_verdict, Higher::AHigher | Higher::BHigher);
        let ranks = |p: &&Pair| p.hit_latency_shift_ms.holm_p.is_some_and(|p| p < 0.05);
        for side in ["near", "all"] {
            let pairs = on(side);
            add(
                &mut table,
                &format!("log-rank, {side}"),
                pairs.iter().any(sooner),
            );
            add(
                &mut table,
                &format!("Fisher, {side}"),
                pairs.iter().any(higher),
            );
            add(
                &mut table,
                &format!("Mann–Whitney, {side}"),
                pairs.iter().any(ranks),
            );
        }
    }
    table
}

/// How often the intervals of two setups hold the truth.
pub fn coverage(case: u64, a: &Scene, b: &Scene, sets: u64, resamples: usize) -> Table {
    let mut table = Table::new();
    let means = |s: &Scene| [s.restricted_mean(0), s.restricted_mean(1)];
    let (mean_a, mean_b) = (means(a), means(b));
    for set in 0..sets {
        let mut rng = generator(case, set);
        let both = [
            a.session("kit-amber", &mut rng),
            b.session("kit-slate", &mut rng),
        ];
        let got = compared(&both, resamples);
        for pair in got.pairs.iter().filter(|p| p.side != "far") {
            let mean = if pair.side == "near" {
                mean_a[0] - mean_b[0]
            } else {
                f64::midpoint(mean_a[0] - mean_b[0], mean_a[1] - mean_b[1])
            };
            pair_coverage(
                &mut table,
                pair,
                b.miss - a.miss,
                a.shift_ms - b.shift_ms,
                mean,
            );
        }
        setup_coverage(&mut table, a, &both[0]);
    }
    table
}

fn pair_coverage(table: &mut Table, pair: &Pair, rate: f64, shift: f64, mean: f64) {
    let side = &pair.side;
    let inside = |low: f64, high: f64, truth: f64| low <= truth && truth <= high;
    let d = &pair.hit_rate_difference;
    if let Some((low, high)) = d.low.zip(d.high) {
        add(table, &format!("Newcombe, {side}"), inside(low, high, rate));
    }
    let d = &pair.hit_latency_shift_ms;
    if let Some((low, high)) = d.low.zip(d.high) {
        add(
            table,
            &format!("Hodges–Lehmann, {side}"),
            inside(low, high, shift),
        );
    }
    let d = &pair.time_to_focus;
    let limits = d
        .restricted_mean_difference_low_ms
        .zip(d.restricted_mean_difference_high_ms);
    if let Some((low, high)) = limits {
        add(
            table,
            &format!("restricted mean, {side}"),
            inside(low, high, mean),
        );
    }
    if let Some(by_clip) = &pair.by_clip {
        let cases = [
            ("hit rate", by_clip.hit_rate_difference, rate),
            ("shift", by_clip.hit_latency_shift_ms, shift),
            (
                "restricted mean",
                by_clip.restricted_mean_difference_ms,
                mean,
            ),
        ];
        for (name, interval, truth) in cases {
            if let Some(i) = interval {
                let key = format!("by clip: {name}, {side}");
                add(table, &key, inside(i.low, i.high, truth));
            }
        }
    }
}

fn setup_coverage(table: &mut Table, scene: &Scene, timing: &Timing) {
    let summary = summarise(&timing.clips, 0.95).unwrap();
    let near = &summary.by_side[&Side::Near];
    let truth = scene.quantile(0, 0.5);
    let focus = near.time_to_focus_ms;
    let above = focus.median_low.is_none_or(|low| low <= truth);
    let below = focus.median_high.is_none_or(|high| truth <= high);
    add(table, "Kaplan–Meier median, near", above && below);
    if let Some(rate) = near.hit_rate {
        let held = rate.low <= 1.0 - scene.miss && 1.0 - scene.miss <= rate.high;
        add(table, "Wilson, near", held);
    }
}

/// How often a true difference is shown, and shown the wrong way round.
pub fn power(case: u64, a: &Scene, b: &Scene, sets: u64) -> Table {
    let mut table = Table::new();
    for set in 0..sets {
        let mut rng = generator(case, set);
        let both = [
            a.session("kit-amber", &mut rng),
            b.session("kit-slate", &mut rng),
        ];
        let got = compared(&both, 199);
        for pair in got.pairs.iter().filter(|p| p.side != "far") {
            let side = &pair.side;
            let said = |verdict| pair.verdict == verdict;
            add(
                &mut table,
                &format!("log-rank shown, {side}"),
                said(Sooner::ASooner),
            );
            add(
                &mut table,
                &format!("log-rank reversed, {side}"),
                said(Sooner::BSooner),
            );
            let ranks = pair.hit_latency_shift_ms.mann_whitney_p;
            add(
                &mut table,
                &format!("Mann–Whitney p < 0.05, {side}"),
                ranks.is_some_and(|p| p < 0.05),
            );
            let rate = pair.hit_rate_verdict == Higher::AHigher;
            add(&mut table, &format!("Fisher shown, {side}"), rate);
        }
    }
    table
}

/// Verdicts of a gate, check by check.
pub fn gated(case: u64, before: &Scene, after: &Scene, policy: &Policy, sets: u64) -> Table {
    let mut table = Table::new();
    for set in 0..sets {
        let mut rng = generator(case, set);
        let both = [
            before.session("kit-amber", &mut rng),
            after.session("kit-amber-new", &mut rng),
        ];
        let options = GateOptions {
            resamples: 599,
            ..GateOptions::default()
        };
        let [x, y] = [0, 1].map(|k| Named {
            file: "simulated",
            timing: &both[k],
        });
        let got: Gate = gate(Some(&x), &y, policy, &options).unwrap();
        for check in got.checks.iter().filter(|c| c.side != "far") {
            let key = format!("{}, {}", check.name, check.side);
            add(
                &mut table,
                &format!("{key}: pass"),
                check.verdict == Verdict::Pass,
            );
            add(
                &mut table,
                &format!("{key}: regression"),
                check.verdict == Verdict::Regression,
            );
        }
        add(&mut table, "gate: pass", got.verdict == Verdict::Pass);
        add(
            &mut table,
            "gate: regression",
            got.verdict == Verdict::Regression,
        );
    }
    table
}
