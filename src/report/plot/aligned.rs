//! Blur of all trials, aligned at onset.

use super::frame::{LEFT, RIGHT, Scale, Sheet, trace};
use crate::report::depth::Depth;
use crate::report::trial::Limits;

const TOP: f64 = 10.0;
const BOTTOM: f64 = 140.0;
/// Points of one plot at most; beyond, every second, third, … point is drawn.
const MOST_POINTS: usize = 5000;

/// One trial's blur.
pub struct Line {
    /// Class by verdict.
    pub kind: &'static str,
    /// Milliseconds after onset and blur, ‰.
    pub points: Vec<(f64, f64)>,
}

/// All lines, over `time` ms, with what they are held against.
pub fn aligned(
    title: &str,
    description: &str,
    lines: &[Line],
    time: (f64, f64),
    depth: &Depth,
    limits: &Limits,
) -> String {
    let mut sheet = Sheet::new(BOTTOM + 46.0, title, description);
    let x = Scale::new(time, (LEFT, RIGHT));
    let y = Scale::new((0.0, 1.0), (BOTTOM, TOP));
    let at = |permille: f64| y.at(depth.at(permille));
    sheet.depth_axis(depth, &y);
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
            .map(|p| (x.at(p.0), at(p.1)))
            .collect();
        if places.len() > 1 {
            sheet.path(&format!("tr {}", line.kind), &trace(&places));
        }
    }
    sheet.limits(limits, &at);
    sheet.limits_key(limits, BOTTOM + 42.0);
    sheet.time_axis(&x, BOTTOM, "ms after onset");
    sheet.finish()
}
