//! Coverage, false alarms and power of every interval and verdict, on
//! simulated sessions through the real `compare` and `gate`.
//!
//! `cargo bench --bench statistics` prints the tables (minutes);
//! `cargo bench --bench statistics -- 1000` with 1,000 sets per case; a word
//! besides runs only the cases with that word in their title.

mod cases;
mod grid;
mod repeated;
mod simulate;

use std::thread;

use cases::{Table, coverage, false_alarms, gated, power};
use focuslag::stats::compare::CompareOptions;
use focuslag::stats::gate::Policy;
use focuslag::stats::looks::Spending;
use repeated::{between, gated_over_sessions, looked};
use simulate::Scene;

type Run = Box<dyn Fn(u64) -> Table + Send + Sync>;
type Case = (String, Run);

fn main() {
    // A test runner builds and starts benches too; only `cargo bench` says so.
    if !std::env::args().any(|a| a == "--bench") {
        println!("run with: cargo bench --bench statistics [-- SETS]");
        return;
    }
    let sets = std::env::args()
        .filter_map(|a| a.parse().ok())
        .next()
        .unwrap_or(5000);
    let only = std::env::args()
        .skip(1)
        .find(|a| !a.starts_with('-') && a.parse::<u64>().is_err());
    if only.as_deref().is_none_or(|o| o == "speed") {
        speed();
    }
    let mut cases = all();
    cases.extend(grid::cases());
    cases.extend(over_time());
    cases.retain(|(title, _)| only.as_ref().is_none_or(|o| title.contains(o.as_str())));
    let (first, second): (Vec<_>, Vec<_>) = cases.iter().enumerate().partition(|(k, _)| k % 2 == 0);
    thread::scope(|scope| {
        for half in [first, second] {
            scope.spawn(move || {
                for (_, (title, run)) in half {
                    print(title, &run(sets));
                }
            });
        }
    });
}

/// Six setups of 1,000 trials in 20 clips each, default resampling.
fn speed() {
    let scene = Scene {
        clips: 20,
        trials: 50,
        ..Scene::default()
    };
    let all: Vec<_> = (0..6)
        .map(|k| scene.session(&format!("kit-{k}"), &mut simulate::generator(300, k)))
        .collect();
    let start = std::time::Instant::now();
    let got = cases::compared(&all, CompareOptions::default().resamples);
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "\n## Speed\nsix setups of 1,000 trials, {} pairs compared: {seconds:.2} s",
        got.pairs.len()
    );
}

fn print(title: &str, table: &Table) {
    let sets = table.values().map(|share| share.of).max().unwrap_or(0);
    let how = if sets > 1_000_000 {
        "enumerated".to_owned()
    } else {
        format!("{sets} sets")
    };
    let mut text = format!("\n## {title} ({how})\n");
    for (key, share) in table {
        let p = share.value();
        let se = share.standard_error(p);
        text.push_str(&format!("{key:<44} {p:>7.4} ± {se:.4}\n"));
    }
    print!("{text}");
}

/// Looks while filming, and sessions that differ.
fn over_time() -> Vec<Case> {
    let five = Scene {
        clips: 5,
        trials: 24,
        ..Scene::default()
    };
    let slower = Scene {
        median_ms: five.median_ms.map(|m| m * 1.22),
        ..five
    };
    let day = |between: f64| Scene {
        clip_log_sd: between,
        ..Scene::default()
    };
    let mut list: Vec<Case> = Vec::new();
    for (case, spending, words) in [(30, Spending::Late, "late"), (31, Spending::Even, "even")] {
        list.push((
            format!("Looks, equal setups, five, {words}"),
            Box::new(move |n| looked(case, &five, &five, spending, n)),
        ));
        list.push((
            format!("Looks, 22 % slower, five, {words}"),
            Box::new(move |n| looked(case + 2, &five, &slower, spending, n)),
        ));
    }
    for k in [3, 5, 10] {
        for between_sd in [0.0, 0.05, 0.15] {
            list.push((
                format!("Sessions, {k}, {between_sd} between"),
                Box::new(move |n| between(40 + u64::from(k), &day(between_sd), k, n)),
            ));
        }
        list.push((
            format!("Sessions, {k}, gate, nothing changed, 0.1 between"),
            Box::new(move |n| {
                let scene = Scene {
                    trials: 240,
                    miss: 0.02,
                    ..day(0.1)
                };
                gated_over_sessions(60 + u64::from(k), &scene, k, n / 5)
            }),
        ));
    }
    list
}

fn all() -> Vec<Case> {
    let plain = Scene::default();
    let small = Scene {
        trials: 20,
        ..plain
    };
    let tied = Scene {
        grid_ms: 16.667,
        ..plain
    };
    let six_clips = Scene {
        clips: 6,
        trials: 20,
        clip_log_sd: 0.0,
        ..plain
    };
    let uneven = move |clips| Scene {
        clips,
        trials: 20,
        clip_log_sd: 0.1,
        ..plain
    };
    let slower = move |by: f64| Scene {
        median_ms: plain.median_ms.map(|m| m * by),
        ..plain
    };
    let policy = Policy::default();
    let list: Vec<(&str, Run)> = vec![
        (
            "Equal setups, 30 a side",
            Box::new(move |n| false_alarms(1, &plain, 2, n)),
        ),
        (
            "Equal setups, 10 a side",
            Box::new(move |n| false_alarms(2, &small, 2, n)),
        ),
        (
            "Equal setups, on a 60 Hz screen",
            Box::new(move |n| false_alarms(3, &tied, 2, n)),
        ),
        (
            "Four equal setups",
            Box::new(move |n| false_alarms(4, &plain, 4, n)),
        ),
        (
            "Equal setups, 4 clips that differ",
            Box::new(move |n| false_alarms(5, &uneven(4), 2, n)),
        ),
        (
            "Intervals, shift of 40 ms, 30 a side",
            Box::new(move |n| {
                let b = Scene {
                    shift_ms: 40.0,
                    miss: 0.2,
                    ..plain
                };
                coverage(6, &plain, &b, n, 199)
            }),
        ),
        (
            "Intervals, shift of 40 ms, 10 a side",
            Box::new(move |n| {
                coverage(
                    7,
                    &small,
                    &Scene {
                        shift_ms: 40.0,
                        ..small
                    },
                    n,
                    199,
                )
            }),
        ),
        (
            "Intervals, 5 clips that differ",
            Box::new(move |n| coverage(8, &uneven(5), &uneven(5), n / 4, 999)),
        ),
        (
            "Intervals, 12 clips that differ",
            Box::new(move |n| coverage(9, &uneven(12), &uneven(12), n / 4, 999)),
        ),
        (
            "Intervals, 6 clips alike",
            Box::new(move |n| coverage(10, &six_clips, &six_clips, n / 4, 999)),
        ),
        (
            "10 % slower, 30 a side",
            Box::new(move |n| power(11, &plain, &slower(1.1), n)),
        ),
        (
            "20 % slower, 30 a side",
            Box::new(move |n| power(12, &plain, &slower(1.2), n)),
        ),
        (
            "30 % slower, 30 a side",
            Box::new(move |n| power(13, &plain, &slower(1.3), n)),
        ),
        (
            "Gate, nothing changed, 200 a side",
            Box::new(move |n| {
                let scene = Scene {
                    trials: 400,
                    miss: 0.02,
                    ..plain
                };
                gated(14, &scene, &scene, &policy, n / 10)
            }),
        ),
        (
            "Gate, median exactly at its limit, 60 a side",
            Box::new(move |n| {
                let scene = Scene {
                    trials: 120,
                    miss: 0.02,
                    ..plain
                };
                let after = Scene {
                    shift_ms: 20.0,
                    ..scene
                };
                gated(15, &scene, &after, &policy, n / 5)
            }),
        ),
        (
            "Gate, median exactly at its limit, 8 clips that differ",
            Box::new(move |n| {
                let scene = Scene {
                    clips: 8,
                    trials: 20,
                    miss: 0.02,
                    clip_log_sd: 0.1,
                    ..plain
                };
                let after = Scene {
                    shift_ms: 20.0,
                    ..scene
                };
                gated(16, &scene, &after, &policy, n / 5)
            }),
        ),
    ];
    list.into_iter()
        .map(|(title, run)| (title.to_owned(), run))
        .collect()
}
