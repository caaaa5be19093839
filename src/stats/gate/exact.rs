//! The earliest time a quantile may have, by the order statistics alone.
//!
//! Source: distribution-free limits of a quantile, David & Nagaraja 2003,
//! *Order Statistics*, section 7.1: the number of trials later than the true
//! quantile is binomial. Held besides the limits of the curve, so that a setup
//! exactly at its limit is not called slow more often than agreed.

use statrs::distribution::{Binomial, DiscreteCDF};

use super::super::survival::Watched;

/// The first instant at which too few trials are known to be later than it for
/// the quantile `p` to be later still, ms, with `tail` as the chance to be
/// wrong; `None` where it is later than all that was watched.
///
/// A trial that was not watched so long counts as one in focus.
pub(super) fn earliest(sides: &[&[Watched]], p: f64, tail: f64) -> Option<f64> {
    let all: Vec<Watched> = sides.iter().flat_map(|s| s.iter().copied()).collect();
    let law = Binomial::new(1.0 - p, all.len() as u64).ok()?;
    let could_be = |later: usize| {
        let at_least = match later.checked_sub(1) {
            None => 1.0,
            Some(fewer) => law.sf(fewer as u64),
        };
        at_least > tail
    };
    if could_be(all.len()) {
        return Some(0.0);
    }
    let mut times: Vec<f64> = all.iter().filter(|w| w.hit).map(|w| w.ms).collect();
    times.sort_by(f64::total_cmp);
    times.into_iter().find(|&ms| {
        let later = |w: &&Watched| w.ms > ms || (!w.hit && w.ms >= ms);
        could_be(all.iter().filter(later).count())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trials(hits: u32, misses: u32) -> Vec<Watched> {
        let hit = (1..=hits).map(|k| Watched {
            ms: f64::from(100 * k),
            hit: true,
        });
        let miss = (0..misses).map(|_| Watched {
            ms: 5000.0,
            hit: false,
        });
        hit.chain(miss).collect()
    }

    /// Binomial tails of 20 trials at 0.1, by the formula: P(X >= 5) = 0.0432,
    /// P(X >= 6) = 0.0113.
    #[test]
    fn six_later_of_twenty_are_too_many_for_a_tenth() {
        assert_eq!(earliest(&[&trials(14, 6)], 0.9, 0.025), None);
        assert_eq!(earliest(&[&trials(15, 5)], 0.9, 0.025), Some(1500.0));
        assert_eq!(earliest(&[&trials(20, 0)], 0.9, 0.025), Some(1500.0));
        let (near, far) = (trials(7, 3), trials(7, 3));
        assert_eq!(earliest(&[&near, &far], 0.9, 0.025), None);
    }

    /// One trial in focus late has a chance of 0.1, two of 0.01.
    #[test]
    fn one_trial_shows_nothing() {
        assert_eq!(earliest(&[&trials(0, 1)], 0.9, 0.025), Some(0.0));
        assert_eq!(earliest(&[&trials(0, 2)], 0.9, 0.025), None);
        assert_eq!(earliest(&[], 0.9, 0.025), Some(0.0));
    }
}
