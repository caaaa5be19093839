//! Repeatability in plain words.

use std::collections::BTreeSet;

use super::super::compare::{self, Named};
use super::super::normal::level_words;
use super::Figure;
use super::session::Session;

/// Sessions below which little is known of the spread between them.
pub const FEW: usize = 3;

/// The spread of the settle time and of the hit rate, and what it hides.
pub(super) fn sentence(setup: &str, figures: &[Figure], confidence: f64) -> String {
    let of = |name: &str| figures.iter().find(|f| f.name == name && f.side == "all");
    let mut said = Vec::new();
    if let Some(f) = of("settle_ms") {
        said.push(format!(
            "From session to session the mean settle time of {setup} scatters by {:.0} ms{}, single \
             trials within a session by {:.0} ms.",
            f.between,
            limits(f, 1.0, "ms", confidence),
            f.within
        ));
    }
    if let Some(f) = of("hit_rate") {
        said.push(format!(
            "The hit rate scatters by {:.0} points{}.",
            f.between * 100.0,
            limits(f, 100.0, "points", confidence)
        ));
    }
    let ms = of("time_to_focus_ms").and_then(|f| Some((f.smallest_change?, f)));
    let rate = of("hit_rate").and_then(|f| f.smallest_change);
    if let (Some((ms, f)), Some(rate)) = (ms, rate) {
        said.push(format!(
            "One more session of about {:.0} judged trials, held against these {}, shows a change of \
             {ms:.0} ms in mean time to focus and of {:.0} points in hit rate four times out of \
             five; a smaller change passes for a change of session.",
            f.trials_per_session,
            f.sessions,
            rate * 100.0
        ));
    }
    said.join(" ")
}

/// ` (95 % interval 4 to 51 ms; that sessions differ is not shown)`.
fn limits(f: &Figure, times: f64, unit: &str, confidence: f64) -> String {
    let Some((low, high)) = f.between_low.zip(f.between_high) else {
        return String::new();
    };
    let shown = match f.p {
        Some(p) if p < 1.0 - confidence => "",
        _ => "; that sessions differ is not shown",
    };
    format!(
        " ({} % interval {:.0} to {:.0} {unit}{shown})",
        level_words(confidence),
        low * times,
        high * times
    )
}

/// What is doubtful.
pub(super) fn warnings(named: &[Named], sessions: &[Session], by: Option<&str>) -> Vec<String> {
    let mut said = Vec::new();
    let judged = sessions.iter().filter(|s| !s.judged.is_empty()).count();
    if judged < FEW {
        said.push(format!(
            "{judged} sessions say next to nothing of the spread between them: film at least {FEW}."
        ));
    }
    for s in sessions {
        match s.judged.len() {
            0 => said.push(format!("{}: no trial could be judged; left out.", s.label)),
            1 => said.push(format!(
                "{}: one judged trial; it counts in the spread between sessions alone.",
                s.label
            )),
            _ => {}
        }
    }
    let name = |n: &Named| n.timing.setup.name.clone();
    if let Some(other) = named.iter().find(|n| name(n) != name(&named[0])) {
        said.push(format!(
            "{} and {} are different setups: what differs between the kits counts as between \
             sessions.",
            name(&named[0]),
            name(other)
        ));
    }
    let tags: BTreeSet<&String> = named
        .iter()
        .flat_map(|n| n.timing.setup.tags.keys())
        .collect();
    let differ = tags.into_iter().filter(|&tag| {
        let value = |n: &Named| n.timing.setup.tags.get(tag).cloned();
        Some(tag.as_str()) != by && named.iter().any(|n| value(n) != value(&named[0]))
    });
    let differ: Vec<&str> = differ.map(String::as_str).collect();
    if !differ.is_empty() {
        said.push(format!(
            "The files differ in {}: what that does counts as between sessions.",
            differ.join(", ")
        ));
    }
    said.extend(compare::filmed_otherwise(named));
    said
}
