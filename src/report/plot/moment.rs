//! One trial's blur with its moments, the raw signal small below.

use super::frame::{LEFT, RIGHT, Scale, Sheet, n, trace};
use crate::report::depth::Depth;
use crate::report::trial::{Close, Mark, Update};

const TOP: f64 = 26.0;
const BOTTOM: f64 = 126.0;
/// The strip of the raw signal.
const RAW: (f64, f64) = (152.0, 170.0);

/// Blur in ‰ on a scale of square roots; nothing where no curve is kept.
pub fn moment(close: &Close, title: &str, description: &str) -> Option<String> {
    let updates = close.updates();
    let (first, last) = (updates.first()?, updates.last()?);
    let limits = close.limits();
    let after = updates.iter().filter(|u| u.ms >= 0.0);
    let depth = Depth::of(after.filter_map(|u| u.blur), limits.hit);
    let mut sheet = Sheet::new(RAW.1 + 32.0, title, description);
    let x = Scale::new(
        (first.ms.min(0.0), last.ms.max(close.window_ms())),
        (LEFT, RIGHT),
    );
    let y = Scale::new((0.0, 1.0), (BOTTOM, TOP));
    let at = |permille: f64| y.at(depth.at(permille));
    if let Some((low, high)) = limits.stay() {
        let (low, high) = (at(low), at(high));
        sheet.rect("stay", [LEFT, high, RIGHT - LEFT, low - high]);
    }
    sheet.depth_axis(&depth, &y);
    sheet.limits(&limits, &at);
    let inside = |m: &&Mark| m.ms >= x.data.0;
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
    for run in updates.chunk_by(|a, b| a.blur.is_some() && b.blur.is_some()) {
        let level = |u: &Update| at(u.blur.unwrap_or(0.0));
        if run[0].blur.is_some() {
            sheet.path("sig", &staircase(run, &x, &level));
        }
    }
    if updates.iter().all(|u| u.blur.is_none()) {
        sheet.words("m", 192.0, 78.0, "blur could not be told");
    }
    for still in close.evidence.iter().flat_map(|e| &e.stills) {
        let at = x.at(close.after_onset(still.time_s));
        sheet.path("dot", &format!("M{} {}l3 5h-6z", n(at), n(BOTTOM)));
    }
    raw(&mut sheet, close, &updates, &x);
    sheet.time_axis(&x, RAW.1, "ms after onset");
    Some(sheet.finish())
}

/// The raw signal to its own scale.
fn raw(sheet: &mut Sheet, close: &Close, updates: &[Update], x: &Scale) {
    let most = updates.iter().map(|u| u.sharpness);
    let most = most.fold(f64::MIN_POSITIVE, f64::max);
    let y = Scale::new((0.0, most), (RAW.1, RAW.0));
    let said = format!("raw signal, {}", close.signal());
    sheet.words("mt2", LEFT, RAW.0 - 5.0, &said);
    // To a whole unit: a look, not a reading, and a page holds many.
    sheet.path(
        "raw",
        &staircase(updates, x, &|u| y.at(u.sharpness).round()),
    );
}

fn staircase(updates: &[Update], x: &Scale, level: &dyn Fn(&Update) -> f64) -> String {
    let mut points = Vec::with_capacity(2 * updates.len());
    for (k, u) in updates.iter().enumerate() {
        points.push((x.at(u.ms), level(u)));
        if let Some(next) = updates.get(k + 1) {
            points.push((x.at(next.ms), level(u)));
        }
    }
    trace(&points)
}
