//! Two hit rates: their difference with its interval.
//!
//! Sources: Newcombe 1998, Stat. Med. 17:873, method 10 (score limits of each
//! rate, recovered variances, no continuity correction). Over strata the same
//! recovery of variances for a weighted sum of rates, Zou & Donner 2008, Stat.
//! Med. 27:1693, with the weights of Mantel & Haenszel; one stratum gives
//! Newcombe's interval exactly.

use super::binomial::wilson_z;
use super::normal::two_sided_z;

/// Hits among judged trials.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Arm {
    /// Hits.
    pub hits: u64,
    /// Judged trials.
    pub n: u64,
}

/// A difference a − b with its two-sided interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// a − b.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// Rate of `a` less rate of `b`; strata in which either has no trial say
/// nothing and are left out. `None` if none is left.
pub fn rate_difference(strata: &[(Arm, Arm)], confidence: f64) -> Option<Difference> {
    let z = two_sided_z(confidence);
    let used: Vec<_> = strata
        .iter()
        .filter(|(a, b)| a.n > 0 && b.n > 0)
        .map(|&(a, b)| (a, b, weight(a, b)))
        .collect();
    let total: f64 = used.iter().map(|u| u.2).sum();
    if total <= 0.0 {
        return None;
    }
    let (mut value, mut below, mut above) = (0.0, 0.0, 0.0);
    for (a, b, w) in used {
        let w = w / total;
        let (pa, la, ua) = score(a, z);
        let (pb, lb, ub) = score(b, z);
        value += w * (pa - pb);
        below += w * w * ((pa - la).powi(2) + (ub - pb).powi(2));
        above += w * w * ((ua - pa).powi(2) + (pb - lb).powi(2));
    }
    Some(Difference {
        value,
        low: value - below.sqrt(),
        high: value + above.sqrt(),
    })
}

/// Mantel–Haenszel weight of a stratum.
pub fn weight(a: Arm, b: Arm) -> f64 {
    let (na, nb) = (a.n as f64, b.n as f64);
    if na + nb == 0.0 {
        0.0
    } else {
        na * nb / (na + nb)
    }
}

fn score(arm: Arm, z: f64) -> (f64, f64, f64) {
    let (low, high) = wilson_z(arm.hits as f64, arm.n as f64, z);
    (arm.hits as f64 / arm.n as f64, low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn arm(hits: u64, n: u64) -> Arm {
        Arm { hits, n }
    }

    /// Newcombe 1998, table II, examples (a) to (h), method 10, from the
    /// printed source; all digits confirmed by running statsmodels 0.15.0
    /// `confint_proportions_2indep(method = "newcomb")`.
    #[test]
    fn newcombe_1998_table_2() {
        let rows = [
            (56, 70, 48, 80, 0.052_431_472_4, 0.333_872_654_0),
            (9, 10, 3, 10, 0.170_522_723_9, 0.809_017_973_5),
            (6, 7, 2, 7, 0.058_227_927_5, 0.806_249_637_5),
            (5, 56, 0, 29, -0.038_137_147_9, 0.192_560_013_9),
            (0, 10, 0, 20, -0.161_125_158_1, 0.277_532_799_9),
            (0, 10, 0, 10, -0.277_532_799_9, 0.277_532_799_9),
            (10, 10, 0, 20, 0.679_086_037_1, 1.0),
            (10, 10, 0, 10, 0.607_509_350_4, 1.0),
            (23, 60, 18, 72, -0.024_627_833_6, 0.286_071_291_0),
        ];
        for (x1, n1, x2, n2, low, high) in rows {
            let d = rate_difference(&[(arm(x1, n1), arm(x2, n2))], 0.95).unwrap();
            assert!((d.low - low).abs() < 1e-9, "{x1}/{n1}: {d:?}");
            assert!((d.high - high).abs() < 1e-9, "{x1}/{n1}: {d:?}");
        }
    }

    #[test]
    fn empty_strata_say_nothing() {
        assert_eq!(rate_difference(&[(arm(0, 0), arm(3, 5))], 0.95), None);
        let one = rate_difference(&[(arm(3, 9), arm(4, 8))], 0.95);
        let same = rate_difference(&[(arm(3, 9), arm(4, 8)), (arm(0, 0), arm(1, 1))], 0.95);
        assert_eq!(one, same);
    }

    proptest! {
        #[test]
        fn swapping_flips_the_signs(x in prop::collection::vec((0u64..9, 0u64..9, 0u64..9, 0u64..9), 1..4)) {
            let strata: Vec<_> = x.iter().map(|&(a, b, c, d)| (arm(a, a + b), arm(c, c + d))).collect();
            let swapped: Vec<_> = strata.iter().map(|&(a, b)| (b, a)).collect();
            match (rate_difference(&strata, 0.9), rate_difference(&swapped, 0.9)) {
                (Some(d), Some(e)) => {
                    prop_assert!((d.value + e.value).abs() < 1e-12);
                    prop_assert!((d.low + e.high).abs() < 1e-12);
                    prop_assert!(d.low <= d.value && d.value <= d.high);
                    prop_assert!(d.low >= -1.0 - 1e-12 && d.high <= 1.0 + 1e-12);
                }
                (d, e) => prop_assert!(d.is_none() && e.is_none()),
            }
        }
    }
}
