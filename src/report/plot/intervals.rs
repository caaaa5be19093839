//! Differences as intervals against zero.

use super::frame::{Scale, Sheet, n, short};

const ROW: f64 = 32.0;
const SIDES: (f64, f64) = (14.0, 346.0);

/// One difference.
pub struct Span {
    /// What is held against what.
    pub name: String,
    /// The figures in words, to the right.
    pub words: String,
    /// Value and its interval; nothing where it is not known.
    pub value: Option<(f64, f64, f64)>,
}

/// Intervals below each other on one scale with zero on it; `lower` and
/// `higher` say what either side means.
pub fn intervals(
    title: &str,
    description: &str,
    spans: &[Span],
    unit: &str,
    [lower, higher]: [&str; 2],
) -> String {
    let bottom = 20.0 + ROW * spans.len() as f64;
    let mut sheet = Sheet::new(bottom + 34.0, title, description);
    let reach = spans
        .iter()
        .filter_map(|s| s.value)
        .fold(0.0, |m: f64, v| m.max(v.1.abs()).max(v.2.abs()));
    let reach = if reach > 0.0 { reach * 1.08 } else { 1.0 };
    let x = Scale::new((-reach, reach), SIDES);
    let zero = x.at(0.0);
    sheet.words("e", zero - 8.0, 12.0, &format!("← {lower}"));
    sheet.words("", zero + 8.0, 12.0, &format!("{higher} →"));
    sheet.line("zero", (zero, 0.0), (zero, bottom));
    let mut y = 34.0;
    for span in spans {
        sheet.words("iso", SIDES.0, y, &short(&span.name));
        sheet.words("e", SIDES.1, y, &span.words);
        if let Some((value, low, high)) = span.value {
            let at = y + 9.0;
            let apart = low > 0.0 || high < 0.0;
            let class = if apart { "iv apart" } else { "iv" };
            sheet.path(
                class,
                &format!("M{} {}H{}", n(x.at(low)), n(at), n(x.at(high))),
            );
            let caps = format!(
                "M{} {}v6M{} {}v6",
                n(x.at(low)),
                n(at - 3.0),
                n(x.at(high)),
                n(at - 3.0)
            );
            sheet.path(class, &caps);
            // Filled where the interval leaves zero out, open where it does not.
            sheet.path(
                if apart { "pt apart" } else { "pt" },
                &format!(
                    "M{} {}m-3.2 0l3.2 -3.2l3.2 3.2l-3.2 3.2z",
                    n(x.at(value)),
                    n(at)
                ),
            );
        }
        y += ROW;
    }
    sheet.time_axis(&x, bottom, unit);
    sheet.finish()
}
