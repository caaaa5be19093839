//! The result in a few plain lines, before any table: what is shown, what is
//! missed, what is not shown.

use std::collections::BTreeMap;

use crate::stats::compare::{Comparison, Higher, Interval, Pair, Sooner};

use super::words::plain;

/// Names listed before the rest is counted.
const MOST: usize = 4;

/// Two to four lines about setups held against each other, from all sides
/// together.
pub(super) fn found(comparison: &Comparison) -> Vec<String> {
    let pairs: Vec<&Pair> = comparison
        .pairs
        .iter()
        .filter(|p| p.side == "all")
        .collect();
    let mut lines = Vec::new();
    let sided = comparison.pairs.iter().any(|p| p.side != "all");
    let together = if sided { "Near and far together, " } else { "" };
    let first = ordered(comparison, ["reaches focus", "sooner than"], sooner);
    lines.extend(first.map(|first| format!("{together}{first}")));
    let more = ordered(comparison, ["hits", "more often than"], higher);
    let more = more.map_or(String::new(), |more| format!(" {more}"));
    lines.push(missed(comparison) + &more);
    lines.extend(open(&pairs));
    lines
}

/// Who is sooner, as far as it is shown: by whole clips too, where they count.
fn sooner(pair: &Pair) -> Option<(&str, &str)> {
    let shown = pair
        .by_clip
        .is_none_or(|by_clip| apart(by_clip.restricted_mean_difference_ms));
    match pair.verdict {
        Sooner::ASooner if shown => Some((&pair.a, &pair.b)),
        Sooner::BSooner if shown => Some((&pair.b, &pair.a)),
        _ => None,
    }
}

fn higher(pair: &Pair) -> Option<(&str, &str)> {
    let shown = pair
        .by_clip
        .is_none_or(|by_clip| apart(by_clip.hit_rate_difference));
    match pair.hit_rate_verdict {
        Higher::AHigher if shown => Some((&pair.a, &pair.b)),
        Higher::BHigher if shown => Some((&pair.b, &pair.a)),
        _ => None,
    }
}

fn apart(interval: Option<Interval>) -> bool {
    interval.is_some_and(|i| !i.holds_zero())
}

/// `kit-amber reaches focus sooner than kit-slate and kit-cobalt; kit-slate sooner than
/// kit-cobalt.`: who, verb and comparative, the verb once.
fn ordered(
    comparison: &Comparison,
    [verb, than]: [&str; 2],
    order: fn(&Pair) -> Option<(&str, &str)>,
) -> Option<String> {
    let mut behind: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for two in comparison.pairs.chunk_by(|x, y| x.a == y.a && x.b == y.b) {
        let Some(pooled) = two.iter().find(|p| p.side == "all") else {
            continue;
        };
        if let Some((first, second)) = order(pooled) {
            let only = only(two, pooled, order);
            behind.entry(first).or_default().push(plain(second) + &only);
        }
    }
    let setups = comparison.setups.iter().map(|s| s.label.as_str());
    let mut told: Vec<(&str, Vec<String>)> = setups
        .filter_map(|label| behind.remove_entry(label))
        .collect();
    told.sort_by_key(|(_, behind)| std::cmp::Reverse(behind.len()));
    let said: Vec<String> = told
        .iter()
        .take(MOST)
        .enumerate()
        .map(|(k, (first, behind))| {
            let verb = if k == 0 {
                format!("{verb} ")
            } else {
                String::new()
            };
            format!("{} {verb}{than} {}", plain(first), listed(behind))
        })
        .collect();
    (!said.is_empty()).then(|| said.join("; ") + ".")
}

/// Where not every side by itself shows what all together show.
fn only(two: &[Pair], pooled: &Pair, order: fn(&Pair) -> Option<(&str, &str)>) -> String {
    let sides: Vec<&Pair> = two.iter().filter(|p| p.side != "all").collect();
    let alike = sides.iter().filter(|p| order(p) == order(pooled));
    let alike: Vec<&str> = alike.map(|p| p.side.as_str()).collect();
    match alike.as_slice() {
        _ if sides.len() < 2 || alike.len() == sides.len() => String::new(),
        [] => " (neither side shows it alone)".to_owned(),
        shown => {
            let alone = |p: &&&Pair| !shown.contains(&p.side.as_str());
            let not: Vec<&str> = sides
                .iter()
                .filter(alone)
                .map(|p| p.side.as_str())
                .collect();
            format!(
                " ({} alone shows it too, {} alone does not)",
                shown.join(" and "),
                not.join(" and ")
            )
        }
    }
}

/// `Missed (soft or lost): kit-amber 0 of 23 judged trials, kit-cobalt 10 of 22.`
fn missed(comparison: &Comparison) -> String {
    let each: Vec<String> = comparison
        .setups
        .iter()
        .map(|s| {
            let missed = s.all.soft + s.all.lost;
            format!("{} {missed} of {}", plain(&s.label), s.all.judged)
        })
        .collect();
    format!(
        "Missed (soft or lost), of the judged trials: {}.",
        each.join(", ")
    )
}

/// What no difference is shown for, and what there are too few trials for.
fn open(pairs: &[&Pair]) -> Option<String> {
    let of = |wanted: &dyn Fn(&Pair) -> bool| -> Vec<String> {
        let open = pairs.iter().filter(|p| wanted(p));
        open.map(|p| format!("{} and {}", plain(&p.a), plain(&p.b)))
            .collect()
    };
    let few = |p: &Pair| p.verdict == Sooner::TooFewTrials;
    let mut said = Vec::new();
    let focus = of(&|p| !few(p) && sooner(p).is_none());
    if !focus.is_empty() {
        said.push(format!("in time to focus between {}", listed_pairs(&focus)));
    }
    let rate = of(&|p| !few(p) && higher(p).is_none());
    if !rate.is_empty() {
        said.push(format!("in hit rate between {}", listed_pairs(&rate)));
    }
    let mut text = if said.is_empty() {
        String::new()
    } else {
        format!("No difference is shown {}.", said.join(", nor "))
    };
    let few = of(&few);
    if !few.is_empty() {
        let space = if text.is_empty() { "" } else { " " };
        text.push_str(&format!(
            "{space}Too few trials to compare {}.",
            listed_pairs(&few)
        ));
    }
    (!text.is_empty()).then_some(text)
}

/// `a, b and c`.
fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if names.len() <= MOST => format!("{} and {last}", most.join(", ")),
        _ => format!(
            "{} and {} more",
            names[..MOST].join(", "),
            names.len() - MOST
        ),
    }
}

fn listed_pairs(pairs: &[String]) -> String {
    let shown = pairs
        .iter()
        .take(MOST)
        .cloned()
        .collect::<Vec<_>>()
        .join("; ");
    match pairs.len().saturating_sub(MOST) {
        0 => shown,
        more => format!("{shown}; and {more} more pairs"),
    }
}
