//! One group of trials as a row of a table.

use crate::store::schema::{LatencyQuantiles, Rate, Side, TimeToFocus};

use super::words::{rate_with_interval, whole, with_interval};

/// Heads of the columns; latencies in ms, a miss counting as `window_ms`.
pub(super) fn head(window_ms: Option<f64>) -> [String; 9] {
    let mean = match window_ms {
        Some(ms) => format!("Mean, misses\nas {ms:.0}"),
        None => "Mean, misses\nas the window".to_owned(),
    };
    [
        "Setup",
        "Side",
        "Judged",
        "Void",
        "Hit rate",
        "Hits\np50",
        "Hits\np90",
        "Half in\nfocus by",
        &mean,
    ]
    .map(str::to_owned)
}

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
        vec![
            label.to_owned(),
            side.to_owned(),
            self.judged.to_string(),
            self.void.to_string(),
            rate_with_interval(self.hit_rate),
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
