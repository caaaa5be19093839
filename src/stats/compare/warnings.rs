//! What is said aloud before a difference is believed.

use std::collections::{BTreeMap, BTreeSet};

use super::super::bootstrap::FEWEST_CLIPS;
use super::super::describe::{Description, describe};
use super::super::sample::{self, Latencies, SAME_MS};
use super::Named;
use super::agree::{differences, listed};

/// All that differs or is doubtful, in plain words.
pub(in crate::stats) fn warnings(
    named: &[Named],
    labels: &[String],
    latencies: Latencies,
) -> Vec<String> {
    let mut said = Vec::new();
    let told: Vec<Description> = named
        .iter()
        .map(|n| describe(&n.timing.clips, latencies, 0.95))
        .collect();
    yardstick(&told, labels, &mut said);
    lag(named, labels, latencies, &mut said);
    windows(named, labels, &mut said);
    rates(named, labels, &mut said);
    rigs(named, labels, &mut said);
    versions(named, labels, &mut said);
    tags(named, labels, &mut said);
    shared_clips(named, labels, &mut said);
    for (told, label) in told.iter().zip(labels) {
        one_setup(told, label, &mut said);
    }
    said
}

fn yardstick(told: &[Description], labels: &[String], said: &mut Vec<String>) {
    let own: Vec<_> = told
        .iter()
        .zip(labels)
        .filter(|(t, _)| t.own_reference)
        .map(|(_, label)| label.clone())
        .collect();
    if !own.is_empty() {
        said.push(format!(
            "The setups share no yardstick: for {} \"hit\" only means as sharp as that setup's own \
             best. A clip focused by hand, named as reference, would make hits comparable.",
            listed(&own, 6)
        ));
    }
}

fn lag(named: &[Named], labels: &[String], latencies: Latencies, said: &mut Vec<String>) {
    let without: Vec<_> = named
        .iter()
        .zip(labels)
        .filter(|(n, _)| !sample::has_corrected(&n.timing.clips))
        .map(|(_, label)| label.clone())
        .collect();
    let hits = |n: &Named| {
        n.timing
            .clips
            .iter()
            .any(|c| c.trials.iter().any(|t| t.latency_corrected_ms.is_some()))
    };
    if latencies == Latencies::AsSeen && named.iter().any(hits) {
        said.push(format!(
            "Latencies are as seen on the screen: {} has hits without a known live-view lag, so \
             the lag is taken off nowhere and is part of every difference.",
            listed(&without, 6)
        ));
    }
}

fn windows(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let shortest: Vec<Option<f64>> = named
        .iter()
        .map(|n| sample::shortest_window_ms(&sample::judged(&n.timing.clips, Latencies::AsSeen)))
        .collect();
    let known: Vec<f64> = shortest.iter().flatten().copied().collect();
    let low = known.iter().copied().fold(f64::INFINITY, f64::min);
    if known.iter().any(|w| w - low > SAME_MS) {
        let list: Vec<_> = labels
            .iter()
            .zip(&shortest)
            .filter_map(|(label, w)| Some(format!("{label} {:.0} ms", (*w)?)))
            .collect();
        said.push(format!(
            "The windows differ ({}): each pair is compared up to the shorter, later hits count \
             as misses there.",
            listed(&list, 6)
        ));
    }
}

fn rates(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let fps = |n: &Named| values(n.timing.clips.iter().filter_map(|c| c.capture_fps));
    let hz = |n: &Named| values(n.timing.clips.iter().filter_map(|c| c.screen.refresh_hz));
    differ(named, labels, "capture rates", "fps", &fps, said);
    differ(named, labels, "screen refresh rates", "Hz", &hz, said);
}

fn values(numbers: impl Iterator<Item = f64>) -> String {
    let set: BTreeSet<String> = numbers.map(|x| format!("{x:.0}")).collect();
    set.into_iter().collect::<Vec<_>>().join("/")
}

fn differ(
    named: &[Named],
    labels: &[String],
    what: &str,
    unit: &str,
    value: &dyn Fn(&Named) -> String,
    said: &mut Vec<String>,
) {
    let all: Vec<String> = named.iter().map(value).collect();
    let distinct: BTreeSet<&String> = all.iter().filter(|v| !v.is_empty()).collect();
    if distinct.len() > 1 {
        let list: Vec<_> = labels
            .iter()
            .zip(&all)
            .map(|(label, v)| format!("{label} {v} {unit}").trim_end().to_owned())
            .collect();
        said.push(format!("The {what} differ: {}.", listed(&list, 6)));
    }
}

fn rigs(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    for k in 1..named.len() {
        let keys = differences(&named[0].timing.rig, &named[k].timing.rig);
        if !keys.is_empty() {
            said.push(format!(
                "{} and {} were filmed or judged with different rigs: {}.",
                labels[0],
                labels[k],
                listed(&keys, 8)
            ));
        }
    }
}

/// Versions that timed the clips.
fn versions(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let made = |n: &Named| {
        let all = n.timing.made_by.iter().map(|(k, v)| format!("{k} {v}"));
        all.collect::<Vec<_>>().join(" ")
    };
    differ(named, labels, "versions that timed them", "", &made, said);
}

fn tags(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let keys: BTreeSet<&String> = named
        .iter()
        .flat_map(|n| n.timing.setup.tags.keys())
        .collect();
    let mut differing = Vec::new();
    for key in keys {
        let values: Vec<_> = named
            .iter()
            .map(|n| n.timing.setup.tags.get(key).map_or("—", String::as_str))
            .collect();
        if values.iter().any(|v| v != &values[0]) {
            differing.push(format!("{key} ({})", values.join(" / ")));
        }
    }
    if !differing.is_empty() {
        let more = if differing.len() > 1 {
            "; a difference cannot be put down to one of them"
        } else {
            ""
        };
        said.push(format!(
            "The setups ({}) differ in {}{more}.",
            labels.join(" / "),
            listed(&differing, 6)
        ));
    }
}

fn shared_clips(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let mut owner: BTreeMap<&str, usize> = BTreeMap::new();
    for (k, n) in named.iter().enumerate() {
        for clip in &n.timing.clips {
            if let Some(&first) = owner.get(clip.sha256.as_str()).filter(|&&f| f != k) {
                said.push(format!(
                    "Clip {} is in both {} and {}: their trials are not independent.",
                    clip.path, labels[first], labels[k]
                ));
            }
            owner.entry(&clip.sha256).or_insert(k);
        }
    }
}

fn one_setup(told: &Description, label: &str, said: &mut Vec<String>) {
    if told.clips_failed > 0 {
        said.push(format!(
            "{label}: {} could not be judged, missing from every number.",
            clips(told.clips_failed)
        ));
    }
    if !told.excluded.is_empty() {
        let list: Vec<_> = told
            .excluded
            .iter()
            .map(|e| format!("{} ({})", e.trial, e.reason))
            .collect();
        said.push(format!(
            "{label}: excluded by the user: {}.",
            listed(&list, 6)
        ));
    }
    if (told.clips_judged as usize) < FEWEST_CLIPS {
        let spread = told.between_clips.map_or(String::new(), |s| {
            format!(
                " Its clips' medians run from {:.0} to {:.0} ms.",
                s.medians_ms[0], s.medians_ms[1]
            )
        });
        said.push(format!(
            "{label}: {} only; trials of one clip are not independent, so intervals and \
             p-values may look surer than they are.{spread} From {FEWEST_CLIPS} clips on they are \
             also resampled by clip.",
            clips(told.clips_judged)
        ));
    }
    if let Some(drift) = told.drift.filter(|d| d.p < 0.01) {
        let slope = drift.ms_per_10_trials.map_or(String::new(), |ms| {
            format!(" ({ms:+.0} ms per 10 trials over its hits)")
        });
        said.push(format!(
            "{label}: time-to-focus drifts over the session{slope}, p = {:.2}: battery, warm-up or \
             a moved rig?",
            drift.p.max(0.01)
        ));
    }
}

fn clips(n: u64) -> String {
    format!("{n} {}", if n == 1 { "clip" } else { "clips" })
}
