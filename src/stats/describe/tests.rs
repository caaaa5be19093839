use super::*;
use crate::stats::fixtures::{clip, swings, trial, void};
use crate::store::schema::{Cue, ReferenceFrom};

#[test]
fn cues_are_held_against_the_truth() {
    let mut trials = swings(&[Some(300.0), Some(200.0), None, Some(250.0)]);
    let shown = [Some(250.0), Some(260.0), Some(400.0), None];
    for (t, at) in trials.iter_mut().zip(shown) {
        let cue = Cue {
            shown_s: at.map(|ms| t.onset_s + ms / 1000.0),
            latency_ms: at,
            on_at_onset: false,
            heard: false,
        };
        t.cues.insert("subject box".to_owned(), cue);
    }
    let got = describe(&[clip("a", trials)], Latencies::AsSeen, 0.95);
    let cue = got.cues["subject box"];
    assert_eq!((cue.judged, cue.shown.unwrap().value), (4, 0.75));
    assert_eq!(cue.median_latency_ms, Some(260.0));
    assert_eq!((cue.claimed_not_sharp, cue.claimed_early), (1, 1));
}

#[test]
fn voids_exclusions_and_hunting_are_told() {
    let mut trials = swings(&[Some(300.0), Some(200.0), None]);
    trials[0].reversals = Some(2);
    trials[1].reversals = Some(0);
    trials[0].reference_from = Some(ReferenceFrom::Setup);
    trials.push(void(3, Some(Side::Far)));
    let mut out = void(4, Some(Side::Near));
    out.reason = Some("excluded: somebody walked through".to_owned());
    trials.push(out);
    let got = describe(&[clip("a", trials)], Latencies::AsSeen, 0.95);
    assert_eq!(got.all.with_reversals, Some(0.5));
    assert_eq!(got.all.mean_reversals, Some(1.0));
    assert_eq!(got.all.with_relapses, None);
    assert_eq!(got.void_reasons["cut"], 1);
    assert_eq!(got.void_reasons["excluded"], 1);
    assert_eq!(got.excluded[0].trial, "a.mp4:4");
    assert_eq!(got.excluded[0].reason, "somebody walked through");
    assert!(got.own_reference);
    assert_eq!(got.uncertainty_ms, Some([6.9, 6.9]));
}

#[test]
fn clips_and_drift() {
    let slow: Vec<_> = (0..12)
        .map(|k| trial(k, None, Some(300.0 + f64::from(k)), 1500.0))
        .collect();
    let fast: Vec<_> = (0..12)
        .map(|k| trial(k, None, Some(200.0 + f64::from(k)), 1500.0))
        .collect();
    let got = describe(&[clip("a", fast), clip("b", slow)], Latencies::AsSeen, 0.95);
    let spread = got.between_clips.unwrap();
    assert_eq!((spread.clips, spread.medians_ms), (2, [205.5, 305.5]));
    assert!(spread.share > 0.9 && spread.p < 1e-6);
    let drift = got.drift.unwrap();
    assert!(drift.p < 1e-3 && drift.ms_per_10_trials.unwrap() > 10.0);
    let median = got.all.latency_ms["p50"].unwrap();
    assert!(median.low.unwrap() < median.value && median.value < median.high.unwrap());
}

/// The spread of 210, 230 and 250 ms is 20 ms with n − 1, by the formula; a
/// swing that finds the picture in focus after a miss is counted as such.
#[test]
fn spread_of_hits_and_voids_after_a_miss() {
    let mut trials = swings(&[Some(210.0), None, None, Some(230.0), Some(250.0), None]);
    for (k, after) in [(2, "not displaced"), (5, "cut")] {
        trials[k] = void(k as u32, trials[k].side);
        trials[k].reason = Some(after.to_owned());
    }
    let mut first = void(6, None);
    first.reason = Some("not displaced".to_owned());
    trials.push(first);
    let got = describe(&[clip("a", trials)], Latencies::AsSeen, 0.95);
    assert!((got.all.hit_sd_ms.unwrap() - 20.0).abs() < 1e-9);
    assert_eq!(got.void_reasons["not displaced"], 2);
    assert_eq!(got.not_displaced_after_miss, 1);
}

#[test]
fn an_excluded_trial_is_named_as_people_do() {
    let excluded = Excluded {
        trial: "../clips/amber-2.mp4:3".to_owned(),
        reason: "somebody walked through".to_owned(),
    };
    assert_eq!(excluded.in_words(), "amber-2.mp4, trial 3 (counted from 0)");
}
