//! A gate as JUnit XML.

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};

use crate::stats::gate::{Check, Gate, Verdict};

use super::gate::{found, word};
use super::gate_reason::{because, headline};
use super::words::plain;

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
            Verdict::Regression => status(NonSuccessKind::Failure, check, gate),
            Verdict::Inconclusive => status(NonSuccessKind::Error, check, gate),
        };
        let mut case = TestCase::new(format!("{} ({})", check.name, check.side), status);
        case.set_classname(format!("focuslag.gate.{}", check.table));
        case.set_system_out(found(check));
        suite.add_test_case(case);
    }
    suite.set_system_out(headline(gate));
    let mut report = Report::new("focuslag gate");
    report.add_test_suite(suite);
    report.to_string()
}

fn status(kind: NonSuccessKind, check: &Check, gate: &Gate) -> TestCaseStatus {
    let mut status = TestCaseStatus::non_success(kind);
    status.set_type(word(check.verdict));
    status.set_message(because(check, gate));
    status
}
