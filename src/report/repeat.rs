//! Repeatability for people.

use crate::stats::normal::level_words;
use crate::stats::repeat::{Figure, Repeat, SessionRow};

use super::table::{Form, table};
use super::words::{NONE, ends, fixed, p, paragraph, plain, rate_with_interval, whole};

/// A setup over its sessions as text of at most 100 columns.
pub fn repeat_text(repeat: &Repeat) -> String {
    let mut text = paragraph("", &repeat.sentence);
    text.push('\n');
    let head = [
        "Session",
        "Judged",
        "Void",
        "Hit rate",
        "Settle,\nmean ms",
        "Focus,\nmean ms",
    ];
    let rows: Vec<Vec<String>> = repeat.sessions.iter().map(session).collect();
    text.push_str(&table(Form::Text, &head, &rows, 1));
    text.push('\n');
    let level = format!("{} %", level_words(repeat.confidence));
    let head = [
        "Scatter of",
        "Side",
        "Within",
        "Between",
        &level,
        "Both",
        "p",
        "Smallest\nchange",
    ];
    let rows: Vec<Vec<String>> = repeat.figures.iter().map(figure).collect();
    text.push_str(&table(Form::Text, &head, &rows, 2));
    text.push_str(&paragraph(
        "",
        &format!(
            "Standard deviations: within a session (repeatability), between sessions beyond what \
             trials scatter, with its interval, and of both (reproducibility); times ms, rates \
             points. p: that sessions do not differ. Smallest change of the mean that one more \
             session shows four times out of five. Settle: hits alone, a miss has no settle time. \
             Focus: all judged trials, a miss as the window, {} ms. Latencies: {}.",
            fixed(repeat.window_ms, 0),
            repeat.lag
        ),
    ));
    if !repeat.warnings.is_empty() {
        text.push_str("\nBefore you rely on this\n");
        for warning in &repeat.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text
}

fn session(s: &SessionRow) -> Vec<String> {
    vec![
        plain(&s.label),
        s.judged.to_string(),
        s.void.to_string(),
        rate_with_interval(s.hit_rate),
        whole(s.settle_ms),
        whole(s.time_to_focus_ms),
    ]
}

fn figure(f: &Figure) -> Vec<String> {
    let (name, times, digits) = match f.name {
        "hit_rate" => ("hit rate", 100.0, 1),
        "settle_ms" => ("settle", 1.0, 0),
        _ => ("focus", 1.0, 0),
    };
    let figure = |x: f64| fixed(x * times, digits);
    let limits = f.between_low.zip(f.between_high);
    vec![
        name.to_owned(),
        f.side.to_owned(),
        figure(f.within),
        figure(f.between),
        limits.map_or(NONE.to_owned(), |(low, high)| {
            ends(&figure(low), &figure(high))
        }),
        figure(f.total),
        p(f.p),
        f.smallest_change.map_or(NONE.to_owned(), figure),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rate_is_told_in_points() {
        let f = Figure {
            name: "hit_rate",
            side: "all",
            sessions: 3,
            trials: 90,
            mean: 0.9,
            session_means: [0.85, 0.95],
            within: 0.3,
            between: 0.041,
            between_low: None,
            between_high: None,
            total: 0.303,
            repeatability_limit: 0.84,
            reproducibility_limit: 0.85,
            p: None,
            smallest_change: Some(0.25),
            trials_per_session: 30.0,
        };
        let told = figure(&f);
        assert_eq!(
            told,
            ["hit rate", "all", "30.0", "4.1", NONE, "30.3", NONE, "25.0"]
        );
    }
}
