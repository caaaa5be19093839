//! Drift over a session (battery, warm-up): a trend against the order of the
//! trials.
//!
//! Sources: Mann 1945, Econometrica 13:245; Kendall, *Rank Correlation
//! Methods* (variance with ties); summed over sides as Hirsch, Slack & Smith
//! 1982, Water Resour. Res. 18:107; slope by Theil 1950 and Sen 1968, J. Am.
//! Stat. Assoc. 63:1379.

use super::normal::two_sided_p;

/// Most trials of one side looked at; longer sessions are thinned evenly.
const MOST: usize = 1500;

/// A value against its place in the session. A miss has no value, and is later
/// than every hit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Place of the trial.
    pub order: f64,
    /// Latency in ms, infinite for a miss.
    pub value: f64,
}

/// Drift of one setup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Kendall's S: rising less falling pairs, summed over sides.
    pub s: f64,
    /// Two-sided p-value, normal with continuity and tie correction.
    pub p: f64,
    /// Slope over hits, ms per trial; `None` with fewer than two hits a side.
    pub slope: Option<f64>,
}

/// Trend within the sides; `None` with fewer than `10` trials, where the normal
/// approximation does not hold, or if nothing varies.
pub fn trend(sides: &[Vec<Placed>]) -> Option<Trend> {
    let sides: Vec<_> = sides.iter().map(|s| thin(s)).collect();
    if sides.iter().map(Vec::len).sum::<usize>() < 10 {
        return None;
    }
    let (mut s, mut variance) = (0.0, 0.0);
    for side in &sides {
        s += kendall_s(side);
        variance += kendall_variance(side);
    }
    (variance > 0.0).then(|| Trend {
        s,
        p: two_sided_p((s.abs() - 1.0).max(0.0) / variance.sqrt()),
        slope: slope(&sides),
    })
}

fn thin(side: &[Placed]) -> Vec<Placed> {
    let step = side.len().div_ceil(MOST).max(1);
    side.iter().step_by(step).copied().collect()
}

fn kendall_s(side: &[Placed]) -> f64 {
    let mut s: i64 = 0;
    for (k, first) in side.iter().enumerate() {
        for later in &side[k + 1..] {
            s += i64::from(later.value > first.value) - i64::from(later.value < first.value);
        }
    }
    s as f64
}

fn kendall_variance(side: &[Placed]) -> f64 {
    let term = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let mut values: Vec<f64> = side.iter().map(|p| p.value).collect();
    values.sort_by(f64::total_cmp);
    let ties: f64 = values
        .chunk_by(|a, b| a == b)
        .map(|tied| term(tied.len() as f64))
        .sum();
    (term(side.len() as f64) - ties) / 18.0
}

/// Median of the slopes between all pairs of hits within a side.
fn slope(sides: &[Vec<Placed>]) -> Option<f64> {
    let mut slopes = Vec::new();
    for side in sides {
        let hits: Vec<_> = side.iter().filter(|p| p.value.is_finite()).collect();
        for (k, first) in hits.iter().enumerate() {
            for later in &hits[k + 1..] {
                slopes.push((later.value - first.value) / (later.order - first.order));
            }
        }
    }
    if slopes.is_empty() {
        return None;
    }
    let n = slopes.len();
    let (below, middle, _) = slopes.select_nth_unstable_by(n / 2, f64::total_cmp);
    let upper = *middle;
    if n % 2 == 1 {
        return Some(upper);
    }
    below
        .iter()
        .copied()
        .reduce(f64::max)
        .map(|lower| f64::midpoint(lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Speed of light in air, first 30 runs: Michelson 1879, R
    /// `datasets::morley$Speed`.
    const SPEED: [f64; 30] = [
        850., 740., 900., 1070., 930., 850., 950., 980., 980., 880., 1000., 980., 930., 650., 760.,
        810., 1000., 1000., 960., 960., 960., 940., 960., 940., 880., 800., 850., 880., 900., 840.,
    ];

    fn placed(values: impl Iterator<Item = (usize, f64)>) -> Vec<Placed> {
        values
            .map(|(k, value)| Placed {
                order: k as f64,
                value,
            })
            .collect()
    }

    /// Confirmed by running pymannkendall 1.4.3 (`original_test`) and scipy
    /// 1.17.1 (`theilslopes`).
    #[test]
    fn one_side_as_the_reference_libraries() {
        let got = trend(&[placed(SPEED.into_iter().enumerate())]).unwrap();
        assert_eq!(got.s, -42.0);
        assert!((got.p - 0.462_603_054_574_587).abs() < 1e-9);
        assert!((got.slope.unwrap() + 1.538_461_538_461_538).abs() < 1e-12);
    }

    /// Confirmed by running pymannkendall 1.4.3 (`seasonal_test`, period 2;
    /// its slope is per period, that is per two trials).
    #[test]
    fn two_sides_are_summed_not_mixed() {
        let side = |odd: usize| placed(SPEED.into_iter().enumerate().filter(|(k, _)| k % 2 == odd));
        let got = trend(&[side(0), side(1)]).unwrap();
        assert_eq!(got.s, -14.0);
        assert!((got.p - 0.647_020_356_932_176).abs() < 1e-9);
        assert!((got.slope.unwrap() + 1.909_090_909_090_909 / 2.0).abs() < 1e-12);
    }

    #[test]
    fn too_few_or_all_the_same_show_no_trend() {
        assert_eq!(trend(&[placed((0..9).map(|k| (k, k as f64)))]), None);
        assert_eq!(trend(&[placed((0..20).map(|k| (k, f64::INFINITY)))]), None);
        let rising = trend(&[placed((0..10).map(|k| (k, k as f64)))]).unwrap();
        // Closed form: S = 45, variance n(n-1)(2n+5)/18 = 125.
        assert!((rising.p - two_sided_p(44.0 / 125f64.sqrt())).abs() < 1e-15);
    }
}
