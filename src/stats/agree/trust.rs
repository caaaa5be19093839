//! How far the screen may be trusted.
//!
//! With the photograph as the truth these are the predictive values of Altman &
//! Bland 1994, BMJ 309:102. They hold for a session like this one: where more
//! of the photographs are good, more of the hits are.

use super::super::summary::rate;
use super::Counts;
use crate::store::schema::Rate;

/// A share of trials.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Share {
    /// Trials that count.
    pub count: u64,
    /// Out of these.
    pub of: u64,
    /// The share, 0..=1, with its Wilson interval.
    pub rate: Rate,
}

/// What a verdict on the screen is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Trust {
    /// Of the screen's hits, those with a good photograph; `None` without a hit.
    pub hits_good: Option<Share>,
    /// Of the screen's misses, those with a bad photograph; `None` without one.
    pub misses_bad: Option<Share>,
}

/// Both shares, intervals at `confidence`.
pub(super) fn trust(counts: &Counts, confidence: f64) -> Trust {
    let share = |count, other| share(count, count + other, confidence);
    Trust {
        hits_good: share(counts.hit_good, counts.hit_bad),
        misses_bad: share(counts.miss_bad, counts.miss_good),
    }
}

/// `count` in `of`; `None` of none.
pub(super) fn share(count: u64, of: u64, confidence: f64) -> Option<Share> {
    let rate = rate(count, of, confidence)?;
    Some(Share { count, of, rate })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limits by running statsmodels 0.15.0 `proportion_confint` (wilson).
    #[test]
    fn shares_of_hits_and_of_misses() {
        let counts = Counts {
            hit_good: 20,
            hit_bad: 5,
            miss_good: 10,
            miss_bad: 15,
        };
        let got = trust(&counts, 0.95);
        let rows = [
            (
                got.hits_good.unwrap(),
                20,
                0.8,
                0.608_690_496_305,
                0.911_394_153_132,
            ),
            (
                got.misses_bad.unwrap(),
                15,
                0.6,
                0.407_394_573_590,
                0.765_966_976_223,
            ),
        ];
        for (share, count, value, low, high) in rows {
            assert_eq!((share.count, share.of), (count, 25));
            assert!((share.rate.value - value).abs() < 1e-12);
            assert!((share.rate.low - low).abs() < 1e-9, "{share:?}");
            assert!((share.rate.high - high).abs() < 1e-9, "{share:?}");
        }
    }

    #[test]
    fn of_no_misses_there_is_no_share() {
        let counts = Counts {
            hit_good: 4,
            hit_bad: 1,
            ..Counts::default()
        };
        let got = trust(&counts, 0.95);
        assert_eq!(got.misses_bad, None);
        assert_eq!(got.hits_good.map(|s| (s.count, s.of)), Some((4, 5)));
    }
}
