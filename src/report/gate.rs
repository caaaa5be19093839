//! A gate for people and for build servers.

use crate::stats::gate::{Check, Gate, Verdict};

use super::cues::cue_table;
use super::gate_reason::{headline, lines, more};
use super::table::{Form, table};
use super::words::{self, NONE, paragraph, percent, points, signed, whole};
use crate::names::markdown;

/// The gate as text of at most 100 columns.
pub fn gate_text(gate: &Gate) -> String {
    let mut text = paragraph("", &headline(gate));
    let reasons = lines(gate);
    if let Some(first) = reasons.first() {
        text.push_str(&paragraph("", first));
    }
    for (heading, drawn) in tables(gate, Form::Text) {
        text.push_str(&format!("\n{heading}{drawn}"));
    }
    for reason in reasons.iter().skip(1) {
        text.push_str(&paragraph("  ", reason));
    }
    for note in notes(gate, &text) {
        text.push_str(&paragraph("", &note));
    }
    let cues = cues(gate, Form::Text);
    if !cues.is_empty() {
        text.push_str(&format!("\n{cues}"));
    }
    if let Some(more) = more(gate) {
        text.push('\n');
        text.push_str(&paragraph("", &more));
    }
    if !gate.warnings.is_empty() {
        text.push_str("\nBefore you rely on this\n");
        for warning in &gate.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text.push('\n');
    text.push_str(&paragraph("", &method(gate)));
    text
}

/// The gate as Markdown.
pub fn gate_markdown(gate: &Gate) -> String {
    let mut text = format!("## {}\n", markdown(&headline(gate)));
    for reason in lines(gate) {
        text.push_str(&format!("\n- {}", markdown(&reason)));
    }
    text.push('\n');
    for (heading, drawn) in tables(gate, Form::Markdown) {
        text.push_str(&format!("\n{heading}\n{drawn}"));
    }
    for note in notes(gate, &text) {
        text.push_str(&format!("{note}\n\n"));
    }
    let cues = cues(gate, Form::Markdown);
    if !cues.is_empty() {
        text.push_str(&format!("{cues}\n"));
    }
    if let Some(more) = more(gate) {
        text.push_str(&format!("{}\n", markdown(&more)));
    }
    if !gate.warnings.is_empty() {
        text.push_str("\n### Before you rely on this\n\n");
        for warning in &gate.warnings {
            text.push_str(&format!("- {}\n", markdown(warning)));
        }
    }
    text.push_str(&format!("\n{}\n", method(gate)));
    text
}

/// What the cameras claimed.
fn cues(gate: &Gate, form: Form) -> String {
    let setups: Vec<_> = gate
        .setups
        .iter()
        .map(|s| (s.label.as_str(), &s.detail))
        .collect();
    cue_table(form, &setups)
}

pub(super) fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::Regression => "regression",
        Verdict::Inconclusive => "inconclusive",
    }
}

/// A table of the limits on change and one of what must be reached, those that
/// there are, each with its heading.
fn tables(gate: &Gate, form: Form) -> Vec<(String, String)> {
    let of = |wanted: &str| -> Vec<&Check> {
        let all = gate.checks.iter();
        all.filter(|c| c.table == wanted).collect()
    };
    let level = format!("{:.0} % interval", gate.confidence * 100.0);
    let (change, require) = (of("change"), of("require"));
    let mut drawn = Vec::new();
    if !change.is_empty() {
        let head = [
            "Side", "Check", "Verdict", "Limit", "Before", "After", "Change", &level,
        ];
        let rows: Vec<_> = change.iter().map(|c| change_row(c)).collect();
        drawn.push((
            format!("Judged trials before and after: {}\n", judged(&change)),
            table(form, &head, &rows, 3),
        ));
    }
    if !require.is_empty() {
        let head = [
            "Side", "Check", "Verdict", "Limit", "Found", &level, "Judged",
        ];
        let rows: Vec<_> = require.iter().map(|c| require_row(c)).collect();
        let heading = if change.is_empty() {
            String::new()
        } else {
            "What it must reach, whatever it was before\n".to_owned()
        };
        drawn.push((heading, table(form, &head, &rows, 3)));
    }
    drawn
}

fn change_row(check: &Check) -> Vec<String> {
    vec![
        check.side.clone(),
        name(check).to_owned(),
        word(check.verdict).to_owned(),
        limit(check),
        own(check, check.baseline),
        own(check, check.candidate),
        value(check),
        interval(check),
    ]
}

fn require_row(check: &Check) -> Vec<String> {
    let verdict = match check.verdict {
        Verdict::Regression => "fail",
        other => word(other),
    };
    vec![
        check.side.clone(),
        name(check).to_owned(),
        verdict.to_owned(),
        limit(check),
        value(check),
        interval(check),
        check.judged[1].map_or(NONE.to_owned(), |n| n.to_string()),
    ]
}

/// `near 12 and 12, far 11 and 11`: before and after, of the sides there are.
fn judged(checks: &[&Check]) -> String {
    let sided = checks.iter().any(|c| c.side != "all");
    let mut told: Vec<String> = Vec::new();
    for check in checks.iter().filter(|c| !sided || c.side != "all") {
        let [Some(before), Some(after)] = check.judged else {
            continue;
        };
        let side = if sided {
            format!("{} ", check.side)
        } else {
            String::new()
        };
        let one = format!("{side}{before} and {after}");
        if !told.contains(&one) {
            told.push(one);
        }
    }
    told.join(", ")
}

/// What the policy's key means.
pub(super) fn name(check: &Check) -> &str {
    match check.name.as_str() {
        "hit_rate_drop" => "hit rate drop",
        "median_slowdown_ms" => "time to focus p50",
        "p90_slowdown_ms" | "p90_ms" => "time to focus p90",
        "hit_rate" => "hit rate",
        other => other,
    }
}

pub(super) fn is_rate(check: &Check) -> bool {
    check.name.starts_with("hit_rate")
}

pub(super) fn is_change(check: &Check) -> bool {
    check.table == "change"
}

/// A figure in the check's unit, signed where it is a change.
pub(super) fn figure(check: &Check, x: Option<f64>) -> String {
    match (is_rate(check), is_change(check)) {
        (true, true) => points(x),
        (true, false) => percent(x),
        (false, true) => signed(x),
        (false, false) => whole(x),
    }
}

/// What was found; where the quantile is not reached, beyond what it lies.
pub(super) fn value(check: &Check) -> String {
    let Some(window) = check.not_reached_by_ms.filter(|_| check.value.is_none()) else {
        return figure(check, check.value);
    };
    match (is_change(check), check.baseline, check.candidate) {
        (true, Some(before), None) => format!("> {}", signed(Some(window - before))),
        (true, None, Some(after)) => format!("< {}", signed(Some(after - window))),
        (true, ..) => NONE.to_owned(),
        (false, ..) => format!("> {}", whole(Some(window))),
    }
}

/// Baseline's or candidate's own figure.
fn own(check: &Check, x: Option<f64>) -> String {
    if is_rate(check) {
        return percent(x);
    }
    match (x, check.not_reached_by_ms) {
        (None, Some(window)) => format!("> {}", whole(Some(window))),
        (x, _) => whole(x),
    }
}

pub(super) fn limit(check: &Check) -> String {
    let figure = figure(check, Some(check.limit));
    match (is_rate(check), is_change(check)) {
        (true, true) => format!("≤ {} points", figure.trim_start_matches('+')),
        (true, false) => format!("≥ {figure}"),
        (false, _) => format!("≤ {figure} ms"),
    }
}

fn interval(check: &Check) -> String {
    let beyond = check.low.is_some() && check.low == check.not_reached_by_ms;
    match (check.low, check.high) {
        (None, None) => NONE.to_owned(),
        (Some(_), None) if beyond && !is_change(check) => format!("> {}", figure(check, check.low)),
        (low, None) => format!("{} or more", figure(check, low)),
        (None, high) => format!("{} or less", figure(check, high)),
        (low, high) => words::ends(&figure(check, low), &figure(check, high)),
    }
}

/// One check in full, for a build server.
pub(super) fn found(check: &Check) -> String {
    let method = if check.method.is_empty() {
        NONE
    } else {
        &check.method
    };
    format!(
        "{}: limit {}, found {} ({}); interval: {method}",
        name(check),
        limit(check),
        value(check),
        interval(check)
    )
}

/// What the columns mean, where somebody could take them for something else.
fn notes(gate: &Gate, text: &str) -> Vec<String> {
    let mut said = Vec::new();
    if gate.checks.iter().any(|c| !is_rate(c)) {
        said.push(
            "Time to focus p50, p90: ms by which 50 %, 90 % of all judged trials are in focus, \
             soft and lost ones not yet. Not the p50 and p90 of the hits alone."
                .to_owned(),
        );
    }
    if text.contains(NONE) {
        said.push(format!(
            "{NONE}: not reached within the window, or too few trials for it."
        ));
    }
    said
}

fn method(gate: &Gate) -> String {
    let used = gate.checks.iter().any(|c| c.between_sessions.is_some());
    let sessions = match used {
        true => format!(
            ", those of changes widened by what the {} sessions of the baseline differ by",
            gate.baseline_sessions
        ),
        false => String::new(),
    };
    format!(
        "Intervals at {} %{sessions}. Latencies: {}. Seed {}.",
        words::fixed(gate.confidence * 100.0, 0),
        gate.lag,
        gate.seed
    )
}

#[cfg(test)]
#[path = "gate_tests.rs"]
mod tests;
