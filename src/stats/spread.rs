//! Spread between the clips of one setup: are trials of one clip more alike
//! than trials of different clips?
//!
//! Source: one-way random-effects analysis of variance, Searle, Casella &
//! McCulloch, *Variance Components*, section 3.6 (unequal group sizes).

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// Spread of latencies between and within clips, ms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Clips with at least one hit.
    pub clips: usize,
    /// Standard deviation between clips (0 where the estimate is negative).
    pub between: f64,
    /// Standard deviation within a clip.
    pub within: f64,
    /// Share of the variance that lies between clips, 0..=1.
    pub share_between: f64,
    /// F test of no spread between clips.
    pub p: f64,
}

/// Components of variance of these groups; `None` with fewer than two
/// non-empty groups or no repeated trial in any.
pub fn between_clips(groups: &[Vec<f64>]) -> Option<Spread> {
    let groups: Vec<_> = groups.iter().filter(|g| !g.is_empty()).collect();
    let sizes: Vec<f64> = groups.iter().map(|g| g.len() as f64).collect();
    let total: f64 = sizes.iter().sum();
    let k = groups.len() as f64;
    if k < 2.0 || total <= k {
        return None;
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let means: Vec<f64> = groups.iter().map(|g| mean(g)).collect();
    let grand = groups.iter().flat_map(|g| g.iter()).sum::<f64>() / total;
    let ss_between: f64 = sizes
        .iter()
        .zip(&means)
        .map(|(n, m)| n * (m - grand).powi(2))
        .sum();
    let ss_within: f64 = groups
        .iter()
        .zip(&means)
        .map(|(g, m)| g.iter().map(|x| (x - m).powi(2)).sum::<f64>())
        .sum();
    let (ms_between, ms_within) = (ss_between / (k - 1.0), ss_within / (total - k));
    let per_group = (total - sizes.iter().map(|n| n * n).sum::<f64>() / total) / (k - 1.0);
    let variance = ((ms_between - ms_within) / per_group).max(0.0);
    let all = variance + ms_within;
    Some(Spread {
        clips: groups.len(),
        between: variance.sqrt(),
        within: ms_within.sqrt(),
        share_between: if all > 0.0 { variance / all } else { 0.0 },
        p: f_test(ms_between, ms_within, k - 1.0, total - k),
    })
}

fn f_test(ms_between: f64, ms_within: f64, df_between: f64, df_within: f64) -> f64 {
    if ms_within <= 0.0 {
        return if ms_between > 0.0 { 0.0 } else { 1.0 };
    }
    FisherSnedecor::new(df_between, df_within).map_or(1.0, |f| f.sf(ms_between / ms_within))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dyestuff, Davies & Goldsmith 1972; confirmed by running R 4.2.2 `lm` and
    /// lme4 1.1.31.
    #[test]
    fn dyestuff() {
        let batches = [
            [1545., 1440., 1440., 1520., 1580.],
            [1540., 1555., 1490., 1560., 1495.],
            [1595., 1550., 1605., 1510., 1560.],
            [1445., 1440., 1595., 1465., 1545.],
            [1595., 1630., 1515., 1635., 1625.],
            [1520., 1455., 1450., 1480., 1445.],
        ];
        let groups: Vec<_> = batches.iter().map(|b| b.to_vec()).collect();
        let got = between_clips(&groups).unwrap();
        assert!((got.between.powi(2) - 1764.05).abs() < 1e-9);
        assert!((got.within.powi(2) - 2451.25).abs() < 1e-9);
        assert!((got.share_between - 0.418_487_414_893).abs() < 1e-11);
        assert!((got.p - 0.004_397_5).abs() < 1e-6, "{}", got.p);
    }

    #[test]
    fn one_clip_has_no_spread_between() {
        assert_eq!(between_clips(&[vec![1.0, 2.0], vec![]]), None);
        assert_eq!(between_clips(&[vec![1.0], vec![2.0]]), None);
    }
}
