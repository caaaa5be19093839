use super::*;
use crate::stats::normal::two_sided_z;

fn watched(times: &[f64], events: &[u8]) -> Vec<Watched> {
    times
        .iter()
        .zip(events)
        .map(|(&ms, &e)| Watched { ms, hit: e == 1 })
        .collect()
}

/// Remission trial of 6-mercaptopurine: Freireich et al. 1963, Blood 21:699.
pub(crate) fn six_mp() -> Vec<Watched> {
    watched(
        &[
            6., 6., 6., 6., 7., 9., 10., 10., 11., 13., 16., 17., 19., 20., 22., 23., 25., 32.,
            32., 34., 35.,
        ],
        &[
            1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0,
        ],
    )
}

/// Its placebo arm.
pub(crate) fn placebo() -> Vec<Watched> {
    watched(
        &[
            1., 1., 2., 2., 3., 4., 4., 5., 5., 8., 8., 8., 8., 11., 11., 12., 12., 15., 17., 22.,
            23.,
        ],
        &[1; 21],
    )
}

/// Maintenance of remission, Embury et al. 1977; R `survival::aml`.
pub(crate) fn aml() -> (Vec<Watched>, Vec<Watched>) {
    (
        watched(
            &[9., 13., 13., 18., 23., 28., 31., 34., 45., 48., 161.],
            &[1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 0],
        ),
        watched(
            &[5., 5., 8., 8., 12., 16., 23., 27., 30., 33., 43., 45.],
            &[1, 1, 1, 1, 1, 0, 1, 1, 1, 1, 1, 1],
        ),
    )
}

/// Confirmed by running R 4.2.2 survival 3.5.3, lifelines 0.30.3 and
/// statsmodels 0.15.0 on the remission trial.
#[test]
fn curve_greenwood_and_log_log_limits() {
    let z = two_sided_z(0.95);
    let curve = Curve::new(&six_mp()).unwrap();
    let rows = [
        (
            6.,
            21,
            3,
            0.857_142_857_1,
            0.076_360_354_8,
            0.619_718,
            0.951_552,
        ),
        (
            7.,
            17,
            1,
            0.806_722_689_1,
            0.086_935_285_2,
            0.563_147,
            0.922_809,
        ),
        (
            10.,
            15,
            1,
            0.752_941_176_5,
            0.096_349_653_0,
            0.503_200,
            0.889_362,
        ),
        (
            13.,
            12,
            1,
            0.690_196_078_4,
            0.106_814_707_8,
            0.431_610,
            0.849_066,
        ),
        (
            16.,
            11,
            1,
            0.627_450_980_4,
            0.114_053_865_3,
            0.367_511,
            0.804_912,
        ),
        (
            22.,
            7,
            1,
            0.537_815_126_1,
            0.128_233_751_7,
            0.267_779,
            0.746_791,
        ),
        (
            23.,
            6,
            1,
            0.448_179_271_7,
            0.134_591_456_8,
            0.188_052,
            0.680_143,
        ),
    ];
    assert_eq!(curve.steps().len(), rows.len());
    for (step, (t, n, d, s, se, low, high)) in curve.steps().iter().zip(rows) {
        assert_eq!((step.ms, step.at_risk, step.hits), (t, n, d));
        assert!((step.waiting - s).abs() < 1e-9);
        assert!((step.waiting * step.greenwood.sqrt() - se).abs() < 1e-9);
        let (l, h) = step.log_log(z).unwrap();
        assert!((l - low).abs() < 1e-6 && (h - high).abs() < 1e-6, "t = {t}");
    }
    let end = *Curve::new(&placebo()).unwrap().steps().last().unwrap();
    assert_eq!(end.waiting, 0.0);
    assert_eq!(end.log_log(z), None);
}

/// Confirmed by running R 4.2.2 survival 3.5.3 `quantile(survfit)` with
/// `conf.type = "log-log"`, lifelines and statsmodels.
#[test]
fn median_with_its_interval() {
    let z = two_sided_z(0.95);
    let sets = [
        (six_mp(), 23.0, Some(13.0), None),
        (placebo(), 8.0, Some(4.0), Some(11.0)),
        (aml().0, 31.0, Some(13.0), None),
        (aml().1, 23.0, Some(5.0), Some(33.0)),
    ];
    for (data, median, low, high) in sets {
        let curve = Curve::new(&data).unwrap();
        assert_eq!(curve.quantile(0.5), Some(median));
        assert_eq!(curve.quantile_interval(0.5, z), (low, high));
    }
    let curve = Curve::new(&six_mp()).unwrap();
    assert_eq!(
        (curve.quantile(0.25), curve.quantile(0.75)),
        (Some(13.0), None)
    );
    let curve = Curve::new(&placebo()).unwrap();
    assert_eq!(
        (curve.quantile(0.25), curve.quantile(0.75)),
        (Some(4.0), Some(12.0))
    );
}

/// A flat piece at exactly one half: its midpoint, as R 4.2.2 survival 3.5.3
/// answers when run (other libraries take one end or the other).
#[test]
fn a_flat_median_is_its_midpoint() {
    let times = [1.0, 2.0, 3.0, 4.0];
    for (events, want) in [
        ([1, 1, 1, 1], 2.5),
        ([1, 1, 0, 1], 3.0),
        ([1, 1, 0, 0], 3.0),
    ] {
        let curve = Curve::new(&watched(&times, &events)).unwrap();
        assert_eq!(curve.quantile(0.5), Some(want));
    }
}

/// Confirmed by running R 4.2.2 survival 3.5.3 `summary(survfit, rmean = τ)`.
#[test]
fn restricted_mean_and_its_standard_error() {
    let (maintained, not) = aml();
    let rows = [
        (six_mp(), 20.0, 16.116_526_610_64, 1.251_560_196_01),
        (placebo(), 20.0, 8.428_571_428_57, 1.268_082_682_50),
        (six_mp(), 23.0, 17.909_243_697_48, 1.553_189_978_25),
        (placebo(), 23.0, 8.666_666_666_67, 1.377_390_041_26),
        (six_mp(), 35.0, 23.287_394_957_98, 2.827_467_623_37),
        (placebo(), 35.0, 8.666_666_666_67, 1.377_390_041_26),
        (maintained, 40.0, 28.897_727_272_7, 3.467_577_678_89),
        (not, 40.0, 21.930_555_555_6, 3.835_641_163_18),
    ];
    for (data, limit, mean, se) in rows {
        let got = Curve::new(&data).unwrap().restricted_mean(limit).unwrap();
        assert!((got.mean - mean).abs() < 1e-9, "{got:?}");
        assert!((got.standard_error - se).abs() < 1e-9, "{got:?}");
    }
}

#[test]
fn what_was_not_watched_is_not_claimed() {
    assert_eq!(Curve::new(&[]), None);
    let curve = Curve::new(&watched(&[3.0, 5.0], &[1, 0])).unwrap();
    assert!(curve.restricted_mean(5.0).is_some());
    assert_eq!(curve.restricted_mean(6.0), None);
    let never = Curve::new(&watched(&[5.0, 5.0], &[0, 0])).unwrap();
    assert_eq!(never.quantile(0.5), None);
    assert_eq!(never.restricted_mean(5.0).unwrap().mean, 5.0);
}

#[test]
fn a_mixture_weighs_the_sides_not_the_trials() {
    let near = Curve::new(&watched(&[1.0, 2.0, 3.0, 4.0], &[1, 1, 1, 1])).unwrap();
    let far = Curve::new(&watched(&[10.0, 20.0], &[1, 1])).unwrap();
    assert_eq!(mixed_quantile(&[(1.0, &near)], 0.5), near.quantile(0.5));
    // Half of the weight is gone at 4 and stays so until 10.
    let both = [(0.5, &near), (0.5, &far)];
    assert_eq!(mixed_quantile(&both, 0.5), Some(7.0));
    assert_eq!(mixed_quantile(&both, 0.7), Some(10.0));
    let never = Curve::new(&watched(&[9.0], &[0])).unwrap();
    assert_eq!(mixed_quantile(&[(0.5, &near), (0.5, &never)], 0.6), None);
}
