//! Latencies of one setup, on a scale that several share.

use super::frame::{LEFT, RIGHT, Scale, Sheet};
use crate::stats::histogram::Scale as Bins;

/// Where time ends and "never" begins.
const TIME_END: f64 = 292.0;
const NEVER: (f64, f64) = (318.0, 346.0);
const TOP: f64 = 10.0;
const BOTTOM: f64 = 110.0;
const HEIGHT: f64 = 142.0;

/// Shares of judged trials per bin, and the share never in focus; `top` is the
/// largest share of all setups.
pub fn histogram(
    title: &str,
    description: &str,
    bins: &Bins,
    shares: &[f64],
    never: f64,
    top: f64,
) -> String {
    let mut sheet = Sheet::new(HEIGHT, title, description);
    let end = bins.edge_ms(bins.bins);
    let x = Scale::new((bins.start_ms, end), (LEFT, TIME_END));
    let y = Scale::new((0.0, top.max(1e-9)), (BOTTOM, TOP));
    let marks: Vec<f64> = y
        .ticks()
        .into_iter()
        .filter(|t| *t >= 0.01 || *t == 0.0)
        .collect();
    sheet.share_axis(&y, &marks, RIGHT);
    for (k, share) in shares.iter().enumerate().filter(|(_, s)| **s > 0.0) {
        let (left, right) = (x.at(bins.edge_ms(k)), x.at(bins.edge_ms(k + 1)));
        // Something is never drawn as nothing.
        let high = (BOTTOM - y.at(*share)).max(1.0);
        let wide = (right - left - 0.6).max(0.8);
        sheet.rect("bar", [left + 0.3, BOTTOM - high, wide, high]);
    }
    if never > 0.0 {
        let high = (BOTTOM - y.at(never)).max(1.0);
        let wide = NEVER.1 - NEVER.0;
        sheet.rect("never", [NEVER.0, BOTTOM - high, wide, high]);
    }
    sheet.time_axis(&x, BOTTOM, "ms after onset");
    sheet.line("ax", (NEVER.0 - 2.0, BOTTOM), (NEVER.1 + 2.0, BOTTOM));
    sheet.words("m", f64::midpoint(NEVER.0, NEVER.1), BOTTOM + 15.0, "never");
    sheet.finish()
}
