//! Share of trials in focus over time (Kaplan–Meier), with its band.

use super::frame::{LEFT, RIGHT, Scale, Sheet, n, short};

const TOP: f64 = 12.0;
const BOTTOM: f64 = 150.0;
/// Height of a line of the legend.
const ROW: f64 = 16.0;

/// Time in ms, share in focus from then on, and its interval.
pub type Step = (f64, f64, Option<(f64, f64)>);

/// One curve.
pub struct FocusLine {
    /// What it is called.
    pub name: String,
    /// Class that gives colour and dashes.
    pub class: String,
    /// In order of time.
    pub steps: Vec<Step>,
}

/// Curves on one scale from 0 to `to_ms`, bands where `banded`.
pub fn focus(
    title: &str,
    description: &str,
    lines: &[FocusLine],
    to_ms: f64,
    banded: bool,
) -> String {
    let height = BOTTOM + 34.0 + ROW * lines.len() as f64;
    let mut sheet = Sheet::new(height, title, description);
    let x = Scale::new((0.0, to_ms), (LEFT, RIGHT));
    let y = Scale::new((0.0, 1.0), (BOTTOM, TOP));
    sheet.share_axis(&y, &[0.0, 0.25, 0.5, 0.75, 1.0], RIGHT);
    if banded {
        for line in lines {
            sheet.path(&format!("band {}", line.class), &band(line, &x, &y));
        }
    }
    for line in lines {
        sheet.path(&format!("km {}", line.class), &staircase(line, &x, &y));
    }
    sheet.time_axis(&x, BOTTOM, "ms after onset");
    let mut at = BOTTOM + 38.0;
    for line in lines {
        sheet.line(&format!("km {}", line.class), (LEFT, at), (LEFT + 34.0, at));
        sheet.words("iso", LEFT + 42.0, at + 3.5, &short(&line.name));
        at += ROW;
    }
    sheet.finish()
}

fn staircase(line: &FocusLine, x: &Scale, y: &Scale) -> String {
    let mut d = format!("M{} {}", n(x.at(0.0)), n(y.at(0.0)));
    for (ms, share, _) in &line.steps {
        d.push_str(&format!("H{}V{}", n(x.at(*ms)), n(y.at(*share))));
    }
    d + &format!("H{}", n(x.out.1))
}

/// From the first instant that has an interval on.
fn band(line: &FocusLine, x: &Scale, y: &Scale) -> String {
    let known: Vec<(f64, f64, f64)> = line
        .steps
        .iter()
        .filter_map(|(ms, _, limits)| limits.map(|(low, high)| (*ms, low, high)))
        .collect();
    let Some(first) = known.first() else {
        return "M0 0".to_owned();
    };
    let mut d = format!("M{} {}", n(x.at(first.0)), n(y.at(first.2)));
    for (ms, _, high) in &known[1..] {
        d.push_str(&format!("H{}V{}", n(x.at(*ms)), n(y.at(*high))));
    }
    let last = known.len() - 1;
    d.push_str(&format!("H{}V{}", n(x.out.1), n(y.at(known[last].1))));
    for k in (0..last).rev() {
        d.push_str(&format!(
            "H{}V{}",
            n(x.at(known[k + 1].0)),
            n(y.at(known[k].1))
        ));
    }
    d + &format!("H{}Z", n(x.at(first.0)))
}
