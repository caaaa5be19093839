//! One trial's curve with its moments.

use super::frame::{LEFT, RIGHT, Scale, Sheet, n, trace};
use crate::report::trial::Close;

const TOP: f64 = 26.0;
const BOTTOM: f64 = 110.0;

/// Sharpness as a share of the reference; nothing where no curve is kept.
pub fn moment(close: &Close, title: &str, description: &str) -> Option<String> {
    let updates = close.updates();
    let (first, last) = (updates.first()?, updates.last()?);
    let unit = close.reference();
    let scale = unit.unwrap_or_else(|| {
        let most = updates.iter().map(|u| u.sharpness);
        most.fold(f64::MIN_POSITIVE, f64::max)
    });
    let top = updates.iter().map(|u| u.sharpness / scale);
    let top = top.fold(1.1, f64::max);
    let mut sheet = Sheet::new(BOTTOM + 32.0, title, description);
    let x = Scale::new(
        (first.ms.min(0.0), last.ms.max(close.window_ms())),
        (LEFT, RIGHT),
    );
    let y = Scale::new((0.0, top), (BOTTOM, TOP));
    sheet.share_axis(&y, &[0.0, 0.5, 1.0], RIGHT);
    let inside = |m: &&crate::report::trial::Mark| m.ms >= x.data.0;
    for (k, mark) in close.marks().iter().filter(inside).enumerate() {
        let at = x.at(mark.ms);
        sheet.line("mk", (at, TOP - 6.0), (at, BOTTOM));
        let high = if k % 2 == 0 { 18.0 } else { 9.0 };
        let class = if at > 300.0 { "e mt" } else { "mt" };
        sheet.words(
            class,
            at + if at > 300.0 { -2.0 } else { 2.0 },
            high,
            mark.name,
        );
    }
    let mut points = Vec::with_capacity(2 * updates.len());
    for (k, u) in updates.iter().enumerate() {
        let level = y.at(u.sharpness / scale);
        points.push((x.at(u.ms), level));
        if let Some(next) = updates.get(k + 1) {
            points.push((x.at(next.ms), level));
        }
    }
    sheet.path("sig", &trace(&points));
    for still in close.evidence.iter().flat_map(|e| &e.stills) {
        let at = x.at(close.after_onset(still.time_s));
        sheet.path("dot", &format!("M{} {}l3 5h-6z", n(at), n(BOTTOM)));
    }
    sheet.time_axis(&x, BOTTOM, "ms after onset");
    Some(sheet.finish())
}
