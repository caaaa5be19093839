//! Two sets of latencies by ranks: who is later, and is it chance?
//!
//! Sources: Mann & Whitney 1947, Ann. Math. Stat. 18:50; exact law without
//! ties, else the normal approximation with tie and continuity correction
//! (Lehmann, *Nonparametrics*, section 1.4). Over strata the statistics,
//! means and variances of the sides are summed, and exact laws convolved.

use super::fisher::convolve;
use super::normal::{quantile, two_sided_p};

/// Groups at least this large use the normal approximation.
const LARGE: usize = 50;

/// Sorted values of groups a and b in one stratum.
pub type Stratum<'a> = (&'a [f64], &'a [f64]);

/// Outcome of the rank test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RankTest {
    /// Pairs in which a is the larger, ties half, summed over strata.
    pub u: f64,
    /// Pairs in all.
    pub pairs: f64,
    /// Two-sided p-value.
    pub p: f64,
    /// Whether `p` is from the exact law.
    pub exact: bool,
}

/// Pairs in which a is larger than b, ties half, and the number of pairs.
pub fn larger_pairs(strata: &[Stratum]) -> (f64, f64) {
    strata.iter().fold((0.0, 0.0), |(u, pairs), (a, b)| {
        let one: f64 = a
            .iter()
            .map(|x| {
                let below = b.partition_point(|y| y < x) as f64;
                let upto = b.partition_point(|y| y <= x) as f64;
                f64::midpoint(below, upto)
            })
            .sum();
        (u + one, pairs + (a.len() * b.len()) as f64)
    })
}

/// Probability that a value of a is smaller (sooner) than one of b, ties half;
/// `None` without pairs.
pub fn smaller_probability(strata: &[Stratum]) -> Option<f64> {
    let (u, pairs) = larger_pairs(strata);
    (pairs > 0.0).then(|| (pairs - u) / pairs)
}

/// Tests whether a and b come from one distribution within each stratum;
/// `None` without pairs, or if all values are one.
pub fn mann_whitney(strata: &[Stratum]) -> Option<RankTest> {
    let used: Vec<_> = with_both(strata);
    let (u, pairs) = larger_pairs(&used);
    if pairs == 0.0 {
        return None;
    }
    if small(&used) && used.iter().all(|s| !has_ties(s)) {
        let tail = exact_tail(&exact_law(&used), u, pairs);
        return Some(RankTest {
            u,
            pairs,
            p: (2.0 * tail).min(1.0),
            exact: true,
        });
    }
    let variance: f64 = used.iter().map(tied_variance).sum();
    let off = ((u - pairs / 2.0).abs() - 0.5).max(0.0);
    (variance > 0.0).then(|| RankTest {
        u,
        pairs,
        p: two_sided_p(off / variance.sqrt()),
        exact: false,
    })
}

/// Rank k of the interval of the shift: it runs from the k-th smallest to the
/// k-th largest difference. `None` where no interval reaches the confidence.
pub fn interval_rank(strata: &[Stratum], confidence: f64) -> Option<usize> {
    let used = with_both(strata);
    let tail = (1.0 - confidence) / 2.0;
    if small(&used) {
        let law = exact_law(&used);
        let mut sum = 0.0;
        let k = law
            .iter()
            .take_while(|q| {
                sum += **q;
                sum <= tail * (1.0 + 1e-12)
            })
            .count();
        return (k > 0).then_some(k);
    }
    let pairs: f64 = used.iter().map(|(a, b)| (a.len() * b.len()) as f64).sum();
    let variance: f64 = used.iter().map(plain_variance).sum();
    let z = quantile(1.0 - tail);
    let k = (pairs / 2.0 - z * variance.sqrt() + 0.5).floor();
    (k >= 1.0).then_some(k as usize)
}

fn with_both<'a>(strata: &[Stratum<'a>]) -> Vec<Stratum<'a>> {
    strata
        .iter()
        .filter(|(a, b)| !a.is_empty() && !b.is_empty())
        .copied()
        .collect()
}

fn small(strata: &[Stratum]) -> bool {
    let n_a: usize = strata.iter().map(|s| s.0.len()).sum();
    let n_b: usize = strata.iter().map(|s| s.1.len()).sum();
    n_a > 0 && n_b > 0 && n_a < LARGE && n_b < LARGE
}

fn pooled(stratum: &Stratum) -> Vec<f64> {
    let mut all = [stratum.0, stratum.1].concat();
    all.sort_by(f64::total_cmp);
    all
}

fn has_ties(stratum: &Stratum) -> bool {
    pooled(stratum).windows(2).any(|w| w[0] == w[1])
}

fn plain_variance(stratum: &Stratum) -> f64 {
    let (m, n) = (stratum.0.len() as f64, stratum.1.len() as f64);
    m * n * (m + n + 1.0) / 12.0
}

fn tied_variance(stratum: &Stratum) -> f64 {
    let (m, n) = (stratum.0.len() as f64, stratum.1.len() as f64);
    let total = m + n;
    let ties: f64 = pooled(stratum)
        .chunk_by(|x, y| x == y)
        .map(|tied| (tied.len() as f64).powi(3) - tied.len() as f64)
        .sum();
    m * n / 12.0 * ((total + 1.0) - ties / (total * (total - 1.0)))
}

/// Law of the summed statistic without ties.
fn exact_law(strata: &[Stratum]) -> Vec<f64> {
    strata
        .iter()
        .map(|(a, b)| one_law(a.len(), b.len()))
        .reduce(|sum, next| convolve(&sum, &next))
        .unwrap_or_else(|| vec![1.0])
}

/// Law of U for m and n values: coefficients of the Gaussian binomial, grown
/// one value of a at a time. Only the rising half is computed, the other is its
/// mirror image, so that no small coefficient is left over from large ones.
fn one_law(m: usize, n: usize) -> Vec<f64> {
    let mut law = vec![1.0];
    for i in 1..=m {
        let size = i * n + 1;
        let at = |u: usize| law.get(u).copied().unwrap_or(0.0);
        let mut next = vec![0.0; size];
        for u in 0..size.div_ceil(2) {
            let fewer = u.checked_sub(n + i).map_or(0.0, at);
            let before = u.checked_sub(i).map_or(0.0, |v| next[v]);
            next[u] = at(u) - fewer + before;
            next[size - 1 - u] = next[u];
        }
        law = next;
    }
    let total: f64 = law.iter().sum();
    law.iter_mut().for_each(|q| *q /= total);
    law
}

/// Probability of a statistic at least as far out, on the side of `u`.
fn exact_tail(law: &[f64], u: f64, pairs: f64) -> f64 {
    let low = u.min(pairs - u).round() as usize;
    law.iter().take(low + 1).sum()
}

#[cfg(test)]
#[path = "ranks_tests.rs"]
pub(crate) mod tests;
