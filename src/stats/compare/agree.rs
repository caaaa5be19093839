//! What must agree before setups are compared.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::store::schema::Trial;

use super::super::sample::{self, Latencies};
use super::{CompareError, CompareOptions, Named};

/// Refuses what cannot be compared.
pub(in crate::stats) fn check(
    named: &[Named],
    options: &CompareOptions,
) -> Result<(), CompareError> {
    if named.len() < 2 {
        return Err(CompareError::TooFew(named.len()));
    }
    if !(options.confidence > 0.5 && options.confidence < 1.0) {
        return Err(CompareError::Confidence(options.confidence));
    }
    if !(199..=100_000).contains(&options.resamples) {
        return Err(CompareError::Resamples(options.resamples));
    }
    // What a file agrees on with the first, it agrees on with all before it; and
    // only files of the same films can hold the same.
    let mut films: BTreeMap<Vec<&str>, Vec<&Named>> = BTreeMap::new();
    for (k, b) in named.iter().enumerate() {
        if k > 0 {
            alike(&named[0], b)?;
        }
        let before = films.entry(films_of(b)).or_default();
        if let Some(a) = before.iter().find(|a| same_content(a, b)) {
            return Err(twice(a, b));
        }
        before.push(b);
    }
    Ok(())
}

/// Refuses two files that cannot be held against each other.
///
/// # Errors
/// Another version of blur, another δ, a swing against a trigger, the same
/// content twice.
pub(in crate::stats) fn check_two(a: &Named, b: &Named) -> Result<(), CompareError> {
    alike(a, b)?;
    match same_content(a, b) {
        true => Err(twice(a, b)),
        false => Ok(()),
    }
}

fn twice(a: &Named, b: &Named) -> CompareError {
    CompareError::Same {
        a: a.file.to_owned(),
        b: b.file.to_owned(),
    }
}

/// Blur of one version, one δ, and trials that start alike.
fn alike(a: &Named, b: &Named) -> Result<(), CompareError> {
    judged_alike(a, b)?;
    let sides = |a: &Named, b: &Named| CompareError::Sides {
        a: a.file.to_owned(),
        b: b.file.to_owned(),
    };
    match (has_sides(a), has_sides(b)) {
        (true, false) => Err(sides(a, b)),
        (false, true) => Err(sides(b, a)),
        _ => Ok(()),
    }
}

/// SHA-256 of the clips with trials, in order.
fn films_of<'a>(named: &Named<'a>) -> Vec<&'a str> {
    let clips = named.timing.clips.iter().filter(|c| !c.trials.is_empty());
    let mut films: Vec<&str> = clips.map(|c| c.sha256.as_str()).collect();
    films.sort_unstable();
    films
}

/// Blur of one version, and one δ.
fn judged_alike(a: &Named, b: &Named) -> Result<(), CompareError> {
    let files = [a, b].map(|n| n.file.to_owned());
    let measured = [a, b].map(|n| n.timing.measured());
    let deltas = [a, b].map(|n| n.timing.deltas());
    if measured[0] != measured[1] {
        return Err(CompareError::Measured { files, measured });
    }
    if deltas[0] == deltas[1] && deltas[0].len() < 2 {
        return Ok(());
    }
    Err(CompareError::Delta {
        files,
        largest: deltas.iter().flatten().copied().fold(0.0, f64::max),
        deltas: deltas.map(|all| {
            let all: Vec<String> = all.iter().map(ToString::to_string).collect();
            match all.is_empty() {
                true => "none stated".to_owned(),
                false => format!("{} ‰", all.join(" and ")),
            }
        }),
    })
}

fn has_sides(named: &Named) -> bool {
    let mut trials = named.timing.clips.iter().flat_map(|c| &c.trials);
    trials.any(|t| t.side.is_some())
}

fn same_content(a: &Named, b: &Named) -> bool {
    let content = |n: &Named| {
        let mut clips: Vec<_> = n
            .timing
            .clips
            .iter()
            .filter(|c| !c.trials.is_empty())
            .map(|c| (c.sha256.clone(), format!("{:?}", c.trials)))
            .collect();
        clips.sort();
        clips
    };
    let (x, y) = (content(a), content(b));
    !x.is_empty() && x == y
}

/// Corrected only if every clip of every file is.
pub(in crate::stats) fn latencies(named: &[Named]) -> Latencies {
    let some = named
        .iter()
        .flat_map(|n| n.timing.clips.iter().flat_map(|c| &c.trials))
        .any(|t| t.latency_corrected_ms.is_some());
    let every = named.iter().all(|n| sample::has_corrected(&n.timing.clips));
    if some && every {
        Latencies::Corrected
    } else {
        Latencies::AsSeen
    }
}

/// What the latencies of these files are, in words.
pub(in crate::stats) fn lag_words(named: &[Named], latencies: Latencies) -> &'static str {
    let mut trials = named
        .iter()
        .flat_map(|n| n.timing.clips.iter().flat_map(|c| &c.trials));
    let taken_off = |t: &Trial| {
        t.latency_ms
            .zip(t.latency_corrected_ms)
            .is_some_and(|(seen, corrected)| (seen - corrected).abs() > sample::SAME_MS)
    };
    match latencies {
        Latencies::AsSeen => "as seen on the screen, its lag not taken off",
        Latencies::Corrected if trials.any(taken_off) => "corrected for the live-view lag",
        Latencies::Corrected => "onset and settle both read from the screen: no lag to take off",
    }
}

/// Paths of the keys in which two JSON values differ, with both values.
pub(super) fn differences(a: &Value, b: &Value) -> Vec<String> {
    let mut found = Vec::new();
    collect(a, b, "", &mut found);
    found
}

fn collect(a: &Value, b: &Value, path: &str, found: &mut Vec<String>) {
    if let (Value::Object(x), Value::Object(y)) = (a, b) {
        let keys: BTreeSet<&String> = x.keys().chain(y.keys()).collect();
        for key in keys {
            let inner = if path.is_empty() {
                key.clone()
            } else {
                format!("{path}.{key}")
            };
            let at =
                |o: &serde_json::Map<String, Value>| o.get(key).cloned().unwrap_or(Value::Null);
            collect(&at(x), &at(y), &inner, found);
        }
    } else if !same(a, b) {
        let name = if path.is_empty() { "value" } else { path };
        found.push(format!("{name} {} / {}", brief(a), brief(b)));
    }
}

/// Numbers are the same by value: 1500 and 1500.0 are.
fn same(a: &Value, b: &Value) -> bool {
    match (a.as_f64(), b.as_f64()) {
        (Some(x), Some(y)) => x == y,
        _ => a == b,
    }
}

fn brief(value: &Value) -> String {
    let text = match value {
        Value::String(s) => s.clone(),
        Value::Null => "none".to_owned(),
        other => other.to_string(),
    };
    if text.chars().count() > 32 {
        text.chars().take(31).chain(['…']).collect()
    } else {
        text
    }
}

/// At most `most` items, then how many are left out.
pub(super) fn listed(items: &[String], most: usize) -> String {
    let mut text = items
        .iter()
        .take(most)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    if items.len() > most {
        text.push_str(&format!(" and {} more", items.len() - most));
    }
    text
}
