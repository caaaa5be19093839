//! A comparison for people.

use crate::stats::compare::{Comparison, Higher, Pair, Row, SetupRow, Sooner};

use super::bars::histogram_text;
use super::row::{Figures, HEAD, side_name};
use super::table::{Form, table};
use super::words::{fixed, p};
use super::words::{paragraph, percent, plain, points, signed, whole, with_interval};

/// The comparison as text of at most 100 columns.
#[must_use]
pub fn compare_text(comparison: &Comparison) -> String {
    let mut text = heading(comparison);
    text.push('\n');
    text.push_str(&setups(comparison, Form::Text));
    text.push_str(&paragraph("", &legend(comparison)));
    text.push('\n');
    let drawn: Vec<_> = comparison
        .setups
        .iter()
        .map(|s| {
            let stored = s.hit_latency_us_histogram_v2.as_str();
            (s.label.as_str(), stored, s.all.judged)
        })
        .collect();
    text.push_str(&histogram_text(&drawn));
    text.push_str(&differences(comparison));
    text
}

/// The pairs alone, for readers who have just seen every setup's own table.
#[must_use]
pub fn pairs_text(comparison: &Comparison) -> String {
    let labels: Vec<String> = comparison.setups.iter().map(|s| plain(&s.label)).collect();
    let lead = format!("{} compared. ", labels.join(", "));
    paragraph("", &(lead + heading(comparison).trim())) + &differences(comparison)
}

fn differences(comparison: &Comparison) -> String {
    let mut text = String::new();
    for pairs in of_two(&comparison.pairs) {
        text.push_str(&format!(
            "\n{} − {}\n",
            plain(&pairs[0].a),
            plain(&pairs[0].b)
        ));
        text.push_str(&pair_table(pairs, Form::Text));
        for pair in pairs {
            text.push_str(&paragraph(&format!("{:>5}: ", pair.side), &told(pair)));
        }
    }
    if !comparison.warnings.is_empty() {
        text.push_str("\nBefore you rely on this\n");
        for warning in &comparison.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text
}

/// The comparison as Markdown.
#[must_use]
pub fn compare_markdown(comparison: &Comparison) -> String {
    let mut text = format!("## Setups compared\n\n{}\n", heading(comparison));
    text.push_str(&setups(comparison, Form::Markdown));
    text.push_str(&format!("{}\n", legend(comparison)));
    for pairs in of_two(&comparison.pairs) {
        text.push_str(&format!(
            "\n### {} − {}\n\n",
            plain(&pairs[0].a),
            plain(&pairs[0].b)
        ));
        text.push_str(&pair_table(pairs, Form::Markdown));
        for pair in pairs {
            text.push_str(&format!("- **{}:** {}\n", pair.side, plain(&told(pair))));
        }
    }
    if !comparison.warnings.is_empty() {
        text.push_str("\n### Before you rely on this\n\n");
        for warning in &comparison.warnings {
            text.push_str(&format!("- {}\n", plain(warning)));
        }
    }
    text
}

fn heading(c: &Comparison) -> String {
    format!(
        "Latencies {}; {} % intervals; seed {}\n",
        c.latencies,
        fixed(c.confidence * 100.0, 0),
        c.seed
    )
}

fn legend(c: &Comparison) -> String {
    let limit = c.setups.iter().filter_map(|s| s.window_ms).reduce(f64::min);
    let uncertain = c
        .setups
        .iter()
        .filter_map(|s| s.detail.uncertainty_ms)
        .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])]);
    let mut text = format!(
        "ms. Hits: latency quantiles over hits alone. Focus by half: time by which half of all \
         judged trials is in focus. Mean: time-to-focus counted up to the shortest window \
         ({} ms), misses in full.",
        whole(limit)
    );
    if let Some([low, high]) = uncertain {
        let (low, high) = (fixed(2.0 * low, 0), fixed(2.0 * high, 0));
        let range = if low == high {
            low
        } else {
            format!("{low} to {high}")
        };
        text.push_str(&format!(" A single latency: ± {range} ms (2 u)."));
    }
    text
}

fn setups(c: &Comparison, form: Form) -> String {
    let rows: Vec<Vec<String>> = c.setups.iter().flat_map(setup_rows).collect();
    table(form, &HEAD, &rows, 2)
}

fn setup_rows(setup: &SetupRow) -> Vec<Vec<String>> {
    let one = |label: &str, side: &str, row: &Row| {
        let figures = Figures {
            judged: row.judged,
            void: row.void,
            hit_rate: row.hit_rate,
            latency: row.latency_ms,
            focus: row.time_to_focus_ms,
        };
        figures.cells(label, side)
    };
    let mut rows = vec![one(&setup.label, "all", &setup.all)];
    for (side, part) in &setup.by_side {
        rows.push(one("", side_name(*side), part));
    }
    rows
}

/// Pairs of the same two setups, in order.
fn of_two(pairs: &[Pair]) -> impl Iterator<Item = &[Pair]> {
    pairs.chunk_by(|x, y| x.a == y.a && x.b == y.b)
}

fn pair_table(pairs: &[Pair], form: Form) -> String {
    let head = [
        "Side",
        "Hit rate, points",
        "p",
        "Hits, ms",
        "p",
        "Mean focus, ms",
        "p",
        "a sooner",
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
        with_interval(&points(rate.value), &points(rate.low), &points(rate.high)),
        p(rate.holm_p),
        with_interval(
            &signed(shift.value),
            &signed(shift.low),
            &signed(shift.high),
        ),
        p(shift.holm_p),
        with_interval(
            &signed(focus.restricted_mean_difference_ms),
            &signed(focus.restricted_mean_difference_low_ms),
            &signed(focus.restricted_mean_difference_high_ms),
        ),
        p(focus.holm_p),
        percent(pair.a_sooner_probability),
    ]
}

fn told(pair: &Pair) -> String {
    let mut text = pair.sentence.clone();
    if let Some(more) = pair.more_trials_per_setup {
        let open = pair.verdict == Sooner::TooFewTrials
            || pair.verdict == Sooner::NoDifferenceShown
            || pair.hit_rate_verdict == Higher::TooFewTrials;
        if open {
            text.push_str(&format!(
                " About {more} more judged trials of each would be needed, if what was seen is true."
            ));
        }
    }
    text
}

#[cfg(test)]
#[path = "compare_tests.rs"]
mod tests;
