//! What is said aloud before a difference is believed.

use std::collections::{BTreeMap, BTreeSet};

use super::super::bootstrap::FEWEST_CLIPS;
use super::super::describe::{Description, describe};
use super::super::sample::{self, Latencies, SAME_MS};
use super::Named;
use super::agree::{differences, listed};

/// Share of trials that could not be judged above which it is said: common
/// practice, no source.
pub const UNJUDGED: f64 = 0.2;
/// Share of close calls among judged trials above which it is said (one in
/// ten, as the definitions have it).
pub const MOST_CLOSE: f64 = 0.1;
/// Pairs whose differing tags are spelled out.
const MOST_PAIRS: usize = 6;

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
    said.extend(filmed_otherwise(named, labels));
    tags(named, labels, &mut said);
    shared_clips(named, labels, &mut said);
    for ((told, label), named) in told.iter().zip(labels).zip(named) {
        let judged = sample::judged(&named.timing.clips, latencies).len();
        one_setup(told, label, judged as u64, &mut said);
    }
    few_clips(&told, labels, &mut said);
    said
}

/// What differs in how they were filmed and judged.
pub(in crate::stats) fn filmed_otherwise(named: &[Named], labels: &[String]) -> Vec<String> {
    let mut said = Vec::new();
    windows(named, labels, &mut said);
    hit_limits(named, labels, &mut said);
    rates(named, labels, &mut said);
    rigs(named, labels, &mut said);
    versions(named, labels, &mut said);
    said
}

/// Files of one kit: what its sessions differ by anyway nobody knows here.
pub(super) fn sessions(named: &[Named], labels: &[String]) -> Option<String> {
    let name = |k: usize| &named[k].timing.setup.name;
    let all = 0..named.len();
    let mut pairs = all.flat_map(|k| (k + 1..named.len()).map(move |j| (k, j)));
    let (k, j) = pairs.find(|&(k, j)| name(k) == name(j))?;
    Some(format!(
        "{} and {} are one kit in two sessions: what setting up anew, light and battery do is not \
         known here and counts as their difference. focuslag repeat measures it; focuslag gate \
         with three or more --baseline files allows for it.",
        labels[k], labels[j]
    ))
}

fn yardstick(told: &[Description], labels: &[String], said: &mut Vec<String>) {
    if told.len() < 2 {
        return;
    }
    let own: Vec<_> = told
        .iter()
        .zip(labels)
        .filter(|(t, _)| t.own_reference)
        .map(|(_, label)| label.clone())
        .collect();
    if !own.is_empty() {
        said.push(format!(
            "The setups share no yardstick: {} unverified, \"hit\" there only means as sharp as that \
             setup's own best. A clip focused by hand, named as reference, would make hits \
             comparable.",
            match own.len() {
                1 => format!("{} is", own[0]),
                _ => format!("{} are", listed(&own, 6)),
            }
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

fn hit_limits(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let limit = |n: &Named| {
        let limit = n.timing.hit_limit();
        limit.map_or(String::new(), |l| format!("{l:.1}"))
    };
    differ(named, labels, "hit limits", "‰", &limit, said);
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

/// What cannot be told apart, pair by pair.
fn tags(named: &[Named], labels: &[String], said: &mut Vec<String>) {
    let mut pairs = Vec::new();
    let mut left_out = 0;
    for k in 0..named.len() {
        for j in k + 1..named.len() {
            let [x, y] = [k, j].map(|n| &named[n].timing.setup.tags);
            let keys: BTreeSet<&String> = x.keys().chain(y.keys()).collect();
            let value = |tags: &BTreeMap<String, String>, key: &String| {
                tags.get(key)
                    .map_or("none given", String::as_str)
                    .to_owned()
            };
            let differing: Vec<String> = keys
                .into_iter()
                .filter(|key| x.get(*key) != y.get(*key))
                .map(|key| format!("{key} ({} / {})", value(x, key), value(y, key)))
                .collect();
            if differing.is_empty() {
                continue;
            }
            if pairs.len() == MOST_PAIRS {
                left_out += 1;
                continue;
            }
            let more = if differing.len() > 1 {
                ": a difference cannot be put down to one of them"
            } else {
                ": a recorded difference; nothing here shows that it is the cause"
            };
            pairs.push(format!(
                "{} and {} differ in {}{more}.",
                labels[k],
                labels[j],
                listed(&differing, 6)
            ));
        }
    }
    said.extend(pairs);
    if left_out > 0 {
        said.push(format!("{left_out} more pairs differ in their tags."));
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

fn one_setup(told: &Description, label: &str, judged: u64, said: &mut Vec<String>) {
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
            .map(|e| format!("{}: {}", e.in_words(), e.reason))
            .collect();
        said.push(format!(
            "{label}: excluded by the user: {}.",
            listed(&list, 6)
        ));
    }
    let void: u64 = told
        .void_reasons
        .iter()
        .filter(|(reason, _)| *reason != "excluded")
        .map(|(_, n)| n)
        .sum();
    if void as f64 > UNJUDGED * (void + judged) as f64 {
        let after = match told.not_displaced_after_miss {
            0 => String::new(),
            n => format!(" ({n} begin right after a miss, so from nowhere known)"),
        };
        said.push(format!(
            "{label}: {void} of {} trials could not be judged{after}; those that could may not \
             stand for them.",
            void + judged
        ));
    }
    if told.close_calls as f64 > MOST_CLOSE * told.judged as f64 {
        said.push(format!(
            "{label}: {} of {} judged trials are close calls, their end blur within its uncertainty \
             of the hit limit (more than one in ten): a small error of blur would turn them.",
            told.close_calls, told.judged
        ));
    }
    if let Some(drift) = told.drift.filter(|d| d.p < 0.01) {
        let slope = drift.ms_per_10_trials.map_or(String::new(), |ms| {
            format!(" ({ms:+.0} ms per 10 trials over its hits)")
        });
        said.push(format!(
            "{label}: time to focus drifts over the session{slope}, p = {:.2}: battery, warm-up or \
             a moved rig?",
            drift.p.max(0.01)
        ));
    }
}

/// Said once for all setups with too few clips to be resampled by clip.
fn few_clips(told: &[Description], labels: &[String], said: &mut Vec<String>) {
    let few: Vec<String> = told
        .iter()
        .zip(labels)
        .filter(|(t, _)| (t.clips_judged as usize) < FEWEST_CLIPS)
        .map(|(t, label)| {
            let spread = t.between_clips.map_or(String::new(), |s| {
                let [low, high] = s.medians_ms;
                format!(" (medians {low:.0} to {high:.0} ms)")
            });
            format!("{label} {}{spread}", t.clips_judged)
        })
        .collect();
    if !few.is_empty() {
        said.push(format!(
            "Few clips: {}. Trials of one clip resemble each other, so p and intervals look surer \
             than they are; with {FEWEST_CLIPS} clips or more per kit the spread between clips is \
             counted in.",
            listed(&few, 6)
        ));
    }
}

fn clips(n: u64) -> String {
    format!("{n} {}", if n == 1 { "clip" } else { "clips" })
}
