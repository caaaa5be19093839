//! The error budget as a table.

use super::budget::{Budget, Row};
use crate::report::table::{Form, table};

/// Heads of the columns of [`cells`].
pub const HEAD: [&str; 13] = [
    "",
    "found",
    "wrong (95 %)",
    "hits / misses\nright",
    "void",
    "p95 / p99\nms",
    "p95\nunits",
    "pair\nms",
    "bias\nms",
    "2 u\nms",
    "covered",
    "onset\nms",
    "lag\nms",
];

/// The budget for a terminal.
pub fn text(budget: &Budget) -> String {
    let mut rows: Vec<Vec<String>> = budget.rows.iter().map(cells).collect();
    if budget.rows.len() > 1 {
        rows.push(cells(&budget.all));
    }
    let mut out = table(Form::Text, &HEAD, &rows, 1);
    out.push_str(&format!(
        "\nSeed {}. Found: trials found (+ those that were none). Wrong: of the judged, another\n\
         verdict, reason or side than the true one. Hits, misses: of the true ones, called so (void\n\
         is wrong). Void: of those that could be judged. p95, p99: settle errors outside the pair of\n\
         instants at which the blur comes within 1.5 times and within two thirds of δ; a unit is one\n\
         refresh (or live-view picture) and one frame. Pair: its median width. Bias: mean error\n\
         against the crossing of δ itself. Covered: latencies whose ± 2 u (median shown) holds that\n\
         crossing. Onset: 95 % of its errors are smaller. Lag: the largest error of the live-view\n\
         lag, where a clip shows the target directly.\n",
        budget.seed,
    ));
    out
}

/// A row's cells.
pub fn cells(r: &Row) -> Vec<String> {
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
        format!("{} / {}", share(r.hits_right), share(r.misses_right)),
        share(r.void_share),
        format!(
            "{} / {}",
            number(r.settle_p95_ms, 1),
            number(r.settle_p99_ms, 1)
        ),
        number(r.settle_p95_units, 2),
        number(r.pair_p50_ms, 1),
        number(r.settle_bias_ms, 1),
        number(r.two_u_p50_ms, 1),
        share(r.covered),
        number(r.onset_p95_ms, 1),
        number(r.lag_worst_ms, 1),
    ]
}

fn share(v: Option<f64>) -> String {
    v.map_or("-".to_owned(), |v| format!("{:.1} %", 100.0 * v))
}

fn number(v: Option<f64>, digits: usize) -> String {
    v.map_or("-".to_owned(), |v| format!("{v:.digits$}"))
}
