//! Coverage over a grid of sizes and rates, and power at the planned number
//! of trials.

#![allow(clippy::expect_used, reason = "the plans asked for exist")]

use focuslag::plan::sizes::{Latencies, Level, Rates, for_rates};
use focuslag::plan::sooner::for_sooner;
use focuslag::stats::binomial::wilson;

use crate::Case;
use crate::cases::{Table, coverage, power};
use crate::simulate::{Scene, Share};

const LEVEL: Level = Level {
    confidence: 0.95,
    power: 0.8,
};

/// All cases of the grid.
pub fn cases() -> Vec<Case> {
    let mut out: Vec<Case> = vec![(
        "Grid: exact coverage of the Wilson interval by size and rate".to_owned(),
        Box::new(|_| wilson_exactly()),
    )];
    for (k, trials) in [10u32, 20, 40, 80].into_iter().enumerate() {
        for (j, miss) in [0.05, 0.2, 0.4].into_iter().enumerate() {
            let case = 100 + 10 * k as u64 + j as u64;
            out.push((
                format!("Grid: intervals, {trials} a side, {miss} missed against the same"),
                Box::new(move |n| {
                    let scene = Scene {
                        trials: 2 * trials,
                        miss,
                        ..Scene::default()
                    };
                    coverage(case, &scene, &scene, n, 199)
                }),
            ));
        }
    }
    for (k, (hit_rate, versus)) in [(0.9, 0.8), (0.8, 0.6), (0.9, 0.75)]
        .into_iter()
        .enumerate()
    {
        let n = for_rates(Rates { hit_rate, versus }, LEVEL).expect("a plan");
        let trials = n.trials_per_setup;
        out.push((
            format!("Planned: hit rate {hit_rate} against {versus}, {trials} a side, power 0.8"),
            Box::new(move |n| {
                let a = Scene {
                    trials: 2 * trials as u32,
                    miss: 1.0 - hit_rate,
                    ..Scene::default()
                };
                let b = Scene {
                    miss: 1.0 - versus,
                    ..a
                };
                power(200 + k as u64, &a, &b, n)
            }),
        ));
    }
    for (k, share) in [0.4, 0.6, 0.9].into_iter().enumerate() {
        let scene = Scene {
            miss: 0.0,
            ..Scene::default()
        };
        let spread_ms = scene.spread_ms(0);
        let latencies = Latencies {
            spread_ms,
            detect_ms: share * spread_ms,
        };
        let planned = for_sooner(latencies, LEVEL).expect("a plan");
        let trials = planned.trials_per_setup;
        out.push((
            format!("Planned: a shift of {share} spreads, {trials} a side, power 0.8"),
            Box::new(move |n| {
                let a = Scene {
                    trials: 2 * trials as u32,
                    ..scene
                };
                let b = Scene {
                    shift_ms: latencies.detect_ms,
                    ..a
                };
                power(210 + k as u64, &a, &b, n)
            }),
        ));
    }
    out
}

/// Coverage by enumeration, no simulation.
fn wilson_exactly() -> Table {
    let mut table = Table::new();
    for n in [6u64, 10, 20, 30, 60, 120] {
        for rate in [0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98] {
            let mut held = 0.0;
            for hits in 0..=n {
                let (low, high) = wilson(hits, n, 0.95).expect("trials");
                if low <= rate && rate <= high {
                    held += probability(hits, n, rate);
                }
            }
            table.insert(format!("{n:>4} trials, rate {rate:.2}"), Share::exact(held));
        }
    }
    table
}

fn probability(hits: u64, n: u64, rate: f64) -> f64 {
    let mut p = 1.0;
    for k in 0..hits {
        p *= (n - k) as f64 / (k + 1) as f64 * rate;
    }
    p * (1.0 - rate).powi((n - hits) as i32)
}
