//! Two curves of time-to-focus: the log-rank test, plain or over strata.
//!
//! Sources: Mantel 1966; Peto & Peto 1972, J. R. Stat. Soc. A 135:185; strata
//! as in Klein & Moeschberger, *Survival Analysis*, section 7.5 (observed,
//! expected and variance summed over strata).

use super::normal::two_sided_p;
use super::survival::Watched;

/// Outcome of the test for the first of two groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogRank {
    /// Hits of the first group.
    pub observed: f64,
    /// Hits expected of it if both had one curve.
    pub expected: f64,
    /// Hypergeometric variance of the difference.
    pub variance: f64,
    /// Two-sided p-value.
    pub p: f64,
}

impl LogRank {
    /// Standard normal statistic; above 0 when the first group focuses sooner
    /// than expected.
    pub fn z(&self) -> f64 {
        (self.observed - self.expected) / self.variance.sqrt()
    }
}

/// Tests groups a and b within each stratum; `None` where no hit tells them
/// apart.
pub fn log_rank(strata: &[(&[Watched], &[Watched])]) -> Option<LogRank> {
    let mut sums = [0.0; 3];
    for (a, b) in strata {
        let part = one_stratum(a, b);
        for (sum, x) in sums.iter_mut().zip(part) {
            *sum += x;
        }
    }
    let [observed, expected, variance] = sums;
    (variance > 0.0).then(|| LogRank {
        observed,
        expected,
        variance,
        p: two_sided_p((observed - expected) / variance.sqrt()),
    })
}

fn one_stratum(a: &[Watched], b: &[Watched]) -> [f64; 3] {
    let mut all: Vec<(f64, bool, bool)> = a
        .iter()
        .map(|w| (w.ms, w.hit, true))
        .chain(b.iter().map(|w| (w.ms, w.hit, false)))
        .collect();
    all.sort_by(|x, y| x.0.total_cmp(&y.0));
    let (mut n_a, mut n) = (a.len() as f64, all.len() as f64);
    let mut sums = [0.0; 3];
    for tied in all.chunk_by(|x, y| x.0 == y.0) {
        let d = tied.iter().filter(|t| t.1).count() as f64;
        let d_a = tied.iter().filter(|t| t.1 && t.2).count() as f64;
        if d > 0.0 {
            let share = n_a / n;
            sums[0] += d_a;
            sums[1] += d * share;
            if n > 1.0 {
                sums[2] += d * share * (1.0 - share) * (n - d) / (n - 1.0);
            }
        }
        n -= tied.len() as f64;
        n_a -= tied.iter().filter(|t| t.2).count() as f64;
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::tests::{aml, placebo, six_mp};

    /// Pairs of the remission trial (Freireich et al. 1963): remission status,
    /// placebo time, 6-MP time, 6-MP event.
    const PAIRS: [(u8, u8, u8, u8); 21] = [
        (1, 1, 10, 1),
        (2, 22, 7, 1),
        (2, 3, 32, 0),
        (2, 12, 23, 1),
        (2, 8, 22, 1),
        (1, 17, 6, 1),
        (2, 2, 16, 1),
        (2, 11, 34, 0),
        (2, 8, 32, 0),
        (2, 12, 25, 0),
        (2, 2, 11, 0),
        (1, 5, 20, 0),
        (2, 4, 19, 0),
        (2, 15, 6, 1),
        (2, 8, 17, 0),
        (1, 23, 35, 0),
        (1, 5, 6, 1),
        (2, 11, 13, 1),
        (2, 4, 9, 0),
        (2, 1, 6, 0),
        (2, 8, 10, 0),
    ];

    fn arms(pick: impl Fn(usize, u8) -> bool) -> (Vec<Watched>, Vec<Watched>) {
        let rows: Vec<_> = PAIRS
            .iter()
            .enumerate()
            .filter(|(k, row)| pick(*k, row.0))
            .map(|(_, row)| row)
            .collect();
        let drug = |r: &&(u8, u8, u8, u8)| Watched {
            ms: f64::from(r.2),
            hit: r.3 == 1,
        };
        let none = |r: &&(u8, u8, u8, u8)| Watched {
            ms: f64::from(r.1),
            hit: true,
        };
        (
            rows.iter().map(drug).collect(),
            rows.iter().map(none).collect(),
        )
    }

    fn stratified(strata: &[(Vec<Watched>, Vec<Watched>)]) -> LogRank {
        let views: Vec<_> = strata
            .iter()
            .map(|(a, b)| (a.as_slice(), b.as_slice()))
            .collect();
        log_rank(&views).unwrap()
    }

    /// Confirmed by running R 4.2.2 survival 3.5.3 `survdiff`, lifelines 0.30.3
    /// and statsmodels 0.15.0; 16.79 is also the handbook value (Kleinbaum &
    /// Klein, from memory).
    #[test]
    fn remission_trial() {
        let got = stratified(&[(six_mp(), placebo())]);
        assert_eq!(got.observed, 9.0);
        assert!((got.expected - 19.250_500_948).abs() < 1e-9);
        assert!((got.variance - 6.256_960_573_675_5).abs() < 1e-9);
        assert!((got.z().powi(2) - 16.792_940_989_217).abs() < 1e-9);
        assert!((got.p - 4.168_809_109e-5).abs() < 1e-10);
    }

    /// Confirmed by running R 4.2.2 survival 3.5.3 `survdiff` on `aml`.
    #[test]
    fn maintenance_trial() {
        let got = stratified(&[aml()]);
        assert!((got.z().powi(2) - 3.396_388_698_977_6).abs() < 1e-9);
        assert!((got.p - 0.065_339_322_04).abs() < 1e-9);
        assert!((got.expected - 10.689_335_992_3).abs() < 1e-9);
    }

    /// Confirmed by running R 4.2.2 survival 3.5.3 `survdiff(strata())`; by
    /// status also with statsmodels.
    #[test]
    fn stratified_by_status_and_by_pair() {
        let by_status = stratified(&[arms(|_, s| s == 1), arms(|_, s| s == 2)]);
        assert!((by_status.expected - (4.639_682_539_68 + 14.674_916_800_67)).abs() < 1e-9);
        assert!((by_status.variance - 5.929_427_845_899).abs() < 1e-9);
        assert!((by_status.z().powi(2) - 17.942_871_102_749).abs() < 1e-9);
        assert!((by_status.p - 2.276_354_094e-5).abs() < 1e-10);
        let pairs: Vec<_> = (0..21).map(|p| arms(|k, _| k == p)).collect();
        let by_pair = stratified(&pairs);
        assert!((by_pair.z().powi(2) - 75.0 / 7.0).abs() < 1e-9);
        assert!((by_pair.p - 0.001_063_11).abs() < 1e-7);
    }

    #[test]
    fn no_hit_tells_nothing() {
        let never = [Watched {
            ms: 5.0,
            hit: false,
        }; 4];
        assert_eq!(log_rank(&[(&never, &never)]), None);
        assert_eq!(log_rank(&[]), None);
    }
}
