//! How blurred photographs are, on a scale that several setups share.

use super::frame::{LEFT, RIGHT, Scale, Sheet, n};

/// Where the scale ends and "more" begins.
const SCALE_END: f64 = 292.0;
const MORE: (f64, f64) = (318.0, 346.0);
const TOP: f64 = 14.0;
const BOTTOM: f64 = 110.0;
const HEIGHT: f64 = 142.0;

/// Shares of pictures by bin of `wide` circles of confusion from nought on, the
/// last for all beyond; `top` is the largest share of all setups, `limit` the hit
/// limit in circles.
pub fn blurs(
    title: &str,
    described: &str,
    wide: f64,
    shares: &[f64],
    top: f64,
    limit: f64,
) -> String {
    let mut sheet = Sheet::new(HEIGHT, title, described);
    let Some((more, within)) = shares.split_last() else {
        return sheet.finish();
    };
    let end = wide * within.len() as f64;
    let x = Scale::new((0.0, end), (LEFT, SCALE_END));
    let y = Scale::new((0.0, top.max(1e-9)), (BOTTOM, TOP));
    sheet.share_axis(&y, &y.ticks(), RIGHT);
    let bar = |sheet: &mut Sheet, class: &str, from: f64, to: f64, share: f64| {
        if share > 0.0 {
            // Something is never drawn as nothing.
            let high = (BOTTOM - y.at(share)).max(1.0);
            sheet.rect(class, [from + 0.3, BOTTOM - high, to - from - 0.6, high]);
        }
    };
    for (k, share) in within.iter().enumerate() {
        let edge = |k: usize| x.at(k as f64 * wide);
        bar(&mut sheet, "bar", edge(k), edge(k + 1), *share);
    }
    bar(&mut sheet, "never", MORE.0, MORE.1, *more);
    if limit <= end {
        sheet.line("lim", (x.at(limit), TOP - 4.0), (x.at(limit), BOTTOM));
        sheet.words(
            "mt2",
            x.at(limit) + 4.0,
            TOP,
            &format!("hit limit {}", n(limit)),
        );
    }
    sheet.time_axis(&x, BOTTOM, "circles of confusion");
    sheet.line("ax", (MORE.0 - 2.0, BOTTOM), (MORE.1 + 2.0, BOTTOM));
    sheet.words("m", f64::midpoint(MORE.0, MORE.1), BOTTOM + 15.0, "more");
    sheet.finish()
}
