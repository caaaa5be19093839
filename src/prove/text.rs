//! The error budget as a table.

use super::budget::{Budget, Row};
use crate::report::table::{Form, table};

/// Heads of the columns of [`cells`].
pub const HEAD: [&str; 11] = [
    "",
    "trials",
    "missed",
    "wrong",
    "wrong share (95 %)",
    "void",
    "settle bias",
    "p50 / p95 / p99",
    "p95, p99 in units",
    "onset bias, p95",
    "covered",
];

/// The budget for a terminal.
#[must_use]
pub fn text(budget: &Budget) -> String {
    let mut rows: Vec<Vec<String>> = budget.rows.iter().map(cells).collect();
    if budget.rows.len() > 1 {
        rows.push(cells(&budget.all));
    }
    let mut out = table(Form::Text, &HEAD, &rows, 1);
    out.push_str(&format!(
        "\nSeed {}. Settle errors are ms outside the pair of instants between which every measure\n\
         would call it settled (median width {} ms); a unit is one refresh (or live-view picture)\n\
         and one frame. Onset errors are ms. Covered: share of latencies whose ± 2 u meets the truth.\n",
        budget.seed,
        number(budget.all.pair_p50_ms, 1),
    ));
    out
}

/// A row's cells.
#[must_use]
pub fn cells(r: &Row) -> Vec<String> {
    let percent = |v: f64| format!("{:.1} %", 100.0 * v);
    let wrong = r.wrong_share.map_or("-".to_owned(), |[p, low, high]| {
        format!("{} ({:.1}-{:.1})", percent(p), 100.0 * low, 100.0 * high)
    });
    let found = if r.extra > 0 {
        format!("{} (+{})", r.missed, r.extra)
    } else {
        r.missed.to_string()
    };
    vec![
        r.name.clone(),
        r.trials.to_string(),
        found,
        r.wrong.to_string(),
        wrong,
        r.void_share.map_or("-".to_owned(), percent),
        number(r.settle_bias_ms, 1),
        format!(
            "{} / {} / {}",
            number(r.settle_p50_ms, 1),
            number(r.settle_p95_ms, 1),
            number(r.settle_p99_ms, 1)
        ),
        format!(
            "{}, {}",
            number(r.settle_p95_units, 2),
            number(r.settle_p99_units, 2)
        ),
        format!(
            "{}, {}",
            number(r.onset_bias_ms, 1),
            number(r.onset_p95_ms, 1)
        ),
        r.covered.map_or("-".to_owned(), percent),
    ]
}

fn number(v: Option<f64>, digits: usize) -> String {
    v.map_or("-".to_owned(), |v| format!("{v:.digits$}"))
}
