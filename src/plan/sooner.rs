//! How many trials until the verdict "sooner" (log-rank on time to focus) is
//! given for a shift of latency.
//!
//! Drift and variance of the log-rank statistic for two given laws, Schoenfeld
//! 1981, Biometrika 68:316 (cited from memory), integrated numerically. The law
//! is log-normal, right-skewed as focusing is; a constant shift shows late in
//! such a law, where the log-rank test weighs less, so more trials are needed
//! than for the rank test on hits.

use crate::stats::normal::{below, quantile, two_sided_z};

use super::PlanError;
use super::sizes::{Latencies, Level, Trials, for_latencies, rounded};

/// Standard deviation of the logarithm of latency: common practice, no source.
const LOG_SD: f64 = 0.35;
/// Steps of the integral.
const STEPS: u32 = 4000;

/// Trials per setup until `compare` calls one setup sooner.
///
/// # Errors
/// As [`for_latencies`].
pub fn for_sooner(latencies: Latencies, level: Level) -> Result<Trials, PlanError> {
    for_latencies(latencies, level)?;
    rounded(
        "time to focus",
        "detect-ms",
        log_rank_trials(latencies, level),
        "log-rank, right-skewed latencies",
        &format!(
            "call a kit sooner that is {} ms quicker",
            latencies.detect_ms
        ),
    )
}

/// Judged trials per setup, before rounding up.
fn log_rank_trials(latencies: Latencies, level: Level) -> f64 {
    let (drift, variance) = per_trial(latencies.detect_ms / latencies.spread_ms);
    let z = two_sided_z(level.confidence) + quantile(level.power);
    z.powi(2) * variance / drift.powi(2)
}

/// Drift and variance of the statistic per trial and group, the shift being
/// `shift` standard deviations of the law.
fn per_trial(shift: f64) -> (f64, f64) {
    // A log-normal law of unit median, its standard deviation as unit of shift.
    let v = LOG_SD * LOG_SD;
    let spread = (v / 2.0).exp() * (v.exp() - 1.0).sqrt();
    let by = shift * spread;
    let end = (5.0 * LOG_SD).exp() + by;
    let step = end / f64::from(STEPS);
    let (mut drift, mut variance) = (0.0, 0.0);
    let mut before = (1.0, 1.0);
    for k in 1..=STEPS {
        let t = f64::from(k) * step;
        let now = (later(t), later(t - by));
        let (settled_a, settled_b) = (before.0 - now.0, before.1 - now.1);
        let at_risk = before.0 + before.1;
        if at_risk > 1e-9 {
            let settled = settled_a + settled_b;
            drift += settled_a - settled * before.0 / at_risk;
            variance += settled * before.0 * before.1 / at_risk.powi(2);
        }
        before = now;
    }
    (drift, variance)
}

/// Share of the law beyond `t` medians.
fn later(t: f64) -> f64 {
    if t <= 0.0 {
        1.0
    } else {
        1.0 - below(t.ln() / LOG_SD)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Level = Level {
        confidence: 0.95,
        power: 0.8,
    };

    #[test]
    fn a_smaller_shift_or_more_power_needs_more() {
        let n = |detect_ms, level| {
            log_rank_trials(
                Latencies {
                    spread_ms: 100.0,
                    detect_ms,
                },
                level,
            )
        };
        assert!(n(30.0, LEVEL) > n(50.0, LEVEL));
        let sure = Level {
            power: 0.95,
            ..LEVEL
        };
        let more = n(50.0, sure) / n(50.0, LEVEL);
        // (1.960 + 1.645)² ÷ (1.960 + 0.842)².
        assert!((more - 1.655).abs() < 0.01, "{more}");
    }

    /// Small shifts: the number goes with the inverse square.
    #[test]
    fn halving_a_small_shift_takes_four_times_as_many() {
        let n = |shift: f64| {
            let (drift, variance) = per_trial(shift);
            variance / drift.powi(2)
        };
        let ratio = n(0.05) / n(0.1);
        assert!((3.6..4.2).contains(&ratio), "{ratio}");
    }
}
