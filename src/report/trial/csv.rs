//! A trial's signal and moments for a spreadsheet.

use super::close::Close;
use super::words::kind;
use crate::report::cells::cell;

/// Heads of the columns.
pub const CSV_HEAD: [&str; 15] = [
    "setup",
    "clip",
    "trial",
    "side",
    "verdict",
    "reason",
    "row",
    "moment",
    "time_s",
    "after_onset_ms",
    "sharpness",
    "blur_permille",
    "delta_permille",
    "hit_limit_permille",
    "least_permille",
];

/// One row per update of the screen and one per moment, in order of time, as
/// CSV (RFC 4180) with a head. What is not known is empty.
///
/// # Errors
/// If memory runs out while writing.
pub fn trial_csv(close: &Close) -> Result<String, String> {
    let mut rows: Vec<(f64, [String; 5])> = close
        .updates()
        .iter()
        .map(|u| {
            let blur = u.blur.map_or(String::new(), |b| b.to_string());
            let row = ["update".to_owned(), String::new(), number(u.ms)];
            let [row, moment, ms] = row;
            (u.ms, [row, moment, ms, u.sharpness.to_string(), blur])
        })
        .collect();
    rows.extend(close.marks().iter().map(|m| {
        let cells = ["moment".to_owned(), m.name.to_owned(), number(m.ms)];
        let [row, moment, ms] = cells;
        (m.ms, [row, moment, ms, String::new(), String::new()])
    }));
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let t = close.trial;
    let lead = [
        cell(&close.timing.setup.name),
        cell(&close.clip.path),
        t.index.to_string(),
        close.side().unwrap_or_default().to_owned(),
        kind(t).to_owned(),
        cell(t.reason.as_deref().unwrap_or_default()),
    ];
    let limits = close.limits();
    let held = [limits.delta, limits.hit, limits.film];
    let held = held.map(|x| x.map_or(String::new(), |x| x.to_string()));
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(CSV_HEAD).map_err(|e| e.to_string())?;
    for (ms, [row, moment, after, sharpness, blur]) in rows {
        let time = seconds(t.onset_s + ms / 1000.0);
        let own = [row, moment, time, after, sharpness, blur];
        out.write_record(lead.iter().chain(&own).chain(&held))
            .map_err(|e| e.to_string())?;
    }
    let bytes = out.into_inner().map_err(|e| e.to_string())?;
    String::from_utf8(bytes).map_err(|e| e.to_string())
}

fn number(ms: f64) -> String {
    format!("{:.3}", if ms.abs() < 5e-4 { 0.0 } else { ms })
}

fn seconds(s: f64) -> String {
    format!("{s:.6}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing};

    #[test]
    fn moments_stand_in_order_and_names_are_no_formulas() {
        let made = timing(
            "=cmd|' /C calc'!A0",
            vec![clip("a,\"b", swings(&[Some(200.0)]))],
        );
        let close = Close::bare(&made, &made.clips[0], &made.clips[0].trials[0]);
        let text = trial_csv(&close).unwrap();
        let mut read = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
        let moments: Vec<&str> = rows.iter().map(|r| &r[7]).collect();
        assert_eq!(moments, ["onset", "settle", "end"]);
        assert_eq!(
            (&rows[0][0], &rows[0][1]),
            ("'=cmd|' /C calc'!A0", "a,\"b.mp4")
        );
        assert_eq!((&rows[1][8], &rows[1][9]), ("1.200000", "200.000"));
        assert_eq!((&rows[1][12], &rows[1][13], &rows[1][14]), ("2", "4", ""));
    }
}
