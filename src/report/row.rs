//! One group of trials as a row of a table.

use crate::store::schema::{LatencyQuantiles, Rate, Side, TimeToFocus};

use super::words::{fixed, percent, whole, with_interval};

/// Heads of the columns; latencies in ms.
pub(super) const HEAD: [&str; 9] = [
    "Setup",
    "Side",
    "Judged",
    "Void",
    "Hit rate",
    "Hits p50",
    "p90",
    "Focus by half",
    "Mean",
];

/// What a row shows.
pub(super) struct Figures {
    pub judged: u64,
    pub void: u64,
    pub hit_rate: Option<Rate>,
    pub latency: LatencyQuantiles,
    pub focus: TimeToFocus,
}

impl Figures {
    pub fn cells(&self, label: &str, side: &str) -> Vec<String> {
        let rate = self.hit_rate.map_or(percent(None), |r| {
            with_interval(
                &percent(Some(r.value)),
                &fixed(r.low * 100.0, 0),
                &fixed(r.high * 100.0, 0),
            )
        });
        vec![
            label.to_owned(),
            side.to_owned(),
            self.judged.to_string(),
            self.void.to_string(),
            rate,
            whole(self.latency.p50),
            whole(self.latency.p90),
            with_interval(
                &whole(self.focus.median),
                &whole(self.focus.median_low),
                &whole(self.focus.median_high),
            ),
            whole(self.focus.restricted_mean),
        ]
    }
}

/// `near` or `far`.
pub(super) fn side_name(side: Side) -> &'static str {
    match side {
        Side::Near => "near",
        Side::Far => "far",
    }
}
