//! A signal of all trials, aligned at onset.

use super::frame::{LEFT, RIGHT, Scale, Sheet, trace};

const TOP: f64 = 10.0;
const BOTTOM: f64 = 130.0;
/// Points of one plot at most; beyond, every second, third, … point is drawn.
const MOST_POINTS: usize = 5000;

/// One trial's signal.
pub struct Line {
    /// Class by verdict.
    pub kind: &'static str,
    /// Milliseconds after onset and value.
    pub points: Vec<(f64, f64)>,
}

/// All lines, over `time` ms and from 0 to `top`; `shares` marks the axis in
/// percent, else in its own unit.
pub fn aligned(
    title: &str,
    description: &str,
    lines: &[Line],
    time: (f64, f64),
    top: f64,
    shares: bool,
) -> String {
    let mut sheet = Sheet::new(BOTTOM + 32.0, title, description);
    let x = Scale::new(time, (LEFT, RIGHT));
    let y = Scale::new((0.0, top), (BOTTOM, TOP));
    if shares {
        sheet.share_axis(&y, &[0.0, 0.5, 1.0], RIGHT);
    } else {
        for tick in y.ticks() {
            sheet.line("gr", (LEFT, y.at(tick)), (RIGHT, y.at(tick)));
            sheet.words("e", LEFT - 5.0, y.at(tick) + 3.5, &format!("{tick:.0} ‰"));
        }
    }
    sheet.line("on", (x.at(0.0), TOP - 6.0), (x.at(0.0), BOTTOM));
    sheet.words("", x.at(0.0) + 3.0, TOP, "onset");
    let points: usize = lines.iter().map(|l| l.points.len()).sum();
    let step = points.div_ceil(MOST_POINTS).max(1);
    // Misses above hits: they are what a reader looks for.
    let hits = lines.iter().filter(|l| l.kind == "hit");
    let others = lines.iter().filter(|l| l.kind != "hit");
    for line in hits.chain(others) {
        let places: Vec<(f64, f64)> = line
            .points
            .iter()
            .step_by(step)
            .filter(|p| p.0 >= time.0 && p.0 <= time.1)
            .map(|p| (x.at(p.0), y.at(p.1)))
            .collect();
        if places.len() > 1 {
            sheet.path(&format!("tr {}", line.kind), &trace(&places));
        }
    }
    sheet.time_axis(&x, BOTTOM, "ms after onset");
    sheet.finish()
}
