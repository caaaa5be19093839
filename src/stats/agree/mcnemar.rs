//! Is one of the two judges the stricter one?
//!
//! Source: McNemar 1947, Psychometrika 12:153. Only the trials on which the two
//! differ tell: without a difference between the judges each is as likely to go
//! one way as the other. Exact p: both tails of the binomial law with 1/2, the
//! smaller one doubled, at most 1. Beside it chi-square with the continuity
//! correction of Edwards 1948, Psychometrika 13:185.

use statrs::distribution::{Binomial, DiscreteCDF};

use super::super::normal::two_sided_p;
use super::Counts;

/// Outcome of McNemar's test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct McNemar {
    /// Hits on the screen with a bad photograph.
    pub screen_only: u64,
    /// Good photographs without a hit on the screen.
    pub photograph_only: u64,
    /// Exact two-sided p-value. For few trials this is the one to go by.
    pub exact_p: f64,
    /// By chi-square.
    pub corrected: Corrected,
}

/// Chi-square of one degree of freedom, corrected for continuity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Corrected {
    /// (|b − c| − 1)² ÷ (b + c), 0 where b = c.
    pub chi_square: f64,
    /// Its p-value.
    pub p: f64,
}

/// Tests whether both judge as strictly; `None` where they never differ.
pub(super) fn test(counts: &Counts) -> Option<McNemar> {
    let (b, c) = (counts.hit_bad, counts.miss_good);
    let law = Binomial::new(0.5, b + c).ok().filter(|_| b + c > 0)?;
    let off = (b.abs_diff(c) as f64 - 1.0).max(0.0);
    let chi_square = off * off / (b + c) as f64;
    Some(McNemar {
        screen_only: b,
        photograph_only: c,
        exact_p: (2.0 * law.cdf(b.min(c))).min(1.0),
        corrected: Corrected {
            chi_square,
            p: two_sided_p(chi_square.sqrt()),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tested(b: u64, c: u64) -> McNemar {
        let counts = Counts {
            hit_good: 794,
            hit_bad: b,
            miss_good: c,
            miss_bad: 570,
        };
        test(&counts).unwrap()
    }

    /// Approval ratings, Agresti 1990, *Categorical Data Analysis*, p. 350:
    /// 17.36 without the correction (from memory; Penn State's course STAT 504
    /// prints 17.3559 for it). The statistic without correction follows from
    /// the two counts that are handed on.
    #[test]
    fn approval_ratings_as_published() {
        let got = tested(150, 86);
        let off = got.screen_only.abs_diff(got.photograph_only) as f64;
        let plain = off * off / (got.screen_only + got.photograph_only) as f64;
        assert!((plain - 17.3559).abs() < 5e-5, "{plain}");
        assert!(got.corrected.chi_square < plain);
    }

    /// b, c, exact p, corrected chi-square and its p by running statsmodels
    /// 0.15.0 `contingency_tables.mcnemar` (scipy 1.17.1).
    #[test]
    fn as_statsmodels() {
        let rows = [
            (
                150,
                86,
                3.715_936_139_571e-5,
                16.817_796_610_169,
                4.114_562_281_346e-5,
            ),
            (
                121,
                59,
                4.434_449_263_755e-6,
                20.672_222_222_222,
                5.450_094_825_427e-6,
            ),
            (6, 1, 0.125, 2.285_714_285_714, 0.130_570_018_116),
            (0, 5, 0.0625, 3.2, 0.073_638_270_120),
            (3, 4, 1.0, 0.0, 1.0),
            (5, 10, 0.301_757_812_5, 1.066_666_666_667, 0.301_699_582_478),
        ];
        for (b, c, exact, chi_square, p) in rows {
            let got = tested(b, c);
            assert!((got.exact_p / exact - 1.0).abs() < 1e-9, "{b} {c}: {got:?}");
            assert!(
                (got.corrected.chi_square - chi_square).abs() < 1e-9,
                "{got:?}"
            );
            assert!((got.corrected.p / p - 1.0).abs() < 1e-9, "{got:?}");
        }
    }

    /// R 4.2.2 `mcnemar.test` does not correct where both are alike (from
    /// memory of its source); (|b − c| − 1)² would be 1 there.
    #[test]
    fn nothing_is_corrected_where_both_are_alike() {
        assert_eq!(
            tested(4, 4).corrected,
            Corrected {
                chi_square: 0.0,
                p: 1.0
            }
        );
        assert_eq!(tested(4, 4).exact_p, 1.0);
    }

    #[test]
    fn judges_that_never_differ_are_not_tested() {
        let same = Counts {
            hit_good: 12,
            miss_bad: 3,
            ..Counts::default()
        };
        assert_eq!(test(&same), None);
    }
}
