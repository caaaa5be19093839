//! How many trials tell two setups apart.
//!
//! Hit rates: normal approximation with the continuity correction of Fleiss,
//! Tytun & Ury 1980, Biometrics 36:343. Latencies: the rank test, Noether 1987,
//! J. Am. Stat. Assoc. 82:645, for a shift between two normal laws of the given
//! spread (the number is safe for skewed laws, where ranks do better).

use serde::Serialize;

use crate::stats::normal::{below, quantile, two_sided_z};

use super::floor::percent;
use super::{PlanError, within};

/// Two hit rates, above 0 and below 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rates {
    /// One setup's.
    pub hit_rate: f64,
    /// The other's.
    pub versus: f64,
}

/// Two sets of latencies of one spread.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Latencies {
    /// Standard deviation of one setup's latencies, ms.
    pub spread_ms: f64,
    /// Shift to be told, ms.
    pub detect_ms: f64,
}

/// How surely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Two-sided confidence.
    pub confidence: f64,
    /// Power.
    pub power: f64,
}

/// A number of trials and where it comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trials {
    /// `hit rate`, `floor`, `latency` (of the hits) or `time to focus` (of all
    /// trials).
    pub question: String,
    /// Judged trials per setup, per side where sides are judged apart.
    pub trials_per_setup: u64,
    /// Before rounding up.
    pub exact: f64,
    /// The method, in words.
    pub method: String,
    /// What they do, in words: `tell 90 % from 75 %`.
    pub effect: String,
}

/// What a given number of trials can show.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shows {
    /// Judged trials per setup.
    pub trials_per_setup: u64,
    /// Half-width of the interval of a hit rate of one half (the widest).
    pub hit_rate_within: f64,
    /// The hit rate it drops from: the named one, 0.9 where none.
    pub from_hit_rate: f64,
    /// Smallest drop from that hit rate told with the power asked for; null if even none at all would not be.
    pub hit_rate_drop: Option<f64>,
    /// Smallest shift told, ms; null without a spread.
    pub shift_ms: Option<f64>,
    /// Smallest shift told, in standard deviations.
    pub shift_in_spreads: f64,
}

impl Level {
    fn z(self) -> (f64, f64) {
        (two_sided_z(self.confidence), quantile(self.power))
    }
}

/// Largest number of trials that is still a plan.
const MOST: f64 = 1e6;

/// Trials per setup to tell two hit rates apart.
///
/// # Errors
/// Rates outside 0..1 or too close to be told apart.
pub fn for_rates(rates: Rates, level: Level) -> Result<Trials, PlanError> {
    within("hit-rate", rates.hit_rate, 0.001, 0.999, "")?;
    within("versus", rates.versus, 0.001, 0.999, "")?;
    let exact = fleiss(rates.hit_rate, rates.versus, level);
    rounded(
        "hit rate",
        "versus",
        exact,
        "two proportions, Fleiss with continuity correction",
        &format!(
            "tell a hit rate of {} % from {} %",
            percent(rates.hit_rate),
            percent(rates.versus)
        ),
    )
}

/// Trials per setup to tell a shift of latency.
///
/// # Errors
/// A spread or a shift that is not above 0, or a shift too small for any plan.
pub fn for_latencies(latencies: Latencies, level: Level) -> Result<Trials, PlanError> {
    within("spread-ms", latencies.spread_ms, 0.01, 60_000.0, " ms")?;
    within("detect-ms", latencies.detect_ms, 0.01, 60_000.0, " ms")?;
    let exact = noether(latencies.detect_ms / latencies.spread_ms, level);
    rounded(
        "latency",
        "detect-ms",
        exact,
        "rank test, Noether, normal shift",
        &format!("see that hits are {} ms apart", latencies.detect_ms),
    )
}

/// A number of trials from its exact value.
pub(super) fn rounded(
    question: &str,
    key: &'static str,
    exact: f64,
    method: &str,
    effect: &str,
) -> Result<Trials, PlanError> {
    if !exact.is_finite() || exact > MOST {
        return Err(PlanError::new(
            key,
            "the two are too close: no practical number of trials tells them apart",
        ));
    }
    Ok(Trials {
        question: question.to_owned(),
        trials_per_setup: (exact.ceil() as u64).max(crate::stats::compare::MIN_JUDGED),
        exact,
        method: method.to_owned(),
        effect: effect.to_owned(),
    })
}

/// Continuity-corrected number per group.
fn fleiss(p1: f64, p2: f64, level: Level) -> f64 {
    let (za, zb) = level.z();
    let delta = (p1 - p2).abs();
    let mean = f64::midpoint(p1, p2);
    let spread =
        za * (2.0 * mean * (1.0 - mean)).sqrt() + zb * (p1 * (1.0 - p1) + p2 * (1.0 - p2)).sqrt();
    let n = (spread / delta).powi(2);
    n / 4.0 * (1.0 + (1.0 + 4.0 / (n * delta)).sqrt()).powi(2)
}

/// Number per group for a shift of `d` standard deviations.
fn noether(d: f64, level: Level) -> f64 {
    let (za, zb) = level.z();
    let p = below(d / std::f64::consts::SQRT_2);
    // Half of all trials in either group: total (za+zb)² / (12·¼·(p−½)²).
    (za + zb).powi(2) / (6.0 * (p - 0.5).powi(2))
}

/// What `n` judged trials per setup can show; `times` as many are needed as for
/// a single look.
///
/// # Errors
/// Fewer trials than any verdict needs, or a spread out of range.
pub fn shows(
    n: u64,
    times: f64,
    rates: Option<Rates>,
    spread_ms: Option<f64>,
    level: Level,
) -> Result<Shows, PlanError> {
    let fewest = crate::stats::compare::MIN_JUDGED;
    within("trials", n as f64, fewest as f64, MOST, " per setup")?;
    let worth = n as f64 / times;
    let (low, high) =
        crate::stats::binomial::wilson_z(worth / 2.0, worth, two_sided_z(level.confidence));
    let from = rates.map_or(0.9, |r| r.hit_rate);
    let drop = bisect(0.0, from - 0.001, |drop| {
        fleiss(from, from - drop, level) <= worth
    });
    let shift = bisect(0.0, 20.0, |d| noether(d, level) <= worth);
    let in_spreads = shift.unwrap_or(f64::INFINITY);
    Ok(Shows {
        trials_per_setup: n,
        hit_rate_within: (high - low) / 2.0,
        from_hit_rate: from,
        hit_rate_drop: drop,
        shift_ms: spread_ms
            .map(|ms| within("spread-ms", ms, 0.01, 60_000.0, " ms"))
            .transpose()?
            .map(|spread| spread * in_spreads),
        shift_in_spreads: in_spreads,
    })
}

/// Smallest value at which a rising condition holds; `None` if it never does.
fn bisect(low: f64, high: f64, holds: impl Fn(f64) -> bool) -> Option<f64> {
    if !holds(high) {
        return None;
    }
    let (mut low, mut high) = (low, high);
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if holds(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(power: f64) -> Level {
        Level {
            confidence: 0.95,
            power,
        }
    }

    /// Zar 1999, example 24.26 (127.2343, from the printed source as quoted);
    /// the others confirmed by arithmetic on R 4.2.2 `power.prop.test`.
    #[test]
    fn fleiss_with_continuity_correction() {
        let rows = [
            (0.50, 0.75, 0.9, 84.517_619, 85),
            (0.60, 0.80, 0.8, 90.949_362, 91),
            (0.90, 0.80, 0.8, 218.505_759, 219),
            (0.95, 0.85, 0.8, 159.468_005, 160),
            (0.65, 0.85, 0.8, 82.088_461, 83),
            (0.45, 0.25, 0.9, 127.234_251_699, 128),
        ];
        for (hit_rate, versus, power, exact, n) in rows {
            let got = for_rates(Rates { hit_rate, versus }, level(power)).unwrap();
            assert!((got.exact - exact).abs() < 1e-5, "{got:?}");
            assert_eq!(got.trials_per_setup, n);
        }
    }

    /// Noether 1987 by closed form; p = 0.7 is the example of R statpsych
    /// (44 per group at power 0.9).
    #[test]
    fn noether_for_the_rank_test() {
        let shift = |p: f64| quantile(p) * std::f64::consts::SQRT_2;
        let rows = [
            (0.60, 0.8, 261.629_324_5 / 2.0, 131),
            (0.65, 0.8, 116.279_699_8 / 2.0, 59),
            (0.70, 0.8, 65.407_331_12 / 2.0, 33),
            (0.75, 0.8, 41.860_691_92 / 2.0, 21),
            (0.80, 0.8, 29.069_924_94 / 2.0, 15),
            (0.70, 0.9, 87.561_858_85 / 2.0, 44),
        ];
        for (p, power, exact, n) in rows {
            let latencies = Latencies {
                spread_ms: 100.0,
                detect_ms: 100.0 * shift(p),
            };
            let got = for_latencies(latencies, level(power)).unwrap();
            assert!((got.exact - exact).abs() < 1e-6, "{got:?}");
            assert_eq!(got.trials_per_setup, n);
        }
    }

    #[test]
    fn a_number_of_trials_shows_what_it_was_planned_for() {
        let rates = Rates {
            hit_rate: 0.9,
            versus: 0.8,
        };
        let latencies = Latencies {
            spread_ms: 120.0,
            detect_ms: 40.0,
        };
        let got = shows(219, 1.0, Some(rates), Some(120.0), level(0.8)).unwrap();
        assert!((got.hit_rate_drop.unwrap() - 0.1).abs() < 1e-3, "{got:?}");
        let n = for_latencies(latencies, level(0.8))
            .unwrap()
            .trials_per_setup;
        let got = shows(n, 1.0, None, Some(120.0), level(0.8)).unwrap();
        assert!((got.shift_ms.unwrap() - 40.0).abs() < 0.5, "{got:?}");
    }

    #[test]
    fn impossible_questions_are_refused() {
        let rates = |hit_rate, versus| for_rates(Rates { hit_rate, versus }, level(0.8));
        assert_eq!(rates(1.2, 0.5).unwrap_err().key, "hit-rate");
        assert!(rates(0.5, 0.5).is_err() && rates(f64::NAN, 0.5).is_err());
        let latencies = Latencies {
            spread_ms: 0.0,
            detect_ms: 5.0,
        };
        assert_eq!(
            for_latencies(latencies, level(0.8)).unwrap_err().key,
            "spread-ms"
        );
        assert!(shows(3, 1.0, None, None, level(0.8)).is_err());
    }
}
