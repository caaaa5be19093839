//! Same against same: the clips of one setup dealt into two, again and again.
//! A difference shown is a false alarm.

use std::collections::BTreeSet;

use focuslag::stats::compare::{CompareOptions, Named, compare};
use focuslag::store::schema::Timing;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

/// Resamples of the clips in each comparison: a verdict does not rest on them.
const RESAMPLES: usize = 199;

/// Deals the clips of `pool` `times` times; how often which test is alarmed.
pub fn line(pool: &[Value], times: usize, seed: u64) -> String {
    let clips: Vec<&Value> = pool
        .iter()
        .flat_map(|t| t["clips"].as_array().map_or(&[][..], Vec::as_slice))
        .collect();
    let Some(base) = pool.first().filter(|_| clips.len() > 3) else {
        return format!("same against same: {} clips are too few", clips.len());
    };
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut order: Vec<usize> = (0..clips.len()).collect();
    let (mut alarms, mut rates, mut compared) = (0, 0, 0);
    let mut deals = BTreeSet::new();
    for _ in 0..times {
        order.shuffle(&mut rng);
        let (a, b) = order.split_at(order.len() / 2);
        let mut deal = a.to_vec();
        deal.sort_unstable();
        deals.insert(deal);
        let Some(pair) = all_pair(&setup(base, &clips, a), &setup(base, &clips, b)) else {
            continue;
        };
        compared += 1;
        let shown =
            |key: &str, none: [&str; 2]| !none.contains(&pair[key].as_str().unwrap_or(none[0]));
        alarms += usize::from(shown("verdict", ["no_difference_shown", "too_few_trials"]));
        rates += usize::from(shown(
            "hit_rate_verdict",
            ["no_difference_shown", "too_few_trials"],
        ));
    }
    let share = |n: usize| 100.0 * n as f64 / f64::max(1.0, compared as f64);
    format!(
        "same against same: {} clips dealt {times} times ({} ways), {compared} compared: sooner or later {alarms} ({:.1} %), hit rate {rates} ({:.1} %)",
        clips.len(),
        deals.len(),
        share(alarms),
        share(rates)
    )
}

/// A timing file of some of the clips.
fn setup(base: &Value, clips: &[&Value], mine: &[usize]) -> Timing {
    let mut timing = base.clone();
    timing["clips"] = mine.iter().map(|k| clips[*k].clone()).collect();
    timing["summary"] = Value::Null;
    serde_json::from_value(timing).expect("a timing file")
}

/// The pair of all sides, as `compare --json` has it.
fn all_pair(a: &Timing, b: &Timing) -> Option<Value> {
    let named = [("a", a), ("b", b)].map(|(file, timing)| Named { file, timing });
    let options = CompareOptions {
        resamples: RESAMPLES,
        ..CompareOptions::default()
    };
    let all = serde_json::to_value(compare(&named, &options).ok()?).ok()?;
    let pairs = all["pairs"].as_array()?;
    pairs.iter().find(|p| p["side"] == "all").cloned()
}
