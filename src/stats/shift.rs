//! Shift between two sets of latencies, with its interval.
//!
//! Source: Hodges & Lehmann 1963, Ann. Math. Stat. 34:598 (median of all
//! differences a − b); interval by inverting the rank test, Hollander & Wolfe
//! 1973, section 4.3. Over strata the differences within each side are pooled.
//! Never forms the m·n differences: a difference of a given rank is found by
//! counting, O(m + n) a count.

use super::ranks::{Stratum, interval_rank};

/// Shift a − b; limits are `None` where too few trials support an interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// Median difference.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
}

/// Estimate and interval from sorted values; `None` without pairs.
pub fn hodges_lehmann(strata: &[Stratum], confidence: f64) -> Option<Shift> {
    let pairs: usize = strata.iter().map(|(a, b)| a.len() * b.len()).sum();
    if pairs == 0 {
        return None;
    }
    let value = f64::midpoint(
        ranked(strata, pairs.div_ceil(2)),
        ranked(strata, pairs / 2 + 1),
    );
    let k = interval_rank(strata, confidence);
    Some(Shift {
        value,
        low: k.map(|k| ranked(strata, k)),
        high: k.map(|k| ranked(strata, pairs + 1 - k)),
    })
}

/// The `rank`-th smallest difference, from 1.
fn ranked(strata: &[Stratum], rank: usize) -> f64 {
    // Bisection over the floats themselves, ordered as integers: ends at the
    // exact difference after at most 64 counts.
    let (mut low, mut high) = (ordered(f64::NEG_INFINITY), ordered(f64::INFINITY));
    while low + 1 < high {
        let middle = low + (high - low) / 2;
        if count_upto(strata, float(middle)) >= rank {
            high = middle;
        } else {
            low = middle;
        }
    }
    float(high)
}

/// Number of differences at or below `t`.
fn count_upto(strata: &[Stratum], t: f64) -> usize {
    strata
        .iter()
        .map(|(a, b)| {
            let (mut from, mut count) = (0, 0);
            for x in *a {
                while from < b.len() && x - b[from] > t {
                    from += 1;
                }
                count += b.len() - from;
            }
            count
        })
        .sum()
}

/// Floats in their order as unsigned integers.
fn ordered(x: f64) -> u64 {
    let bits = x.to_bits();
    if bits >> 63 == 1 {
        !bits
    } else {
        bits | 1 << 63
    }
}

fn float(order: u64) -> f64 {
    f64::from_bits(if order >> 63 == 1 {
        order & !(1 << 63)
    } else {
        !order
    })
}

/// Sorted values with the clip each came from, for resampling by clip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clustered {
    /// Sorted.
    pub values: Vec<f64>,
    /// Clip of each value.
    pub clips: Vec<usize>,
}

/// Median difference when the clips of a and b count `w_a` and `w_b` times,
/// near `start` and to within a thousandth of the spread it is resampled for.
/// `None` where nothing is left to pair.
pub fn weighted_shift(
    strata: &[(&Clustered, &Clustered)],
    w_a: &[u32],
    w_b: &[u32],
    start: f64,
    width: f64,
) -> Option<f64> {
    let total: u64 = strata
        .iter()
        .map(|(a, b)| weight_of(a, w_a) * weight_of(b, w_b))
        .sum();
    if total == 0 {
        return None;
    }
    let excess = |t: f64| {
        let upto: u64 = strata
            .iter()
            .map(|(a, b)| weighted_upto(a, b, w_a, w_b, t))
            .sum();
        upto as f64 / total as f64 - 0.5
    };
    Some(root(excess, start, width))
}

fn weight_of(set: &Clustered, weights: &[u32]) -> u64 {
    set.clips.iter().map(|&c| u64::from(weights[c])).sum()
}

fn weighted_upto(a: &Clustered, b: &Clustered, w_a: &[u32], w_b: &[u32], t: f64) -> u64 {
    let (mut from, mut left, mut count) = (0, weight_of(b, w_b), 0);
    for (x, &clip) in a.values.iter().zip(&a.clips) {
        while from < b.values.len() && x - b.values[from] > t {
            left -= u64::from(w_b[b.clips[from]]);
            from += 1;
        }
        count += u64::from(w_a[clip]) * left;
    }
    count
}

/// Where a rising step function crosses 0: brackets outward from `start`, then
/// false position with halving of a stuck end (Dowell & Jarratt 1971).
fn root(f: impl Fn(f64) -> f64, start: f64, width: f64) -> f64 {
    const CLOSE: f64 = 2e-4;
    let width = width.max(0.01);
    let first = f(start);
    if first.abs() < CLOSE {
        return start;
    }
    let (mut near, mut f_near) = (start, first);
    let mut step = width * -first.signum();
    let (mut far, mut f_far);
    loop {
        far = near + step;
        f_far = f(far);
        if f_far * f_near <= 0.0 || step.abs() > 1e9 {
            break;
        }
        (near, f_near) = (far, f_far);
        step *= 2.0;
    }
    for _ in 0..40 {
        if (far - near).abs() < width * 1e-3 {
            break;
        }
        let t = far - f_far * (far - near) / (f_far - f_near);
        let f_t = f(t);
        if f_t.abs() < CLOSE {
            return t;
        }
        if f_t * f_far < 0.0 {
            (near, f_near) = (far, f_far);
        } else {
            f_near /= 2.0;
        }
        (far, f_far) = (t, f_t);
    }
    f64::midpoint(near, far)
}

#[cfg(test)]
#[path = "shift_tests.rs"]
mod tests;
