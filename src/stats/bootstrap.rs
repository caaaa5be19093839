//! Resampling whole clips, because trials of one clip are not independent.
//!
//! Sources: Efron & Tibshirani 1993, *An Introduction to the Bootstrap*
//! (percentile limits); widened for few clips as Hesterberg 2015, Am. Stat.
//! 69:371 ("expanded percentile": the tails that give Student's t times
//! √(n/(n−1)) its nominal coverage). Random numbers: ChaCha with 8 rounds,
//! from a seed that is part of every result.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};
use statrs::distribution::{ContinuousCDF, StudentsT};

use super::normal;

/// Fewest clips per setup that are resampled.
pub const FEWEST_CLIPS: usize = 5;

/// A generator for one setup: the seed, and a stream of its own made from
/// `identity`, so that neither the order of the setups nor a further setup
/// changes the draws of this one.
pub fn generator(seed: u64, identity: &str) -> ChaCha8Rng {
    let digest = Sha256::digest(identity.as_bytes());
    let stream = digest
        .iter()
        .take(8)
        .fold(0u64, |sum, byte| sum << 8 | u64::from(*byte));
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(stream);
    rng
}

/// How often each of `n` units counts in one resample.
pub fn draw(rng: &mut ChaCha8Rng, n: usize) -> Vec<u32> {
    let mut counts = vec![0; n];
    for _ in 0..n {
        counts[rng.random_range(0..n)] += 1;
    }
    counts
}

/// Probability left in each tail of the resamples for a two-sided interval at
/// `confidence`, when the smaller group has `smaller` units and both together
/// `total`.
pub fn tail(confidence: f64, smaller: usize, total: usize) -> f64 {
    let plain = (1.0 - confidence) / 2.0;
    if smaller < 2 || total < 3 {
        return 0.0;
    }
    let df = (total - 2) as f64;
    let Ok(student) = StudentsT::new(0.0, 1.0, df) else {
        return plain;
    };
    let t = student.inverse_cdf(1.0 - plain);
    let n = smaller as f64;
    normal::below(-t * (n / (n - 1.0)).sqrt())
}

/// Limits that leave `tail` of the resampled values on either side; values may
/// be infinite. `None` where there are too few values for such a tail.
pub fn limits(values: &mut [f64], tail: f64) -> Option<(f64, f64)> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    let rank = tail * (n as f64 + 1.0);
    if n < 100 || tail <= 0.0 {
        return None;
    }
    // Outward to the next value, never inward.
    let low = (rank.floor() as usize).max(1);
    Some((values[low - 1], values[n - low]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{Curve, Watched};

    /// Widened tails shrink toward the plain ones as clips grow in number.
    #[test]
    fn few_clips_widen_the_tails() {
        let tails: Vec<f64> = [5, 10, 50, 5000].map(|n| tail(0.95, n, 2 * n)).to_vec();
        assert!(tails.windows(2).all(|w| w[0] < w[1]));
        // Closed form for 5 + 5: t(0.975; 8) = 2.306004, times sqrt(5/4).
        assert!((tails[0] - normal::below(-2.306_004_135 * 1.25f64.sqrt())).abs() < 1e-9);
        assert!((tails[3] - 0.025).abs() < 1e-4);
        assert_eq!(tail(0.95, 1, 6), 0.0);
    }

    /// The ideal bootstrap of the median of seven values (Efron & Tibshirani
    /// 1993, mouse data, treatment; closed form from binomial sums): standard
    /// error 37.83, percentile limits 23 and 141.
    #[test]
    fn resampled_median_agrees_with_the_ideal_bootstrap() {
        let mut sorted = [94., 197., 16., 38., 99., 141., 23.];
        sorted.sort_by(f64::total_cmp);
        let watched = sorted.map(|ms| Watched { ms, hit: true });
        let mut rng = generator(1, "mice");
        let mut medians: Vec<f64> = (0..20_000)
            .map(|_| {
                let w = draw(&mut rng, 7);
                let curve = Curve::counted(&watched, |k| w[k] as usize).unwrap();
                curve.quantile(0.5).unwrap()
            })
            .collect();
        let mean = medians.iter().sum::<f64>() / 20_000.0;
        let var = medians.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / 20_000.0;
        assert!((var.sqrt() - 37.834_674).abs() < 0.6, "{}", var.sqrt());
        assert_eq!(limits(&mut medians, 0.025), Some((23.0, 141.0)));
    }

    #[test]
    fn the_same_seed_draws_the_same_and_setups_draw_apart() {
        let first = draw(&mut generator(1, "kit-amber"), 40);
        assert_eq!(first, draw(&mut generator(1, "kit-amber"), 40));
        assert_ne!(first, draw(&mut generator(1, "kit-slate"), 40));
        assert_ne!(first, draw(&mut generator(2, "kit-amber"), 40));
        assert_eq!(first.iter().sum::<u32>(), 40);
    }

    #[test]
    fn too_few_resamples_give_no_limits() {
        assert_eq!(limits(&mut [1.0; 50], 0.025), None);
        assert_eq!(limits(&mut [1.0; 500], 0.0), None);
    }
}
