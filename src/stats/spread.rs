//! Spread between the clips, or the sessions, of one setup: are trials of one
//! more alike than trials of different ones?
//!
//! Sources: one-way random-effects analysis of variance, Searle, Casella &
//! McCulloch, *Variance Components*, section 3.6 (unequal group sizes), which
//! is that of ISO 5725-2; interval of the part between groups by modified large
//! samples, Burdick & Graybill 1992, *Confidence Intervals on Variance
//! Components* (from memory), over unweighted means (Thomas & Hultquist 1978).

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};
use statrs::statistics::Statistics;

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

/// Interval of the standard deviation between groups, from 0 up; `None` where
/// [`between_clips`] is.
pub fn between_interval(groups: &[Vec<f64>], confidence: f64) -> Option<[f64; 2]> {
    let groups: Vec<_> = groups.iter().filter(|g| !g.is_empty()).cloned().collect();
    let found = between_clips(&groups)?;
    let k = groups.len() as f64;
    let total: f64 = groups.iter().map(|g| g.len() as f64).sum();
    let size = harmonic_size(&groups);
    let means = means_variance(&groups);
    let (high, low) = (size * means, found.within.powi(2));
    let (df, rest) = (k - 1.0, total - k);
    let tail = (1.0 - confidence) / 2.0;
    let chi = |p: f64, df: f64| Some(ChiSquared::new(df).ok()?.inverse_cdf(p) / df);
    let f = |p: f64| Some(FisherSnedecor::new(df, rest).ok()?.inverse_cdf(p));
    let (g1, g2) = (
        1.0 - 1.0 / chi(1.0 - tail, df)?,
        1.0 - 1.0 / chi(1.0 - tail, rest)?,
    );
    let (h1, h2) = (1.0 / chi(tail, df)? - 1.0, 1.0 / chi(tail, rest)? - 1.0);
    let (upper, lower) = (f(1.0 - tail)?, f(tail)?);
    let g12 = ((upper - 1.0).powi(2) - (g1 * upper).powi(2) - h2 * h2) / upper;
    let h12 = ((1.0 - lower).powi(2) - (h1 * lower).powi(2) - g2 * g2) / lower;
    let below = (g1 * high).powi(2) + (h2 * low).powi(2) + g12 * high * low;
    let above = (h1 * high).powi(2) + (g2 * low).powi(2) + h12 * high * low;
    let sd = |variance: f64| (variance.max(0.0) / size).sqrt();
    let between = high - low;
    Some([
        sd(between - below.max(0.0).sqrt()),
        sd(between + above.max(0.0).sqrt()),
    ])
}

/// Harmonic mean of the groups' sizes; none may be empty.
pub fn harmonic_size(groups: &[Vec<f64>]) -> f64 {
    groups.len() as f64 / groups.iter().map(|g| 1.0 / g.len() as f64).sum::<f64>()
}

/// Variance of the groups' means, each counting once.
pub fn means_variance(groups: &[Vec<f64>]) -> f64 {
    let means = groups
        .iter()
        .map(|g| g.iter().sum::<f64>() / g.len() as f64);
    means.variance()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::DYESTUFF;

    /// Confirmed by running R 4.2.2 `lm` and lme4 1.1.31.
    #[test]
    fn dyestuff() {
        let mut groups: Vec<_> = DYESTUFF.iter().map(|b| b.to_vec()).collect();
        let got = between_clips(&groups).unwrap();
        assert!((got.between.powi(2) - 1764.05).abs() < 1e-9);
        assert!((got.within.powi(2) - 2451.25).abs() < 1e-9);
        assert!((got.share_between - 0.418_487_414_893).abs() < 1e-11);
        assert!((got.p - 0.004_397_5).abs() < 1e-6, "{}", got.p);
        // The same formulas on the quantiles of scipy 1.17.1. Other methods: R
        // metafor 3.8.1 (Q profile, the scatter within taken as known) gives 19.7
        // to 114.3, the profile interval of R lme4 1.1.31 12.2 to 84.1.
        let near = |got: Option<[f64; 2]>, [low, high]: [f64; 2]| {
            let [l, h] = got.unwrap();
            assert!((l - low).abs() < 1e-4 && (h - high).abs() < 1e-4, "{l} {h}");
        };
        near(between_interval(&groups, 0.95), [17.504_833, 114.218_993]);
        near(between_interval(&groups, 0.9), [21.743_637, 96.598_302]);
        for (k, n) in [(0, 3), (2, 4), (4, 2)] {
            groups[k].truncate(n);
        }
        near(between_interval(&groups, 0.95), [20.649_359, 134.152_941]);
        // Mean squares 9238.0 and 2270.694 (R 4.2.2 `lm`).
        let got = between_clips(&groups).unwrap();
        assert!((got.p - 0.012_01).abs() < 1e-5 && (got.within.powi(2) - 2_270.694_4).abs() < 1e-3);
    }

    #[test]
    fn one_clip_has_no_spread_between() {
        assert_eq!(between_clips(&[vec![1.0, 2.0], vec![]]), None);
        assert_eq!(between_clips(&[vec![1.0], vec![2.0]]), None);
    }
}
