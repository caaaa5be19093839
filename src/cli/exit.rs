//! How a command ends.

use std::process::ExitCode;

use crate::written::Faults;

/// The exit codes, fixed for scripts.
///
/// | code | meaning |
/// | --- | --- |
/// | 0 | done; gate: pass |
/// | 1 | the work failed: a clip that cannot be read or judged, no trial at all, disk full |
/// | 2 | the request was wrong: the command line, a TOML or timing file, a rate nobody can know |
/// | 3 | gate: regression |
/// | 4 | gate: inconclusive |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    Done = 0,
    /// In whole or in part. A fault of the program itself ends this way as well.
    Failed = 1,
    /// Found before anything was decoded.
    Refused = 2,
    Regression = 3,
    Inconclusive = 4,
}

impl Exit {
    /// Done, unless some of the work failed.
    pub fn unless(failed: bool) -> Self {
        if failed { Self::Failed } else { Self::Done }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// What ends a command early: how, and the errors that are told.
pub struct Stop(pub Exit, pub Vec<String>);

/// The work failed.
pub fn failed(error: impl ToString) -> Stop {
    Stop(Exit::Failed, vec![error.to_string()])
}

/// The request was wrong.
pub fn refused(error: impl ToString) -> Stop {
    vec![error.to_string()].into()
}

/// Refuses a request of which anything is wrong.
pub fn refuse(wrong: impl IntoIterator<Item = String>) -> Result<(), Stop> {
    let wrong: Vec<String> = wrong.into_iter().collect();
    if wrong.is_empty() {
        return Ok(());
    }
    Err(wrong.into())
}

impl From<String> for Stop {
    fn from(error: String) -> Self {
        vec![error].into()
    }
}

impl From<Vec<String>> for Stop {
    fn from(errors: Vec<String>) -> Self {
        Self(Exit::Refused, errors)
    }
}

impl From<Faults> for Stop {
    fn from(faults: Faults) -> Self {
        let lines: Vec<String> = faults.list.iter().map(ToString::to_string).collect();
        lines.into()
    }
}
