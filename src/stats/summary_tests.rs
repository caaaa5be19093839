use super::*;
use crate::stats::fixtures::{clip, swings, trial, void};

/// Ten hits, one soft, one lost, one void: Wilson limits of 10/12 are those of
/// R 4.2.2 `prop.test(correct = FALSE)`, 0.5520 and 0.9530 (confirmed by
/// arithmetic of the closed form).
fn thirteen() -> Vec<Clip> {
    let ms = [214., 230., 268., 301., 322., 322., 344., 401., 541., 611.];
    let mut trials: Vec<_> = (0..)
        .zip(ms)
        .map(|(k, ms)| trial(k, Some(Side::Near), Some(ms), 1500.0))
        .collect();
    trials.push(trial(10, Some(Side::Far), None, 1500.0));
    let mut soft = trial(11, Some(Side::Far), None, 1500.0);
    soft.verdict = Verdict::Soft;
    soft.reason = None;
    soft.settle_s = Some(soft.onset_s + 0.3);
    trials.push(soft);
    trials.push(void(12, Some(Side::Far)));
    vec![clip("amber-1", trials)]
}

/// What a hit is on one side is not what it is on the other.
#[test]
fn rates_of_two_yardsticks_are_not_put_together() {
    let mut clips = thirteen();
    let far = clips[0].trials.iter_mut();
    far.filter(|t| t.side == Some(Side::Far))
        .for_each(|t| t.reference_from = Some(ReferenceFrom::Setup));
    let summary = summarise(&clips, 0.95).unwrap();
    assert_eq!(summary.all.hit_rate, None);
    assert!(summary.all.in_focus_by.values().all(Option::is_none));
    assert_eq!(summary.by_side[&Side::Near].hit_rate.unwrap().value, 1.0);
    assert_eq!((summary.all.judged, summary.all.hit), (12, 10));
}

#[test]
fn counts_rates_and_quantiles() {
    let summary = summarise(&thirteen(), 0.95).unwrap();
    let all = &summary.all;
    assert_eq!((all.trials, all.judged, all.hit), (13, 12, 10));
    assert_eq!((all.soft, all.lost, all.void), (1, 1, 1));
    let rate = all.hit_rate.unwrap();
    assert!((rate.value - 10.0 / 12.0).abs() < 1e-12);
    assert!((rate.low - 0.552).abs() < 5e-4 && (rate.high - 0.953).abs() < 5e-4);
    assert_eq!(all.in_focus_by["250_ms"], Some(2.0 / 12.0));
    assert_eq!(all.in_focus_by["500_ms"], Some(8.0 / 12.0));
    assert_eq!(all.in_focus_by["1000_ms"], Some(10.0 / 12.0));
    assert_eq!(all.latency_ms.n, 10);
    assert_eq!(all.latency_ms.p50, Some(322.0));
    assert_eq!(
        (all.latency_ms.p95, all.latency_ms.max),
        (None, Some(611.0))
    );
    // Half of twelve are in focus at the sixth hit: flat from 322 to 344.
    assert_eq!(all.time_to_focus_ms.median, Some(333.0));
    let mean = (214. + 230. + 268. + 301. + 322. * 2. + 344. + 401. + 541. + 611. + 3000.) / 12.0;
    assert!((all.time_to_focus_ms.restricted_mean.unwrap() - mean).abs() < 1e-6);
}

#[test]
fn sides_stand_apart_and_nothing_judged_is_null() {
    let summary = summarise(&thirteen(), 0.95).unwrap();
    let (near, far) = (&summary.by_side[&Side::Near], &summary.by_side[&Side::Far]);
    assert_eq!((near.judged, near.hit, near.void), (10, 10, 0));
    assert_eq!((far.judged, far.hit, far.void), (2, 0, 1));
    assert_eq!(far.time_to_focus_ms.median, None);
    assert_eq!(far.time_to_focus_ms.restricted_mean, Some(1500.0));
    let voids = vec![clip("v", vec![void(0, None), void(1, None)])];
    let empty = summarise(&voids, 0.95).unwrap();
    assert_eq!((empty.all.trials, empty.all.judged), (2, 0));
    assert_eq!(empty.all.hit_rate, None);
    assert_eq!(empty.all.in_focus_by["250_ms"], None);
    assert_eq!(empty.all.time_to_focus_ms, TimeToFocus::default());
    assert!(empty.by_side.is_empty());
}

#[test]
fn a_limit_beyond_a_window_is_null() {
    let mut trials = swings(&[Some(200.0), Some(300.0)]);
    trials.push(trial(2, Some(Side::Near), None, 800.0));
    let summary = summarise(&[clip("short", trials)], 0.95).unwrap();
    assert_eq!(summary.all.in_focus_by["500_ms"], Some(2.0 / 3.0));
    assert_eq!(summary.all.in_focus_by["1000_ms"], None);
    let mean = summary.all.time_to_focus_ms.restricted_mean.unwrap();
    assert!((mean - (200.0 + 300.0 + 800.0) / 3.0).abs() < 1e-6);
}

#[test]
fn the_histogram_holds_the_hits() {
    let summary = summarise(&thirteen(), 0.95).unwrap();
    let read = LatencyHistogram::from_text(&summary.hit_latency_us_histogram_v2).unwrap();
    assert_eq!(read.len(), 10);
}
