//! What one more session shows against several of the same kit.

use serde::Serialize;

use crate::stats::repeat::smallest_change;

use super::sizes::Level;
use super::{PlanError, within};

/// A baseline of several sessions, and what scatters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SessionsQuestion {
    /// Sessions of the baseline, 3..=100.
    pub sessions: u64,
    /// Standard deviation between sessions, ms.
    pub between_ms: f64,
    /// Standard deviation of single trials within a session, ms.
    pub spread_ms: f64,
    /// Judged trials of a session.
    pub trials: u64,
}

/// What one more session shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sessions {
    /// Sessions of the baseline.
    pub sessions: u64,
    /// Judged trials of a session.
    pub trials_per_session: u64,
    /// Standard deviation of a session's mean, ms.
    pub session_mean_sd_ms: f64,
    /// Smallest change of the mean that is shown with the power asked for, ms.
    pub smallest_change_ms: f64,
    /// The same with any number of trials in every session, ms.
    pub with_endless_trials_ms: f64,
}

/// What one more session of this size shows.
///
/// # Errors
/// A value outside its range.
pub fn sessions(question: &SessionsQuestion, level: Level) -> Result<Sessions, PlanError> {
    within("sessions", question.sessions as f64, 3.0, 100.0, "")?;
    within("between-ms", question.between_ms, 0.0, 60_000.0, " ms")?;
    within("spread-ms", question.spread_ms, 0.01, 60_000.0, " ms")?;
    within("trials", question.trials as f64, 1.0, 1e6, " per session")?;
    let mean_sd = question
        .between_ms
        .hypot(question.spread_ms / (question.trials as f64).sqrt());
    let times = smallest_change(question.sessions, level.confidence, level.power)
        .ok_or_else(|| PlanError::new("sessions", "too few"))?;
    Ok(Sessions {
        sessions: question.sessions,
        trials_per_session: question.trials,
        session_mean_sd_ms: mean_sd,
        smallest_change_ms: times * mean_sd,
        with_endless_trials_ms: times * question.between_ms,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By arithmetic: (2.776 + 0.941) of Student's t with 4 degrees of freedom
    /// (any printed table), √(1 + 1/5), √(15² + 80² ÷ 30).
    #[test]
    fn between_and_within_add_up() {
        let level = Level {
            confidence: 0.95,
            power: 0.8,
        };
        let question = SessionsQuestion {
            sessions: 5,
            between_ms: 15.0,
            spread_ms: 80.0,
            trials: 30,
        };
        let got = sessions(&question, level).unwrap();
        let mean_sd = (225.0f64 + 6400.0 / 30.0).sqrt();
        assert!((got.session_mean_sd_ms - mean_sd).abs() < 1e-9, "{got:?}");
        assert!(
            (got.smallest_change_ms - 3.717 * 1.2f64.sqrt() * mean_sd).abs() < 0.05,
            "{got:?}"
        );
        let few = SessionsQuestion {
            sessions: 2,
            ..question
        };
        assert_eq!(sessions(&few, level).unwrap_err().key, "sessions");
    }
}
