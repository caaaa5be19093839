//! Quantiles of a small sample and their order-statistic intervals.
//!
//! Sources: Hyndman & Fan 1996, Am. Stat. 50:361 (type 8); the interval is
//! that of David & Nagaraja, *Order Statistics*, section 7.1: ranks whose
//! binomial coverage reaches the stated confidence.

use statrs::distribution::{Binomial, DiscreteCDF};

/// Type 8 quantile of a sorted sample, `p` in 0..1.
///
/// Given only between the extremes: where the rank (n + 1/3) p + 1/3 falls
/// below 1 or above n the sample says nothing about this quantile and the
/// answer is `None`. The 95 % point needs 13 values, the 90 % point 7.
pub fn type_8(sorted: &[f64], p: f64) -> Option<f64> {
    let n = sorted.len();
    let rank = (n as f64 + 1.0 / 3.0) * p + 1.0 / 3.0;
    let slack = 1e-9;
    if n == 0 || rank < 1.0 - slack || rank > n as f64 + slack {
        return None;
    }
    let rank = rank.clamp(1.0, n as f64);
    let below = rank.floor();
    let low = sorted[below as usize - 1];
    let high = sorted[(below as usize).min(n - 1)];
    Some(low + (rank - below) * (high - low))
}

/// An interval between two order statistics.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ranks {
    /// From 1.
    pub low: usize,
    /// At most n.
    pub high: usize,
}

/// Ranks of a two-sided interval for the `p` quantile of any continuous
/// distribution: each tail holds at most half of 1 − confidence. `None` where
/// no pair of order statistics reaches that.
pub fn interval_ranks(n: usize, p: f64, confidence: f64) -> Option<Ranks> {
    let tail = (1.0 - confidence) / 2.0;
    let slack = tail * (1.0 + 1e-12);
    let count = Binomial::new(p, n as u64).ok()?;
    // Coverage of [x(r), x(s)] is P(r <= Bin(n, p) <= s - 1).
    let low = (1..=n)
        .take_while(|&r| count.cdf(r as u64 - 1) <= slack)
        .last()?;
    let high = (1..=n)
        .rev()
        .take_while(|&s| count.sf(s as u64 - 1) <= slack)
        .last()?;
    (low < high).then_some(Ranks { low, high })
}

/// The interval itself, from a sorted sample.
pub fn interval(sorted: &[f64], p: f64, confidence: f64) -> Option<(f64, f64)> {
    interval_ranks(sorted.len(), p, confidence).map(|r| (sorted[r.low - 1], sorted[r.high - 1]))
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(crate) const LATENCIES_MS: [f64; 20] = [
        137.5, 141.667, 145.833, 145.833, 150.0, 154.167, 158.333, 166.667, 170.833, 179.167,
        183.333, 191.667, 204.167, 216.667, 229.167, 250.0, 287.5, 341.667, 458.333, 1233.333,
    ];

    /// Confirmed by running R 4.2.2 `quantile(type = 8)`.
    #[test]
    fn type_8_as_in_r() {
        let cases = [
            (0.05, 138.958_45),
            (0.25, 151.736_25),
            (0.5, 181.25),
            (0.75, 241.319_583_333),
            (0.9, 415.555_466_667),
            (0.95, 962.083),
        ];
        for (p, want) in cases {
            let got = type_8(&LATENCIES_MS, p).unwrap();
            assert!((got - want).abs() < 1e-8, "{p}: {got}");
        }
    }

    #[test]
    fn no_extrapolation_beyond_the_extremes() {
        assert_eq!(type_8(&[], 0.5), None);
        assert_eq!(type_8(&[3.0], 0.5), Some(3.0));
        assert_eq!(type_8(&[3.0], 0.9), None);
        let first_n = |p: f64| {
            (1..50)
                .find(|&n| type_8(&vec![1.0; n], p).is_some())
                .unwrap()
        };
        assert_eq!((first_n(0.9), first_n(0.1), first_n(0.95)), (7, 7, 13));
    }

    /// Ranks confirmed by running scipy 1.17.1 `binom`, n = 20 also with
    /// `quantile_test`.
    #[test]
    fn ranks_of_the_median_interval() {
        let rows = [
            (6, 0.95, 1, 6),
            (8, 0.95, 1, 8),
            (9, 0.95, 2, 8),
            (10, 0.95, 2, 9),
            (12, 0.99, 2, 11),
            (20, 0.95, 6, 15),
            (20, 0.99, 4, 17),
            (40, 0.95, 14, 27),
            (60, 0.99, 20, 41),
            (100, 0.95, 40, 61),
        ];
        for (n, confidence, low, high) in rows {
            let got = interval_ranks(n, 0.5, confidence);
            assert_eq!(got, Some(Ranks { low, high }), "n = {n}");
        }
        assert_eq!(interval_ranks(5, 0.5, 0.95), None);
        assert_eq!(interval_ranks(7, 0.5, 0.99), None);
        assert_eq!(interval(&LATENCIES_MS, 0.5, 0.95), Some((154.167, 229.167)));
    }
}
