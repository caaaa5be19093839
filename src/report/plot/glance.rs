//! One setup's time to focus and its misses, a row for all trials and one for
//! each side.

use super::frame::{Scale, Sheet, n};

/// Where time begins and ends across.
const TIME: (f64, f64) = (36.0, 238.0);
/// Where the bar of misses lies, and where its words end.
const BAR: (f64, f64) = (252.0, 290.0);
const WORDS_END: f64 = 358.0;
/// Height of a row without dots and with them, and of the axis.
const ROW: f64 = 20.0;
const DOTTED: f64 = 28.0;
const AXIS: f64 = 34.0;
/// From the bottom of a row up to the middle of its line.
const FOOT: f64 = 9.0;
/// From one dot to the next, across and up.
const DOT: f64 = 2.8;
/// From one stripe of the soft trials to the next.
const STRIPE: f64 = 3.0;

/// Judged trials of one side, or of all.
pub struct Row {
    /// `near`, `far` or `all`.
    pub name: &'static str,
    /// Larger than the rows of the sides.
    pub main: bool,
    /// When half of them are in focus, ms; `None` where it is not reached.
    pub half_ms: Option<f64>,
    /// Lower and upper end of its interval, ms.
    pub interval_ms: [Option<f64>; 2],
    /// Latencies of the hits that are drawn one by one, ms.
    pub hits_ms: Vec<f64>,
    pub soft: u64,
    pub lost: u64,
    pub judged: u64,
}

impl Row {
    fn height(&self) -> f64 {
        if self.hits_ms.is_empty() { ROW } else { DOTTED }
    }
}

/// Rows below each other on an axis from 0 to `to_ms`.
pub fn glance(title: &str, description: &str, rows: &[Row], to_ms: f64) -> String {
    let height = rows.iter().map(Row::height).sum();
    let mut sheet = Sheet::new(height, title, description);
    let x = Scale::new((0.0, to_ms), TIME);
    for tick in x.ticks() {
        sheet.line("gr", (x.at(tick), 0.0), (x.at(tick), height));
    }
    let mut bottom = 0.0;
    for row in rows {
        let top = bottom;
        bottom += row.height();
        let y = bottom - FOOT;
        let class = if row.main { "e iso" } else { "e" };
        sheet.words(class, TIME.0 - 6.0, y + 4.0, row.name);
        if row.judged == 0 {
            sheet.words("", TIME.0 + 6.0, y + 4.0, "no trial could be judged");
            continue;
        }
        if !row.hits_ms.is_empty() {
            sheet.path("each", &dots(&row.hits_ms, &x, (top + 2.0, y - 6.0)));
        }
        half(&mut sheet, row, &x, y);
        missed(&mut sheet, row, y);
    }
    sheet.finish()
}

/// The axis that the rows share, for above or below them.
pub fn glance_axis(to_ms: f64, below: bool) -> String {
    let title = format!("Axis from 0 to {to_ms:.0} ms after onset");
    let mut sheet = Sheet::new(AXIS, &title, "Beside it: missed, of the judged trials.");
    let x = Scale::new((0.0, to_ms), TIME);
    let (line, numbers, unit) = if below {
        (1.0, 15.0, 30.0)
    } else {
        (AXIS - 1.0, 28.0, 12.0)
    };
    sheet.line("ax", (TIME.0, line), (TIME.1, line));
    for tick in x.ticks() {
        sheet.words("m", x.at(tick), numbers, &format!("{tick:.0}"));
    }
    sheet.words("e", TIME.1, unit, "ms after onset");
    sheet.words("e", WORDS_END, unit, "missed, of judged");
    sheet.finish()
}

/// Hits as dots, equal ones above each other, between two heights.
fn dots(hits_ms: &[f64], x: &Scale, (top, bottom): (f64, f64)) -> String {
    let column = |ms: f64| ((x.at(ms) - TIME.0) / DOT).round();
    let mut columns: Vec<f64> = hits_ms.iter().map(|ms| column(*ms)).collect();
    columns.sort_by(f64::total_cmp);
    let mut d = String::new();
    for run in columns.chunk_by(|a, b| a == b) {
        let pitch = DOT.min((bottom - top) / run.len() as f64);
        for (k, column) in run.iter().enumerate() {
            // A line of no length with round ends is a dot.
            let (at, up) = (TIME.0 + column * DOT, bottom - pitch * k as f64);
            d.push_str(&format!("M{} {}h0", n(at), n(up)));
        }
    }
    d
}

/// When half of the trials are in focus, with the interval; where an end is not
/// reached within the window, an arrow out of the plot.
fn half(sheet: &mut Sheet, row: &Row, x: &Scale, y: f64) {
    let class = if row.main { "half main" } else { "half" };
    let cap = if row.main { 5.0 } else { 3.0 };
    let out = format!("M{} {}l4 4l-4 4", n(TIME.1 - 4.0), n(y - 4.0));
    if let [Some(low), high] = row.interval_ms {
        let end = high.map_or(TIME.1, |high| x.at(high));
        let (from, length) = (n(x.at(low)), n(2.0 * cap));
        let mut d = format!("M{from} {}H{}", n(y), n(end));
        d.push_str(&format!("M{from} {}v{length}", n(y - cap)));
        match high {
            Some(_) => d.push_str(&format!("M{} {}v{length}", n(end), n(y - cap))),
            None => d.push_str(&out),
        }
        sheet.path(class, &d);
    }
    match row.half_ms {
        Some(ms) => {
            let r = if row.main { 6.0 } else { 4.0 };
            let d = format!(
                "M{} {}m-{r} 0l{r} -{r}l{r} {r}l-{r} {r}z",
                n(x.at(ms)),
                n(y)
            );
            sheet.path(&format!("{class} at"), &d);
        }
        None => {
            sheet.path(class, &out);
            sheet.words("e halo", TIME.1 - 8.0, y + 4.0, "half never in focus");
        }
    }
}

/// The share of judged trials that missed: lost ones filled, soft ones striped.
fn missed(sheet: &mut Sheet, row: &Row, y: f64) {
    let high = if row.main { 10.0 } else { 7.0 };
    let top = y - high / 2.0;
    let wide = |n: u64| match n {
        0 => 0.0,
        // Something is never drawn as nothing.
        n => ((BAR.1 - BAR.0) * n as f64 / row.judged as f64).max(1.0),
    };
    let (lost, soft) = (wide(row.lost), wide(row.soft));
    sheet.rect("of", [BAR.0, top, BAR.1 - BAR.0, high]);
    if lost > 0.0 {
        sheet.rect("part lost", [BAR.0, top, lost, high]);
    }
    if soft > 0.0 {
        let from = BAR.0 + lost;
        let mut d = format!(
            "M{} {}h{}v{}h-{}z",
            n(from),
            n(top),
            n(soft),
            n(high),
            n(soft)
        );
        let mut at = from + STRIPE;
        while at < from + soft {
            d.push_str(&format!("M{} {}v{}", n(at), n(top), n(high)));
            at += STRIPE;
        }
        sheet.path("part soft", &d);
    }
    let missed = row.soft + row.lost;
    let words = format!("{missed} of {}", row.judged);
    let class = if row.main { "e iso" } else { "e" };
    sheet.words(class, WORDS_END, y + 4.0, &words);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(half_ms: Option<f64>, interval_ms: [Option<f64>; 2]) -> Row {
        Row {
            name: "all",
            main: true,
            half_ms,
            interval_ms,
            hits_ms: vec![200.0, 200.0, 200.0, 400.0],
            soft: 2,
            lost: 4,
            judged: 10,
        }
    }

    #[test]
    fn every_hit_has_a_dot_of_its_own_and_every_miss_its_share() {
        let text = glance(
            "t",
            "d",
            &[row(Some(300.0), [Some(200.0), Some(400.0)])],
            400.0,
        );
        let dots = text.split("class=\"each\"").nth(1).unwrap();
        let d = dots.split('"').nth(1).unwrap();
        let mut places: Vec<&str> = d.split('M').skip(1).collect();
        assert_eq!(places.len(), 4);
        places.sort_unstable();
        places.dedup();
        assert_eq!(places.len(), 4, "{d}");
        // Four of ten lost: 0.4 of a bar of 38.
        assert!(
            text.contains("class=\"part lost\" height=\"10\" width=\"15.2\""),
            "{text}"
        );
        assert!(text.contains("6 of 10"), "{text}");
    }

    #[test]
    fn what_is_not_reached_has_no_end() {
        let open = glance("t", "d", &[row(Some(300.0), [Some(200.0), None])], 400.0);
        assert!(open.contains("l4 4l-4 4"), "{open}");
        let never = glance("t", "d", &[row(None, [Some(200.0), None])], 400.0);
        assert!(never.contains("half never in focus"), "{never}");
        assert!(!never.contains("half main at"), "{never}");
        let none = Row {
            judged: 0,
            ..row(None, [None, None])
        };
        let none = glance("t", "d", &[none], 400.0);
        assert!(none.contains("no trial could be judged"), "{none}");
        assert!(!none.contains("of 0"), "{none}");
    }
}
