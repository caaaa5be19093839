use super::*;

pub(crate) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut v = values.to_vec();
    v.sort_by(f64::total_cmp);
    v
}

/// Permeability of a membrane at two ages: Hollander & Wolfe 1973, p. 69 f,
/// the data of R's `?wilcox.test`.
pub(crate) fn permeability() -> (Vec<f64>, Vec<f64>) {
    (
        sorted(&[0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]),
        sorted(&[1.15, 0.88, 0.90, 0.74, 1.21]),
    )
}

/// Confirmed by running R 4.2.2 `wilcox.test` and scipy 1.17.1.
#[test]
fn hollander_wolfe_exact() {
    let (x, y) = permeability();
    let got = mann_whitney(&[(&x, &y)]).unwrap();
    assert_eq!((got.u, got.pairs, got.exact), (35.0, 50.0, true));
    assert!((got.p - 0.254_412_254_412).abs() < 1e-11);
    assert_eq!(smaller_probability(&[(&x, &y)]), Some(0.3));
    assert_eq!(interval_rank(&[(&x, &y)], 0.95), Some(9));
    // Achieved levels 0.972 (k = 8) and 0.981 (k = 7), as R reports them.
    assert_eq!(interval_rank(&[(&x, &y)], 0.965), Some(8));
    assert_eq!(interval_rank(&[(&x, &y)], 0.98), Some(7));
}

/// Pain scores of Brunner & Munzel 2000; confirmed by running scipy 1.17.1 and
/// statsmodels 0.15.0 (tie-corrected normal approximation with continuity
/// correction).
#[test]
fn ties_use_the_corrected_normal_law() {
    let y = sorted(&[1., 2., 1., 1., 1., 1., 1., 1., 1., 1., 2., 4., 1., 1.]);
    let n = sorted(&[3., 3., 4., 3., 1., 2., 3., 1., 1., 5., 4.]);
    let got = mann_whitney(&[(&y, &n)]).unwrap();
    assert_eq!((got.u, got.exact), (32.5, false));
    assert!((got.p - 0.007_740_786_705).abs() < 1e-10, "{}", got.p);
    let p = smaller_probability(&[(&y, &n)]).unwrap();
    assert!((p - 0.788_961_038_961).abs() < 1e-11);
}

/// The exact law against every split of a small pool, and of two pools.
#[test]
fn exact_law_against_full_enumeration() {
    fn splits(total: usize, m: usize) -> Vec<usize> {
        (0u32..1 << total)
            .filter(|bits| bits.count_ones() as usize == m)
            .map(|bits| {
                let (mut u, mut others) = (0, 0);
                for k in 0..total {
                    if bits >> k & 1 == 1 {
                        u += others;
                    } else {
                        others += 1;
                    }
                }
                u
            })
            .collect()
    }
    let (first, second) = (splits(7, 3), splits(6, 2));
    let law = one_law(3, 4);
    for (u, q) in law.iter().enumerate() {
        let want = first.iter().filter(|&&x| x == u).count() as f64 / first.len() as f64;
        assert!((q - want).abs() < 1e-12);
    }
    let both = convolve(&law, &one_law(2, 4));
    for (u, q) in both.iter().enumerate() {
        let count = first
            .iter()
            .flat_map(|a| second.iter().map(move |b| a + b))
            .filter(|&x| x == u)
            .count();
        let want = count as f64 / (first.len() * second.len()) as f64;
        assert!((q - want).abs() < 1e-12);
    }
}

#[test]
fn the_law_of_large_groups_stays_a_law() {
    let law = one_law(49, 49);
    assert!((law.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(law.iter().all(|&q| q >= 0.0));
    let middle = law
        .iter()
        .enumerate()
        .map(|(u, q)| u as f64 * q)
        .sum::<f64>();
    assert!((middle - 49.0 * 49.0 / 2.0).abs() < 1e-6);
}

#[test]
fn misses_are_later_than_every_hit_and_tie_among_themselves() {
    let inf = f64::INFINITY;
    let a = [100.0, 200.0, inf];
    let b = [150.0, inf, inf];
    // Pairs: 100 wins 3, 200 wins 2, the miss ties with two.
    assert_eq!(
        smaller_probability(&[(&a, &b)]),
        Some((3.0 + 2.0 + 1.0) / 9.0)
    );
    assert_eq!(smaller_probability(&[(&a, &[])]), None);
    assert!(mann_whitney(&[(&[1.0, 1.0], &[1.0, 1.0])]).is_none());
}
