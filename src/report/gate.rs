//! A gate for people and for build servers.

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};

use crate::stats::gate::{Check, Gate, Verdict};

use super::table::{Form, table};
use super::words::{NONE, fixed, paragraph, plain, points, signed, whole, with_interval};

/// The gate as text of at most 100 columns.
#[must_use]
pub fn gate_text(gate: &Gate) -> String {
    let mut text = heading(gate);
    text.push('\n');
    text.push_str(&checks(gate, Form::Text));
    for check in gate.checks.iter().filter(|c| c.why.is_some()) {
        text.push_str(&paragraph("  ", &because(check)));
    }
    if let Some(more) = more(gate) {
        text.push('\n');
        text.push_str(&paragraph("", &more));
    }
    if !gate.warnings.is_empty() {
        text.push_str("\nBefore you rely on this\n");
        for warning in &gate.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text
}

/// The gate as Markdown.
#[must_use]
pub fn gate_markdown(gate: &Gate) -> String {
    let mut text = format!("## {}\n", heading(gate));
    text.push_str(&checks(gate, Form::Markdown));
    for check in gate.checks.iter().filter(|c| c.why.is_some()) {
        text.push_str(&format!("- {}\n", because(check)));
    }
    if let Some(more) = more(gate) {
        text.push_str(&format!("\n{more}\n"));
    }
    if !gate.warnings.is_empty() {
        text.push_str("\n### Before you rely on this\n\n");
        for warning in &gate.warnings {
            text.push_str(&format!("- {}\n", plain(warning)));
        }
    }
    text
}

/// The gate as JUnit XML: a regression is a failure, an inconclusive check an
/// error.
///
/// # Errors
/// If the XML cannot be put together.
pub fn gate_junit(gate: &Gate) -> Result<String, quick_junit::SerializeError> {
    let mut suite = TestSuite::new(plain(&gate.candidate));
    for check in &gate.checks {
        let status = match check.verdict {
            Verdict::Pass => TestCaseStatus::success(),
            Verdict::Regression => status(NonSuccessKind::Failure, check),
            Verdict::Inconclusive => status(NonSuccessKind::Error, check),
        };
        let mut case = TestCase::new(format!("{} ({})", check.name, check.side), status);
        case.set_classname(format!("focuslag.gate.{}", check.table));
        case.set_system_out(found(check));
        suite.add_test_case(case);
    }
    let mut report = Report::new("focuslag gate");
    report.add_test_suite(suite);
    report.to_string()
}

fn status(kind: NonSuccessKind, check: &Check) -> TestCaseStatus {
    let mut status = TestCaseStatus::non_success(kind);
    status.set_type(word(check.verdict));
    status.set_message(match check.why {
        Some(_) => because(check),
        None => found(check),
    });
    status
}

fn heading(gate: &Gate) -> String {
    let verdict = word(gate.verdict).to_uppercase();
    let against = match &gate.baseline {
        Some(baseline) => format!(" against {}", plain(baseline)),
        None => String::new(),
    };
    format!(
        "Gate: {verdict}: {}{against}; latencies {}; {} % intervals; seed {}\n",
        plain(&gate.candidate),
        gate.latencies,
        fixed(gate.confidence * 100.0, 0),
        gate.seed
    )
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "pass",
        Verdict::Regression => "regression",
        Verdict::Inconclusive => "inconclusive",
    }
}

fn checks(gate: &Gate, form: Form) -> String {
    let head = [
        "Check", "Side", "Verdict", "Limit", "Found", "Before", "After", "Trials",
    ];
    let rows: Vec<Vec<String>> = gate
        .checks
        .iter()
        .map(|check| {
            let trials: Vec<String> = check.judged.iter().flatten().map(u64::to_string).collect();
            vec![
                name(check),
                check.side.clone(),
                word(check.verdict).to_owned(),
                limit(check),
                interval(check),
                own(check, check.baseline),
                own(check, check.candidate),
                trials.join(" / "),
            ]
        })
        .collect();
    table(form, &head, &rows, 3)
}

/// What the policy's key means.
fn name(check: &Check) -> String {
    match check.name.as_str() {
        "hit_rate_drop" => "hit rate drop, points".to_owned(),
        "median_slowdown_ms" => "median slowdown, ms".to_owned(),
        "p90_slowdown_ms" => "p90 slowdown, ms".to_owned(),
        "hit_rate" => "hit rate, %".to_owned(),
        "p90_ms" => "p90, ms".to_owned(),
        other => other.to_owned(),
    }
}

fn is_rate(check: &Check) -> bool {
    check.name.starts_with("hit_rate")
}

/// A figure in the check's unit, signed where it is a change.
fn figure(check: &Check, x: Option<f64>) -> String {
    match (is_rate(check), check.table == "change") {
        (true, true) => points(x),
        (true, false) => whole(x.map(|x| x * 100.0)),
        (false, true) => signed(x),
        (false, false) => whole(x),
    }
}

fn own(check: &Check, x: Option<f64>) -> String {
    whole(if is_rate(check) {
        x.map(|x| x * 100.0)
    } else {
        x
    })
}

fn limit(check: &Check) -> String {
    let sign = if check.name == "hit_rate" {
        "≥"
    } else {
        "≤"
    };
    format!(
        "{sign} {}",
        figure(check, Some(check.limit)).trim_start_matches('+')
    )
}

fn interval(check: &Check) -> String {
    with_interval(
        &figure(check, check.value),
        &figure(check, check.low),
        &figure(check, check.high),
    )
}

fn found(check: &Check) -> String {
    let method = if check.method.is_empty() {
        NONE
    } else {
        &check.method
    };
    format!(
        "{}: limit {}, found {}; interval: {method}",
        name(check),
        limit(check),
        interval(check)
    )
}

fn because(check: &Check) -> String {
    format!(
        "{}, {}: {}.",
        name(check),
        check.side,
        check.why.as_deref().unwrap_or_default()
    )
}

fn more(gate: &Gate) -> Option<String> {
    let more = gate.more_trials_per_setup?;
    Some(format!(
        "About {more} more judged trials of each setup, on the side that lacks most, would decide \
         it if the figures stay as they are."
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::compare::Named;
    use crate::stats::fixtures::{clip, swings, timing};
    use crate::stats::gate::{GateOptions, Policy, gate};

    fn sample(scale: f64, trials: u32) -> Gate {
        let setup = |name: &str, scale: f64| {
            let ms: Vec<_> = (0..trials)
                .map(|k| Some(scale * (200.0 + f64::from(k * 37 % 101))))
                .collect();
            timing(name, vec![clip(name, swings(&ms))])
        };
        let (before, after) = (setup("kit <old>", 1.0), setup("kit & new", scale));
        let [a, b] = [&before, &after].map(|timing| Named {
            file: "k.timing.json",
            timing,
        });
        gate(Some(&a), &b, &Policy::default(), &GateOptions::default()).unwrap()
    }

    #[test]
    fn text_fits_and_names_the_verdict() {
        let slow = gate_text(&sample(1.6, 200));
        println!("{slow}");
        assert!(slow.starts_with("Gate: REGRESSION: kit & new against kit <old>"));
        let few = gate_text(&sample(1.0001, 30));
        println!("{few}");
        assert!(few.starts_with("Gate: INCONCLUSIVE"));
        assert!(few.contains("15 judged trials, the policy asks for 20"));
        assert!(few.contains("more judged trials"));
        assert!(
            [slow, few]
                .concat()
                .lines()
                .all(|l| l.chars().count() <= 100)
        );
    }

    #[test]
    fn markdown_holds_the_same_checks() {
        let page = gate_markdown(&sample(1.6, 200));
        assert!(page.starts_with("## Gate: REGRESSION"));
        assert_eq!(page.lines().filter(|l| l.starts_with('|')).count(), 2 + 9);
    }

    #[test]
    fn junit_counts_failures_and_errors() {
        let got = sample(1.6, 200);
        let xml = gate_junit(&got).unwrap();
        let failures = got
            .checks
            .iter()
            .filter(|c| c.verdict == Verdict::Regression)
            .count();
        assert!(failures > 0);
        assert!(
            xml.contains(&format!("failures=\"{failures}\" errors=\"0\"")),
            "{xml}"
        );
        assert!(xml.contains("name=\"kit &amp; new\""), "{xml}");
        let open = gate_junit(&sample(1.0001, 30)).unwrap();
        assert!(
            open.contains("<error") && open.contains("inconclusive"),
            "{open}"
        );
        assert_eq!(open, gate_junit(&sample(1.0001, 30)).unwrap());
    }
}
