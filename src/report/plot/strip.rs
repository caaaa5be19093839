//! Every trial as a mark of its own.

use svg::node::Node;
use svg::node::element::Element;

use super::frame::{LEFT, Scale, Sheet, n};

/// Where time ends and the lanes without a latency begin.
const TIME_END: f64 = 232.0;
/// Left edges of the lanes for soft, lost, void and excluded.
const LANES: [(&str, f64); 4] = [
    ("soft", 244.0),
    ("lost", 272.0),
    ("void", 300.0),
    ("excluded", 328.0),
];
/// From one mark to the next, and the number side by side in a lane.
const PITCH: f64 = 6.4;
const ABREAST: usize = 4;
/// Height a row may have at most.
const HIGHEST: f64 = 120.0;
const LEAST: f64 = 24.0;

/// One trial.
pub struct Dot {
    /// `hit`, `soft`, `lost`, `void` or `excluded`.
    pub kind: &'static str,
    /// Latency of a hit, ms.
    pub ms: Option<f64>,
}

/// The trials of one side.
pub struct Lane {
    pub name: String,
    /// In the order of the session.
    pub dots: Vec<Dot>,
}

/// Sides below each other, hits along time, the others in lanes.
pub fn strip(title: &str, description: &str, lanes: &[Lane], to_ms: f64) -> String {
    let x = Scale::new((0.0, to_ms), (LEFT, TIME_END));
    let stacked: Vec<Vec<(f64, usize, &'static str)>> =
        lanes.iter().map(|l| stack(&l.dots, &x)).collect();
    let rows: Vec<(f64, f64)> = stacked
        .iter()
        .map(|marks| {
            let most = marks.iter().map(|m| m.1 + 1).max().unwrap_or(1) as f64;
            let pitch = PITCH.min(HIGHEST / most);
            ((most * pitch + 10.0).max(LEAST), pitch)
        })
        .collect();
    let total: f64 = rows.iter().map(|r| r.0).sum();
    let mut sheet = Sheet::new(22.0 + total + 34.0, title, description);
    for (name, left) in LANES {
        let name = if name == "excluded" { "out" } else { name };
        sheet.words("m", left + 12.0, 14.0, name);
    }
    let mut bottom = 22.0;
    for ((lane, marks), (height, pitch)) in lanes.iter().zip(&stacked).zip(&rows) {
        bottom += height;
        sheet.words("e", LEFT - 6.0, bottom - 4.0, &lane.name);
        sheet.line("gr", (LEFT, bottom), (356.0, bottom));
        for (at, level, kind) in marks {
            let up = bottom - 5.0 - *level as f64 * pitch;
            sheet.add(glyph(kind, *at, up));
        }
    }
    sheet.time_axis(&x, bottom + 2.0, "ms after onset");
    sheet.finish()
}

/// Places and levels of marks that do not hide each other along time.
fn stack(dots: &[Dot], x: &Scale) -> Vec<(f64, usize, &'static str)> {
    let mut columns = std::collections::BTreeMap::new();
    let mut lanes = [0usize; LANES.len()];
    let mut out = Vec::new();
    for dot in dots {
        if let Some(ms) = dot.ms {
            let column = ((x.at(ms) - x.out.0) / PITCH).floor() as i64;
            let level = columns.entry(column).or_insert(0usize);
            out.push((x.out.0 + (column as f64 + 0.5) * PITCH, *level, dot.kind));
            *level += 1;
            continue;
        }
        let Some(lane) = LANES.iter().position(|l| l.0 == dot.kind) else {
            continue;
        };
        let k = lanes[lane];
        lanes[lane] += 1;
        let at = LANES[lane].1 + 3.0 + (k % ABREAST) as f64 * PITCH;
        out.push((at, k / ABREAST, dot.kind));
    }
    out
}

/// The mark of a verdict: each has a shape of its own.
pub fn glyph(kind: &str, x: f64, y: f64) -> Element {
    let (xs, ys) = (n(x), n(y));
    let mut mark = Element::new("path");
    let d = match kind {
        // A disc, a half-filled diamond, a cross, an open square, a struck one.
        "hit" => format!("M{xs} {ys}m-2.6 0a2.6 2.6 0 1 0 5.2 0a2.6 2.6 0 1 0 -5.2 0z"),
        "soft" => format!("M{xs} {ys}m0 -3l3 3l-3 3l-3 -3zm0 0v6"),
        "lost" => format!("M{xs} {ys}m-2.5 -2.5l5 5m0 -5l-5 5"),
        "excluded" => format!("M{xs} {ys}m-2.3 -2.3h4.6v4.6h-4.6zl4.6 4.6"),
        _ => format!("M{xs} {ys}m-2.3 -2.3h4.6v4.6h-4.6z"),
    };
    mark.assign("class", format!("g {kind}"));
    mark.assign("d", d);
    mark
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_trial_is_left_out_and_none_hides_another() {
        let kinds = ["hit", "soft", "lost", "void", "excluded"];
        let dots: Vec<Dot> = (0..200)
            .map(|k| Dot {
                kind: kinds[k % 5],
                ms: (k % 5 == 0).then_some(300.0 + (k % 7) as f64 * 20.0),
            })
            .collect();
        let marks = stack(&dots, &Scale::new((0.0, 1500.0), (LEFT, TIME_END)));
        assert_eq!(marks.len(), 200);
        let mut places: Vec<String> = marks
            .iter()
            .map(|m| format!("{:.1} {}", m.0, m.1))
            .collect();
        places.sort();
        places.dedup();
        assert_eq!(places.len(), 200);
        let lane = Lane {
            name: "near".to_owned(),
            dots,
        };
        let text = strip("t", "d", &[lane], 1500.0);
        assert_eq!(text.matches("class=\"g ").count(), 200);
    }
}
