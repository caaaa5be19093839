//! How many trials show that a setup reaches a hit rate.
//!
//! Shown means: the lower limit of the score interval (Wilson 1927, J. Am. Stat.
//! Assoc. 22:209) lies at or above the floor, as the gate asks. How often that
//! happens is a binomial sum, taken exactly; it rises in teeth, so the number
//! given is the first from which on it never falls below the power again.

use serde::Serialize;
use statrs::distribution::{Binomial, DiscreteCDF};

use crate::stats::binomial::wilson_z;
use crate::stats::normal::{quantile, two_sided_z};

use super::sizes::{Level, Trials, rounded};
use super::{PlanError, within};

/// A setup's hit rate, and the floor it is to be shown to reach.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Floor {
    /// The setup's own, above 0 and below 1.
    pub hit_rate: f64,
    /// The floor, below it.
    pub at_least: f64,
}

/// Most trials that are tried out.
const MOST: u64 = 100_000;

/// Trials per setup until its interval lies above the floor.
///
/// # Errors
/// Rates outside 0..1, or a floor that is not below the rate by enough.
pub fn for_floor(floor: Floor, level: Level) -> Result<Trials, PlanError> {
    within("hit-rate", floor.hit_rate, 0.001, 0.999, "")?;
    within("at-least", floor.at_least, 0.001, 0.999, "")?;
    let room = floor.hit_rate - floor.at_least;
    if room <= 0.0 {
        let message = "must lie below --hit-rate: no number of trials shows a floor that the kit \
            does not clear";
        return Err(PlanError::new("at-least", message));
    }
    // Normal approximation, twice as far: beyond it the teeth never bite.
    let z = two_sided_z(level.confidence) + quantile(level.power);
    let about = (z / room).powi(2) * 0.25;
    let end = (2.0 * about + 100.0).ceil() as u64;
    let short = (end <= MOST)
        .then(|| {
            (1..=end)
                .rev()
                .find(|&n| power(floor, n, level) < level.power)
        })
        .map(|last| last.unwrap_or(0));
    rounded(
        "floor",
        "at-least",
        short.map_or(f64::INFINITY, |n| (n + 1) as f64),
        "score interval above the floor, exact binomial sum",
        &format!(
            "show that a kit that hits {} % reaches {} %",
            percent(floor.hit_rate),
            percent(floor.at_least)
        ),
    )
}

/// Chance that `n` trials show the floor to be reached.
fn power(floor: Floor, n: u64, level: Level) -> f64 {
    let z = two_sided_z(level.confidence);
    let reaches = |hits: u64| wilson_z(hits as f64, n as f64, z).0 >= floor.at_least;
    if !reaches(n) {
        return 0.0;
    }
    // The lower limit rises with the hits.
    let (mut too_few, mut enough) = (0, n);
    while enough - too_few > 1 {
        let middle = too_few + (enough - too_few) / 2;
        if reaches(middle) {
            enough = middle;
        } else {
            too_few = middle;
        }
    }
    Binomial::new(floor.hit_rate, n).map_or(0.0, |law| law.sf(enough - 1))
}

pub(super) fn percent(share: f64) -> String {
    let text = format!("{:.1}", share * 100.0);
    text.trim_end_matches(".0").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Level = Level {
        confidence: 0.95,
        power: 0.8,
    };

    /// The sum written out: of 12 trials all must hit to show 70 % (Wilson: 12
    /// of 12 gives 75.7 %, 11 of 12 gives 64.6 %), which 90 % does 0.9^12 times.
    #[test]
    fn the_chance_is_the_binomial_sum() {
        let floor = Floor {
            hit_rate: 0.9,
            at_least: 0.7,
        };
        assert!((power(floor, 12, LEVEL) - 0.9f64.powi(12)).abs() < 1e-12);
        assert_eq!(power(floor, 5, LEVEL), 0.0);
    }

    #[test]
    fn the_number_is_the_first_that_stays_above_the_power() {
        let floor = Floor {
            hit_rate: 0.9,
            at_least: 0.7,
        };
        let n = for_floor(floor, LEVEL).unwrap().trials_per_setup;
        assert!((20..80).contains(&n), "{n}");
        assert!((n..n + 200).all(|n| power(floor, n, LEVEL) >= 0.8));
        assert!(power(floor, n - 1, LEVEL) < 0.8);
        let near = Floor {
            hit_rate: 0.9,
            at_least: 0.85,
        };
        assert!(for_floor(near, LEVEL).unwrap().trials_per_setup > 4 * n);
    }

    #[test]
    fn a_floor_above_the_rate_is_refused() {
        let floor = |at_least| Floor {
            hit_rate: 0.9,
            at_least,
        };
        assert_eq!(for_floor(floor(0.9), LEVEL).unwrap_err().key, "at-least");
        assert!(for_floor(floor(0.8999), LEVEL).is_err());
    }
}
