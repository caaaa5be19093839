//! Rows as text.

use super::quantile::{mean, median, of_sizes, quantile};
use super::row::{Row, Settle, Share};

/// Heads of [`verdicts`].
pub fn head() -> String {
    format!(
        "{:<24}{:>7}{:>9}{:>9}{:>6}{:>8}{:>7}{:>7}{:>8}  {}",
        "clip",
        "trials",
        "hits",
        "misses",
        "void",
        "missed",
        "extra",
        "close",
        "least ‰",
        "onset p50 near far light | settle p50/p95 units at δ"
    )
}

/// Verdicts, onsets and settles in one line.
pub fn verdicts(name: &str, row: &Row) -> String {
    let share = |s: Share| {
        if s.of == 0 {
            "-".to_owned()
        } else {
            format!("{}/{}", s.right, s.of)
        }
    };
    let mut text = format!(
        "{name:<24}{:>7}{:>9}{:>9}{:>6}{:>8}{:>7}{:>7}{:>8}  ",
        row.trials,
        share(row.hits),
        share(row.misses),
        row.void,
        row.missed,
        row.extra,
        row.close,
        number(median(&row.least), 2)
    );
    for kind in ["near", "far", "light"] {
        let errors = row.onset_ms.get(kind).map_or(&[][..], Vec::as_slice);
        text += &format!("{:>6}", signed(median(errors), 0));
    }
    for (label, settles) in &row.settles {
        let units: Vec<f64> = settles.iter().map(|s| s.units).collect();
        text += &format!(
            " | δ {label}: {}/{}",
            number(quantile(&units, 0.5), 1),
            number(quantile(&units, 0.95), 1)
        );
    }
    text
}

/// Onset errors by kind.
pub fn onsets(row: &Row) -> Vec<String> {
    let of = |(kind, errors): (&&str, &Vec<f64>)| {
        format!(
            "onset {kind:<6} n {:>3}: median {} ms, size p50 {}, p95 {}",
            errors.len(),
            signed(median(errors), 1),
            number(of_sizes(errors, 0.5), 1),
            number(of_sizes(errors, 0.95), 1)
        )
    };
    row.onset_ms.iter().map(of).collect()
}

/// A screen this high counts as large, film px.
pub const LARGE_PX: f64 = 640.0;

/// Settles by δ, in all and on large and small screens.
pub fn settles(row: &Row) -> Vec<String> {
    let mut out = Vec::new();
    for (label, all) in &row.settles {
        let part = |large: bool| -> Vec<Settle> {
            all.iter()
                .filter(|s| (s.high_px >= LARGE_PX) == large)
                .copied()
                .collect()
        };
        for (name, settles) in [
            ("all", all.clone()),
            ("large", part(true)),
            ("small", part(false)),
        ] {
            if !settles.is_empty() {
                out.push(format!("settle δ {label} {name:<6}{}", settled(&settles)));
            }
        }
    }
    out
}

fn settled(s: &[Settle]) -> String {
    let of = |f: fn(&Settle) -> f64| s.iter().map(f).collect::<Vec<f64>>();
    let (units, outside, off) = (of(|s| s.units), of(|s| s.outside_ms), of(|s| s.off_ms));
    let latencies: Vec<(f64, f64)> = s.iter().filter_map(|s| s.latency).collect();
    let held = latencies.iter().filter(|(e, u)| e.abs() <= 2.0 * u).count();
    let twice: Vec<f64> = latencies.iter().map(|(_, u)| 2.0 * u).collect();
    format!(
        "n {:>3}: units p50 {} p95 {} p99 {}; outside pair p50 {} p95 {} ms (pair {} ms wide); \
         against δ itself: mean {} median {} ms, 2 u holds {held} of {} ({} %), median 2 u {} ms",
        s.len(),
        number(quantile(&units, 0.5), 2),
        number(quantile(&units, 0.95), 2),
        number(quantile(&units, 0.99), 2),
        number(of_sizes(&outside, 0.5), 1),
        number(of_sizes(&outside, 0.95), 1),
        number(median(&of(|s| s.width_ms)), 0),
        signed(mean(&off), 1),
        signed(median(&off), 1),
        latencies.len(),
        number(
            (!latencies.is_empty()).then(|| 100.0 * held as f64 / latencies.len() as f64),
            0
        ),
        number(median(&twice), 1)
    )
}

/// A number, or a dash.
pub fn number(v: Option<f64>, digits: usize) -> String {
    v.map_or("-".to_owned(), |v| format!("{v:.digits$}"))
}

/// The same with its sign.
pub fn signed(v: Option<f64>, digits: usize) -> String {
    v.map_or("-".to_owned(), |v| format!("{v:+.digits$}"))
}
