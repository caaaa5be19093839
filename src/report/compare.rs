//! A comparison for people.

use crate::names::markdown;
use crate::stats::compare::{Comparison, Pair, Row, SetupRow, Sooner};
use crate::stats::normal::level_words;

use super::bars::histogram_text;
use super::cues::cue_table;
use super::lead::found;
use super::row::{Figures, head, side_name};
use super::table::{Form, table};
use super::words::{NONE, ends, p, paragraph, percent, plain, points, signed, twice};

/// The comparison as text of at most 100 columns.
pub fn compare_text(comparison: &Comparison) -> String {
    let mut text = String::new();
    if let Some(look) = &comparison.look {
        text.push_str(&paragraph("", &look.sentence));
        text.push('\n');
    }
    for line in found(comparison) {
        text.push_str(&paragraph("", &line));
    }
    text.push('\n');
    if let Some(line) = unverified(comparison) {
        text.push_str(&paragraph("", &line));
    }
    let setups = setups(comparison, Form::Text);
    text.push_str(&setups);
    text.push_str(&paragraph("", &legend(comparison, &setups)));
    let cues = cues(comparison, Form::Text);
    if !cues.is_empty() {
        text.push_str(&format!("\n{cues}"));
    }
    let drawn: Vec<_> = comparison
        .setups
        .iter()
        .map(|s| {
            let stored = s.hit_latency_us_histogram_v2.as_str();
            (s.label.as_str(), stored, s.all.judged)
        })
        .collect();
    let drawing = histogram_text(&drawn);
    if !drawing.is_empty() {
        text.push_str(&format!(
            "\nLatency of hits; heights are shares of the judged trials\n{drawing}"
        ));
    }
    text.push_str(&pairs_text(comparison));
    text
}

/// The pairs alone, for readers who have just seen every setup's own table.
pub fn pairs_text(comparison: &Comparison) -> String {
    let mut text = String::new();
    let mut dashed = false;
    for pairs in of_two(&comparison.pairs) {
        text.push_str(&format!("\n{}\n", title(&pairs[0])));
        let drawn = pair_table(pairs, Form::Text);
        text.push_str(&drawn);
        dashed |= drawn.contains(NONE);
        for pair in worth_telling(pairs) {
            text.push_str(&paragraph(&format!("{:>5}: ", pair.side), &told(pair)));
        }
    }
    text.push('\n');
    text.push_str(&paragraph("", &pair_legend(comparison, dashed)));
    if !comparison.warnings.is_empty() {
        text.push_str("\nBefore you rely on this\n");
        for warning in &comparison.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text.push('\n');
    text.push_str(&paragraph("", &method(comparison)));
    text
}

/// The comparison as Markdown.
pub fn compare_markdown(comparison: &Comparison) -> String {
    let mut text = "## Setups compared\n\n".to_owned();
    if let Some(look) = &comparison.look {
        text.push_str(&format!("{}\n\n", markdown(&look.sentence)));
    }
    for line in found(comparison) {
        text.push_str(&format!("- {}\n", markdown(&line)));
    }
    if let Some(line) = unverified(comparison) {
        text.push_str(&format!("\n{}\n", markdown(&line)));
    }
    let setups = setups(comparison, Form::Markdown);
    text.push_str(&format!("\n{setups}{}\n", legend(comparison, &setups)));
    let cues = cues(comparison, Form::Markdown);
    if !cues.is_empty() {
        text.push_str(&format!("\n{cues}"));
    }
    let mut dashed = false;
    for pairs in of_two(&comparison.pairs) {
        text.push_str(&format!("\n### {}\n\n", markdown(&title(&pairs[0]))));
        let drawn = pair_table(pairs, Form::Markdown);
        text.push_str(&drawn);
        dashed |= drawn.contains(NONE);
        for pair in worth_telling(pairs) {
            text.push_str(&format!("- **{}:** {}\n", pair.side, markdown(&told(pair))));
        }
    }
    text.push_str(&format!("\n{}\n", pair_legend(comparison, dashed)));
    if !comparison.warnings.is_empty() {
        text.push_str("\n### Before you rely on this\n\n");
        for warning in &comparison.warnings {
            text.push_str(&format!("- {}\n", markdown(warning)));
        }
    }
    text.push_str(&format!("\n{}\n", method(comparison)));
    text
}

/// The heading over tables of setups without a yardstick in common.
fn unverified(c: &Comparison) -> Option<String> {
    let own = c.setups.iter().filter(|s| s.detail.own_reference);
    let names: Vec<&str> = own.map(|s| s.label.as_str()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "Unverified: {}. Without a reference focused by hand \"hit\" only means as sharp as a \
             setup's own best.",
            names.join(", ")
        )
    })
}

/// What the cameras claimed.
fn cues(c: &Comparison, form: Form) -> String {
    let setups: Vec<_> = c
        .setups
        .iter()
        .map(|s| (s.label.as_str(), &s.detail))
        .collect();
    cue_table(form, &setups)
}

fn title(pair: &Pair) -> String {
    format!("{} (left) − {} (right)", plain(&pair.a), plain(&pair.b))
}

fn method(c: &Comparison) -> String {
    let own = level_words(c.confidence);
    let level = match &c.look {
        Some(look) => format!(
            "{} %, those of differences at {own} %, this look's own, so that they hold however often \
             it is looked",
            level_words(look.confidence)
        ),
        None => format!("{own} %"),
    };
    format!(
        "Intervals at {level}. Latencies: {}. Seed {}.",
        c.lag, c.seed
    )
}

fn window_ms(c: &Comparison) -> Option<f64> {
    c.setups.iter().filter_map(|s| s.window_ms).reduce(f64::min)
}

fn legend(c: &Comparison, table: &str) -> String {
    let uncertain = c
        .setups
        .iter()
        .filter_map(|s| s.detail.uncertainty_ms)
        .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
    let mut text = format!(
        "ms. Hits p50, p90: latency quantiles over hits alone. Half in focus by: half of all judged \
         trials are in focus then, soft and lost ones not yet. Mean: time to focus of all judged \
         trials, soft and lost counting as the shortest window{}.",
        window_ms(c).map_or(String::new(), |ms| format!(", {ms:.0} ms"))
    );
    if let Some(range) = uncertain {
        text.push_str(&format!(" A single latency: ± {} ms (2 u).", twice(range)));
    }
    text + dash(table.contains(NONE))
}

/// What a dash is, where there is one.
fn dash(there: bool) -> &'static str {
    match there {
        true => " —: not reached in the window, or too few trials for it.",
        false => "",
    }
}

fn pair_legend(c: &Comparison, dashed: bool) -> String {
    let holm = if of_two(&c.pairs).nth(1).is_some() {
        ", adjusted for the number of pairs (Holm); intervals are not adjusted"
    } else {
        ""
    };
    format!(
        "Left minus right: minus ms, the left is sooner; plus points, the left hits more often. \
         Hits: the typical difference between a hit of either (Hodges–Lehmann), not the difference \
         of the medians. Mean focus: difference of the means, a miss counting as the whole window. \
         p: of time to focus (log-rank){holm}. Left sooner: the chance that a trial of the left is \
         in focus before one of the right.{}",
        dash(dashed)
    )
}

fn setups(c: &Comparison, form: Form) -> String {
    let rows: Vec<Vec<String>> = c.setups.iter().flat_map(setup_rows).collect();
    table(form, &head(window_ms(c)), &rows, 2)
}

fn setup_rows(setup: &SetupRow) -> Vec<Vec<String>> {
    let sides = setup
        .by_side
        .iter()
        .map(|(side, row)| (side_name(*side), row));
    let all: Vec<(&str, &Row)> = sides.chain([("all", &setup.all)]).collect();
    all.into_iter()
        .enumerate()
        .map(|(k, (side, row))| {
            let figures = Figures {
                judged: row.judged,
                void: row.void,
                hit_rate: row.hit_rate,
                latency: row.latency_ms,
                focus: row.time_to_focus_ms,
            };
            figures.cells(if k == 0 { &setup.label } else { "" }, side)
        })
        .collect()
}

/// Pairs of the same two setups, in order.
fn of_two(pairs: &[Pair]) -> impl Iterator<Item = &[Pair]> {
    pairs.chunk_by(|x, y| x.a == y.a && x.b == y.b)
}

/// A side is told apart only where it says something else than all together.
fn worth_telling(pairs: &[Pair]) -> impl Iterator<Item = &Pair> {
    let all = pairs.iter().find(|p| p.side == "all");
    pairs.iter().filter(move |pair| {
        let same = |all: &Pair| {
            all.verdict == pair.verdict && all.hit_rate_verdict == pair.hit_rate_verdict
        };
        pair.side == "all" || !all.is_some_and(same)
    })
}

fn pair_table(pairs: &[Pair], form: Form) -> String {
    let head = [
        "Side",
        "Hit rate,\npoints",
        "interval",
        "Hits,\nms",
        "interval",
        "Mean focus,\nms",
        "interval",
        "p",
        "Left\nsooner",
    ];
    let rows: Vec<Vec<String>> = pairs.iter().map(pair_row).collect();
    table(form, &head, &rows, 1)
}

fn pair_row(pair: &Pair) -> Vec<String> {
    let rate = &pair.hit_rate_difference;
    let shift = &pair.hit_latency_shift_ms;
    let focus = &pair.time_to_focus;
    vec![
        pair.side.clone(),
        points(rate.value),
        span(points(rate.low), points(rate.high)),
        signed(shift.value),
        span(signed(shift.low), signed(shift.high)),
        signed(focus.restricted_mean_difference_ms),
        span(
            signed(focus.restricted_mean_difference_low_ms),
            signed(focus.restricted_mean_difference_high_ms),
        ),
        p(focus.holm_p),
        percent(pair.a_sooner_probability),
    ]
}

fn span(low: String, high: String) -> String {
    if low == NONE && high == NONE {
        low
    } else {
        ends(&low, &high)
    }
}

/// The sentence, and how many more trials for what.
fn told(pair: &Pair) -> String {
    let mut text = pair.sentence.clone();
    let Some(more) = pair.more_trials_per_setup else {
        return text;
    };
    match pair.verdict {
        Sooner::TooFewTrials => text.push_str(&format!(
            " {more} more judged trials are needed, of whichever has fewer, before anything is said."
        )),
        Sooner::NoDifferenceShown => text.push_str(&format!(
            " If the difference in time to focus is as large as seen here, about {more} more \
             judged trials of each would show it four times out of five."
        )),
        Sooner::ASooner | Sooner::BSooner => {}
    }
    text
}

#[cfg(test)]
#[path = "compare_tests.rs"]
mod tests;
