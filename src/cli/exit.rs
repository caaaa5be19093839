//! How a command ends.

use std::process::ExitCode;

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
    /// Done; gate: pass.
    Done,
    /// The work failed, in whole or in part. A fault of the program itself
    /// ends this way as well.
    Failed,
    /// The request was wrong, found before anything was decoded.
    Refused,
    /// Gate: regression.
    Regression,
    /// Gate: inconclusive.
    Inconclusive,
}

impl Exit {
    /// The number the process ends with.
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Failed => 1,
            Self::Refused => 2,
            Self::Regression => 3,
            Self::Inconclusive => 4,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
