//! The error budget as a table.

use super::budget::{Budget, Row};
use crate::report::table::{Form, table};

/// Heads of the columns of [`cells`].
pub const HEAD: [&str; 10] = [
    "",
    "found",
    "wrong (95 %)",
    "void",
    "bias\nms",
    "p95 / p99\nms",
    "p95\nunits",
    "onset\nms",
    "lag\nms",
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
        "\nSeed {}. Found: trials found (+ those that were none). Wrong: of the judged, another\n\
         verdict, reason or side than the true one. Void: of those that could be judged. Bias, p95,\n\
         p99: settle errors outside the pair of instants between which every measure would call it\n\
         settled (median width {} ms); a unit is one refresh (or live-view picture) and one frame.\n\
         Onset: 95 % of its errors are smaller. Lag: the largest error of the live-view lag, where\n\
         a clip shows the target directly. Covered: latencies whose ± 2 u meets the truth.\n",
        budget.seed,
        number(budget.all.pair_p50_ms, 1),
    ));
    out
}

/// A row's cells.
#[must_use]
pub fn cells(r: &Row) -> Vec<String> {
    let percent = |v: f64| format!("{:.1} %", 100.0 * v);
    let wrong = r.wrong_share.map_or("-".to_owned(), |[_, low, high]| {
        format!("{} ({:.0}-{:.0} %)", r.wrong, 100.0 * low, 100.0 * high)
    });
    let found = format!("{} of {}", r.trials - r.missed, r.trials);
    vec![
        r.name.clone(),
        if r.extra > 0 {
            format!("{found} +{}", r.extra)
        } else {
            found
        },
        wrong,
        r.void_share.map_or("-".to_owned(), percent),
        number(r.settle_bias_ms, 1),
        format!(
            "{} / {}",
            number(r.settle_p95_ms, 1),
            number(r.settle_p99_ms, 1)
        ),
        number(r.settle_p95_units, 2),
        number(r.onset_p95_ms, 1),
        number(r.lag_worst_ms, 1),
        r.covered.map_or("-".to_owned(), percent),
    ]
}

fn number(v: Option<f64>, digits: usize) -> String {
    v.map_or("-".to_owned(), |v| format!("{v:.digits$}"))
}
