//! The whole: agreement, its symmetry, and the threshold.

use proptest::prelude::*;
use rand::RngExt;

use super::super::bootstrap::generator;
use super::super::normal;
use super::*;

fn judged(counts: [usize; 4]) -> Vec<Judged> {
    let kinds = [(true, true), (true, false), (false, true), (false, false)];
    let each = kinds.iter().zip(counts);
    each.flat_map(|(&(hit, good), n)| std::iter::repeat_n(Judged { hit, good }, n))
        .collect()
}

/// 35 of 50: limits by running statsmodels 0.15.0 `proportion_confint`
/// (wilson).
#[test]
fn agreement_of_fifty_trials() {
    let got = agreement(&judged([20, 5, 10, 15]), 0.95).unwrap();
    assert_eq!(got.counts.table(), [[20, 5], [10, 15]]);
    assert!((got.agreed.value - 0.7).abs() < 1e-12);
    assert!((got.agreed.low - 0.562_496_495_355).abs() < 1e-9);
    assert!((got.agreed.high - 0.808_964_464_991).abs() < 1e-9);
    assert_eq!(agreement(&[], 0.95), None);
}

proptest! {
    /// Who is called the first judge makes no difference to what is found.
    #[test]
    fn swapping_the_judges_swaps_the_corners(
        all in proptest::collection::vec((any::<bool>(), any::<bool>()), 1..80),
    ) {
        let one: Vec<_> = all.iter().map(|&(hit, good)| Judged { hit, good }).collect();
        let other: Vec<_> = all.iter().map(|&(good, hit)| Judged { hit, good }).collect();
        let (a, b) = (agreement(&one, 0.9).unwrap(), agreement(&other, 0.9).unwrap());
        prop_assert_eq!(a.counts.all(), all.len() as u64);
        prop_assert_eq!(a.counts.hit_bad, b.counts.miss_good);
        prop_assert_eq!(a.counts.miss_good, b.counts.hit_bad);
        prop_assert_eq!(a.agreed, b.agreed);
        prop_assert_eq!(a.mcnemar.map(|m| (m.exact_p, m.corrected)), b.mcnemar.map(|m| (m.exact_p, m.corrected)));
        prop_assert_eq!(a.kappa.is_some(), b.kappa.is_some());
        if let Some((x, y)) = a.kappa.zip(b.kappa) {
            prop_assert!((x.value - y.value).abs() < 1e-12);
            prop_assert!((x.se - y.se).abs() < 1e-7);
        }
    }

    /// A blur twice as large has a threshold twice as large, and one more blur
    /// that all have moves it by as much.
    #[test]
    fn the_threshold_goes_along_with_its_unit(
        blurs in proptest::collection::vec((0u32..60, any::<bool>()), 30..60),
        more in 0u32..20,
    ) {
        let made = |times: f64, more: f64| -> Vec<Shown> {
            let one = |&(blur, good): &(u32, bool)| Shown {
                clip: 0,
                permille: f64::from(blur) * times + more,
                good,
            };
            blurs.iter().map(one).collect()
        };
        let ask = Ask { confidence: 0.95, seed: 3, resamples: 1 };
        let more = f64::from(more);
        match (part(&made(1.0, 0.0), &ask), part(&made(2.0, more), &ask)) {
            (Ok(a), Ok(b)) => {
                prop_assert_eq!(a.threshold_permille * 2.0 + more, b.threshold_permille);
                prop_assert_eq!(a.area, b.area);
                prop_assert!(a.youden_j > 0.0 && a.youden_j <= 1.0);
            }
            (a, b) => prop_assert_eq!(a.err(), b.err()),
        }
    }
}

const GOOD: [f64; 24] = [
    1.9, 4.2, 1.4, 2.8, 3.1, 5.1, 3.0, 1.3, 3.3, 1.6, 0.9, 2.5, 0.2, 1.2, 0.4, 3.4, 1.0, 3.1, 2.7,
    1.6, 2.4, 3.9, 1.0, 0.3,
];
const BAD: [f64; 13] = [
    7.6, 11.2, 8.0, 9.3, 8.0, 1.9, 5.1, 4.6, 7.0, 7.9, 7.5, 9.9, 5.3,
];
const ASK: Ask = Ask {
    confidence: 0.95,
    seed: 1,
    resamples: 999,
};

/// Trials in turn in so many clips.
fn shown(good: &[f64], bad: &[f64], clips: usize) -> Vec<Shown> {
    let good = good.iter().map(|&permille| (permille, true));
    let all = good.chain(bad.iter().map(|&permille| (permille, false)));
    let one = |(k, (permille, good))| Shown {
        clip: k % clips,
        permille,
        good,
    };
    all.enumerate().map(one).collect()
}

/// Area, best J and its rates by running scikit-learn 1.9.1 `roc_auc_score` and
/// `roc_curve` (4.6 is the lowest blur called bad there, 4.2 the blur before
/// it); limits of the area by scipy 1.17.1 `brentq`.
#[test]
fn threshold_as_scikit_learn() {
    let got = part(&shown(&GOOD, &BAD, 1), &ASK).unwrap();
    assert!((got.threshold_permille - 4.4).abs() < 1e-12, "{got:?}");
    assert!((got.youden_j - 0.881_410_256_410).abs() < 1e-11);
    assert_eq!((got.sensitivity.count, got.sensitivity.of), (12, 13));
    assert_eq!((got.specificity.count, got.specificity.of), (23, 24));
    assert!((got.area.value - 0.955_128_205_128).abs() < 1e-11);
    assert!((got.area.low - 0.805_010_576_567).abs() < 1e-9);
    assert!((got.area.high - 0.989_937_878_934).abs() < 1e-9);
    let limits = got.interval.unwrap();
    assert!(limits.low < 4.4 && limits.high > 4.4, "{limits:?}");
}

#[test]
fn the_seed_decides_the_interval_and_clips_are_drawn_whole() {
    let few = part(&shown(&GOOD, &BAD, 4), &ASK).unwrap();
    assert_eq!(few.drawn, super::resample::Unit::Trials);
    assert_eq!(part(&shown(&GOOD, &BAD, 4), &ASK).unwrap(), few);
    let other = Ask { seed: 2, ..ASK };
    assert_ne!(
        part(&shown(&GOOD, &BAD, 4), &other).unwrap().interval,
        few.interval
    );
    let many = part(&shown(&GOOD, &BAD, 6), &ASK).unwrap();
    assert_eq!(many.drawn, super::resample::Unit::Clips);
    assert!(many.interval.is_some());
}

#[test]
fn why_there_is_no_threshold() {
    let told = |good: &[f64], bad: &[f64]| part(&shown(good, bad, 1), &ASK).unwrap_err();
    assert_eq!(told(&GOOD[..9], &BAD), NotParted::TooFewGood { good: 9 });
    assert_eq!(told(&GOOD, &BAD[..4]), NotParted::TooFewBad { bad: 4 });
    assert_eq!(told(&[3.0; 12], &[3.0; 12]), NotParted::NotBlurrier);
    assert_eq!(told(&[5.0; 12], &[3.0; 12]), NotParted::NotBlurrier);
    let mut broken = GOOD;
    broken[7] = f64::NAN;
    assert_eq!(told(&broken, &BAD), NotParted::NoNumber { place: 7 });
}

/// By hand: J of 20 good and 20 bad is 1/4 at 1.5, 3.5 and 5.5, less between
/// them and above; without the last steps it is 1/4 at 1.5 and 3.5.
#[test]
fn of_equal_thresholds_the_middle_one() {
    let told = |good: &[(usize, f64)], bad: &[(usize, f64)]| {
        let all = |steps: &[(usize, f64)]| -> Vec<f64> {
            let each = steps.iter();
            each.flat_map(|&(n, at)| std::iter::repeat_n(at, n))
                .collect()
        };
        let got = part(&shown(&all(good), &all(bad), 1), &ASK).unwrap();
        (got.threshold_permille, got.youden_j)
    };
    let three = told(
        &[(5, 1.0), (5, 3.0), (5, 5.0), (5, 8.0)],
        &[(5, 2.0), (5, 4.0), (10, 6.0)],
    );
    assert_eq!(three, (3.5, 0.25));
    let two = told(&[(5, 1.0), (5, 3.0), (10, 5.0)], &[(5, 2.0), (15, 4.0)]);
    assert_eq!(two, (1.5, 0.25));
}

/// Blur of good ones N(0, 1), of bad ones N(3, 1): the densities cross at 1.5,
/// where J is largest. Of 120 sessions with 50 good and 10 bad the 95 % interval
/// holds it in nine of ten or more; drawn without smoothing it would in two
/// thirds.
#[test]
fn the_interval_holds_the_best_threshold() {
    let mut rng = generator(5, "sessions");
    let mut normal = |n: usize, mean: f64| -> Vec<f64> {
        let one = |_| mean + normal::quantile(rng.random_range(f64::EPSILON..1.0));
        (0..n).map(one).collect()
    };
    let held = (0..120).filter(|_| {
        let (good, bad) = (normal(50, 0.0), normal(10, 3.0));
        let ask = Ask {
            resamples: 199,
            ..ASK
        };
        let limits = part(&shown(&good, &bad, 1), &ask)
            .unwrap()
            .interval
            .unwrap();
        limits.low <= 1.5 && limits.high >= 1.5
    });
    let held = held.count();
    assert!(held >= 106, "{held} of 120");
}
