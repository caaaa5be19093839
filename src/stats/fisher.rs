//! Two hit rates: the exact test of no difference.
//!
//! Source: Fisher 1935; two-sided by the sum of the probabilities of all tables
//! no likelier than the one seen. Over strata the exact conditional test on the
//! sum of hits (Gart 1970, Biometrika 57:471), which with one stratum is
//! Fisher's.

use super::difference::Arm;

/// Tables as likely as the one seen, up to rounding, count as no likelier.
const SAME: f64 = 1.0 + 1e-7;

/// Two-sided p-value; `None` where no stratum has trials of both.
pub fn exact_p(strata: &[(Arm, Arm)]) -> Option<f64> {
    let mut seen = 0;
    let mut law: Option<Vec<f64>> = None;
    for &(a, b) in strata.iter().filter(|(a, b)| a.n > 0 && b.n > 0) {
        let (lowest, next) = hypergeometric(a.n, b.n, a.hits + b.hits);
        seen += (a.hits - lowest) as usize;
        law = Some(match law {
            None => next,
            Some(before) => convolve(&before, &next),
        });
    }
    let law = law?;
    let limit = law[seen] * SAME;
    let p: f64 = law.iter().filter(|&&q| q <= limit).sum();
    Some(p.min(1.0))
}

/// Law of the hits of the first arm given all margins: its lowest value, and
/// the probabilities from there up.
fn hypergeometric(n_a: u64, n_b: u64, hits: u64) -> (u64, Vec<f64>) {
    let lowest = hits.saturating_sub(n_b);
    let highest = hits.min(n_a);
    // Odds from one table to the next, then outward from the likeliest so that
    // nothing overflows.
    let step = |k: u64| {
        let up = (n_a - k) as f64 * (hits - k) as f64;
        up / ((k + 1) as f64 * (n_b + k + 1 - hits) as f64)
    };
    let mode = (lowest..highest)
        .find(|&k| step(k) < 1.0)
        .unwrap_or(highest);
    let mut law = vec![1.0; (highest - lowest + 1) as usize];
    for k in mode..highest {
        law[(k + 1 - lowest) as usize] = law[(k - lowest) as usize] * step(k);
    }
    for k in (lowest..mode).rev() {
        law[(k - lowest) as usize] = law[(k + 1 - lowest) as usize] / step(k);
    }
    let total: f64 = law.iter().sum();
    law.iter_mut().for_each(|q| *q /= total);
    (lowest, law)
}

/// Law of the sum of two independent counts.
pub(super) fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sum = vec![0.0; a.len() + b.len() - 1];
    for (i, p) in a.iter().enumerate() {
        for (j, q) in b.iter().enumerate() {
            sum[i + j] += p * q;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(rows: &[[u64; 4]]) -> f64 {
        let strata: Vec<_> = rows
            .iter()
            .map(|&[a, b, c, d]| {
                let first = Arm { hits: a, n: a + b };
                let second = Arm { hits: c, n: c + d };
                (first, second)
            })
            .collect();
        exact_p(&strata).unwrap()
    }

    /// Tea tasting and Convictions are the examples of R's own documentation
    /// (Fisher 1935; Agresti 1990); confirmed by running R 4.2.2 `fisher.test`
    /// and scipy 1.17.1.
    #[test]
    fn two_sided_as_in_r() {
        let rows = [
            ([3, 1, 1, 3], 34.0 / 70.0),
            ([4, 0, 0, 4], 2.0 / 70.0),
            ([8, 2, 1, 5], 0.034_965_034_965),
            ([1, 9, 11, 3], 0.002_759_456_185),
            ([10, 2, 3, 15], 0.000_536_724_119),
            ([56, 14, 48, 32], 0.012_521_129_749),
        ];
        for (row, want) in rows {
            assert!((p(&[row]) - want).abs() < 1e-11, "{row:?}");
        }
    }

    /// Two strata against full enumeration of both tables.
    #[test]
    fn strata_against_enumeration() {
        let choose = |n: u64, k: u64| (0..k).fold(1.0, |c, i| c * (n - i) as f64 / (i + 1) as f64);
        let law = |k: u64| choose(8, k) * choose(8, 8 - k);
        let seen = 6 + 5;
        let mut by_sum = [0.0; 17];
        for i in 0..=8 {
            for j in 0..=8 {
                by_sum[(i + j) as usize] += law(i) * law(j);
            }
        }
        let total: f64 = by_sum.iter().sum();
        let want: f64 = by_sum
            .iter()
            .filter(|&&q| q <= by_sum[seen] * SAME)
            .sum::<f64>()
            / total;
        let got = p(&[[6, 2, 2, 6], [5, 3, 3, 5]]);
        assert!((got - want).abs() < 1e-12, "{got} {want}");
    }

    #[test]
    fn large_tables_do_not_overflow() {
        let got = p(&[[900, 100, 850, 150], [500, 500, 500, 500]]);
        // Normal approximation with continuity correction: 24.5 / sqrt(179.77).
        assert!((got - 0.0676).abs() < 1e-3, "{got}");
        assert!((p(&[[0, 10, 0, 12]]) - 1.0).abs() < 1e-12);
        assert_eq!(exact_p(&[(Arm::default(), Arm { hits: 1, n: 2 })]), None);
    }
}
