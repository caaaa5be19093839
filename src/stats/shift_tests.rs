use proptest::prelude::*;

use super::*;
use crate::stats::ranks::tests::{permeability, sorted};

/// Hollander & Wolfe 1973, p. 69 f; confirmed by running R 4.2.2
/// `wilcox.test(conf.int = TRUE)`.
#[test]
fn hollander_wolfe_shift_and_interval() {
    let (x, y) = permeability();
    let got = hodges_lehmann(&[(&x, &y)], 0.95).unwrap();
    assert!((got.value - 0.305).abs() < 1e-12);
    assert!((got.low.unwrap() + 0.15).abs() < 1e-12);
    assert!((got.high.unwrap() - 0.76).abs() < 1e-12);
    let wider = hodges_lehmann(&[(&x, &y)], 0.98).unwrap();
    assert!((wider.low.unwrap() + 0.17).abs() < 1e-12);
    assert!((wider.high.unwrap() - 0.90).abs() < 1e-12);
}

#[test]
fn too_few_for_an_interval() {
    let got = hodges_lehmann(&[(&[3.0, 5.0], &[1.0, 2.0])], 0.95).unwrap();
    assert_eq!((got.value, got.low, got.high), (2.5, None, None));
    assert_eq!(hodges_lehmann(&[(&[], &[1.0])], 0.95), None);
}

fn naive(strata: &[(Vec<f64>, Vec<f64>)]) -> f64 {
    let mut all: Vec<f64> = strata
        .iter()
        .flat_map(|(a, b)| a.iter().flat_map(move |x| b.iter().map(move |y| x - y)))
        .collect();
    all.sort_by(f64::total_cmp);
    f64::midpoint(all[(all.len() - 1) / 2], all[all.len() / 2])
}

fn values() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((0u32..4000).prop_map(|v| f64::from(v) / 4.0), 1..25)
}

proptest! {
    #[test]
    fn counting_finds_the_median_of_all_differences(a in values(), b in values(), c in values(), d in values()) {
        let strata = [(sorted(&a), sorted(&b)), (sorted(&c), sorted(&d))];
        let views: Vec<_> = strata.iter().map(|(x, y)| (x.as_slice(), y.as_slice())).collect();
        let got = hodges_lehmann(&views, 0.95).unwrap();
        prop_assert_eq!(got.value, naive(&strata));
        let flipped: Vec<_> = views.iter().map(|&(x, y)| (y, x)).collect();
        let back = hodges_lehmann(&flipped, 0.95).unwrap();
        prop_assert_eq!(back.value, -got.value);
        prop_assert_eq!(back.low.map(|v| -v), got.high);
        if let (Some(low), Some(high)) = (got.low, got.high) {
            prop_assert!(low <= got.value && got.value <= high);
        }
    }

    /// Weights are counts: a clip that counts twice is as if listed twice.
    #[test]
    fn weights_are_repetitions(a in prop::collection::vec(values(), 2..4), b in prop::collection::vec(values(), 2..4), w in prop::collection::vec(0u32..3, 8)) {
        let gather = |clips: &[Vec<f64>]| {
            let mut all: Vec<(f64, usize)> = clips.iter().enumerate().flat_map(|(k, c)| c.iter().map(move |&v| (v, k))).collect();
            all.sort_by(|x, y| x.0.total_cmp(&y.0));
            Clustered { values: all.iter().map(|v| v.0).collect(), clips: all.iter().map(|v| v.1).collect() }
        };
        let repeat = |clips: &[Vec<f64>], w: &[u32]| {
            let all: Vec<f64> = clips.iter().zip(w).flat_map(|(c, &w)| c.repeat(w as usize)).collect();
            sorted(&all)
        };
        let (w_a, w_b) = w.split_at(4);
        let got = weighted_shift(&[(&gather(&a), &gather(&b))], w_a, w_b, 0.0, 5.0);
        let (x, y) = (repeat(&a, w_a), repeat(&b, w_b));
        if x.is_empty() || y.is_empty() {
            prop_assert_eq!(got, None);
        } else {
            // As near as asked: the share of differences below is one half to
            // within 2e-4, or the crossing is bracketed to 0.01 ms.
            let t = got.unwrap();
            let pairs = (x.len() * y.len()) as f64;
            let upto = count_upto(&[(&x, &y)], t + 0.02) as f64 / pairs;
            let under = count_upto(&[(&x, &y)], t - 0.02) as f64 / pairs;
            prop_assert!(upto >= 0.5 - 2e-4 && under <= 0.5 + 2e-4, "{t} {under} {upto}");
        }
    }
}
