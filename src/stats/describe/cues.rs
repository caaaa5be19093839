//! Cues against the truth: a cue is a claim.
//!
//! In: the clips of a setup. Out: per cue how often and when it was shown, and
//! how its claims compare with the picture. Every judged trial in which the cue
//! was looked for and shown falls into exactly one of five counts:
//! `claimed_not_sharp`, `claimed_then_lost`, `claimed_early`,
//! `claimed_with_focus` or `sharp_first`.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::store::schema::{Clip, Cue, LatencyQuantiles, Rate, Side, Trial, Verdict};

use super::super::quantile;
use super::super::summary::{latency_quantiles, rate};

/// A cue against the truth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CueRecord {
    /// Judged trials in which the cue was looked for.
    pub judged: u64,
    /// Share of them in which it was shown.
    pub shown: Option<Rate>,
    /// Median latency where shown, ms.
    pub median_latency_ms: Option<f64>,
    /// Quantiles of its latency where shown, ms.
    pub latency_ms: LatencyQuantiles,
    /// Trials in which it had come on before the onset and was still on.
    pub on_at_onset: u64,
    /// Shown although the picture never was sharp: soft, or lost for another
    /// reason than that it did not stay.
    pub claimed_not_sharp: u64,
    /// Shown in a trial that was lost because it did not stay sharp.
    pub claimed_then_lost: u64,
    /// Shown before focus settled, among hits, by more than one screen update.
    pub claimed_early: u64,
    /// By how much: median and most, ms.
    pub early_by_ms: Option<[f64; 2]>,
    /// Shown within one screen update of settling.
    pub claimed_with_focus: u64,
    /// Shown after focus had settled, by more than one screen update.
    pub sharp_first: u64,
    /// By how much: median and most, ms.
    pub sharp_first_by_ms: Option<[f64; 2]>,
    /// Hits in which it was not shown.
    pub sharp_unclaimed: u64,
    /// The cue is heard, the picture is seen later by the screen's lag, and that
    /// is not known: `claimed_early` holds it.
    pub lag_included: bool,
}

/// One judged trial with the cue.
struct Seen<'a> {
    trial: &'a Trial,
    cue: &'a Cue,
    /// One screen update of its clip, ms.
    update_ms: f64,
    lag_ms: Option<f64>,
}

impl Seen<'_> {
    /// How long after settling the cue was shown, ms; below 0 before.
    fn after_settle_ms(&self) -> Option<f64> {
        let apart = (self.cue.shown_s? - self.trial.settle_s?) * 1000.0;
        // What is heard is not delayed by the screen.
        let lag = self.lag_ms.filter(|_| self.cue.heard);
        Some(apart + lag.unwrap_or(0.0))
    }
}

/// The cues of all trials, or of one side's.
pub(super) fn cues(
    clips: &[Clip],
    side: Option<Side>,
    confidence: f64,
) -> BTreeMap<String, CueRecord> {
    let judged: Vec<(&Clip, &Trial)> = clips
        .iter()
        .flat_map(|c| c.trials.iter().map(move |t| (c, t)))
        .filter(|(_, t)| t.verdict != Verdict::Void && (side.is_none() || t.side == side))
        .collect();
    let names: BTreeSet<&String> = judged.iter().flat_map(|(_, t)| t.cues.keys()).collect();
    names
        .into_iter()
        .map(|name| {
            let seen: Vec<Seen> = judged
                .iter()
                .filter_map(|(clip, trial)| {
                    Some(Seen {
                        trial,
                        cue: trial.cues.get(name)?,
                        update_ms: update_ms(clip),
                        lag_ms: clip.live_view_lag_ms,
                    })
                })
                .collect();
            (name.clone(), record(&seen, confidence))
        })
        .collect()
}

/// The longest of refresh, live-view period and frame, ms.
fn update_ms(clip: &Clip) -> f64 {
    let rates = [
        clip.screen.refresh_hz,
        clip.screen.live_view_hz,
        clip.capture_fps,
    ];
    let slowest = rates.into_iter().flatten().reduce(f64::min);
    slowest.map_or(0.0, |hz| 1000.0 / hz)
}

fn record(seen: &[Seen], confidence: f64) -> CueRecord {
    let shown: Vec<&Seen> = seen.iter().filter(|s| s.cue.shown_s.is_some()).collect();
    let hits = || shown.iter().filter(|s| s.trial.verdict == Verdict::Hit);
    let mut latencies: Vec<f64> = shown.iter().filter_map(|s| s.cue.latency_ms).collect();
    latencies.sort_by(f64::total_cmp);
    let stayed_not = |s: &Seen| s.trial.reason.as_deref() == Some("did not stay");
    let missed = |lost_again: bool| {
        shown
            .iter()
            .filter(|s| s.trial.verdict != Verdict::Hit && stayed_not(s) == lost_again)
            .count() as u64
    };
    let apart = |wanted: &dyn Fn(f64, f64) -> bool| -> Vec<f64> {
        let mut list: Vec<f64> = hits()
            .filter_map(|s| Some((s.after_settle_ms()?, s.update_ms)))
            .filter(|(ms, update)| wanted(*ms, *update))
            .map(|(ms, _)| ms.abs())
            .collect();
        list.sort_by(f64::total_cmp);
        list
    };
    let early = apart(&|ms, update| ms < -update);
    let late = apart(&|ms, update| ms > update);
    let unclaimed = seen.iter().filter(|s| s.cue.shown_s.is_none());
    CueRecord {
        judged: seen.len() as u64,
        shown: rate(shown.len() as u64, seen.len() as u64, confidence),
        median_latency_ms: quantile::type_8(&latencies, 0.5),
        latency_ms: latency_quantiles(&latencies),
        on_at_onset: seen.iter().filter(|s| s.cue.on_at_onset).count() as u64,
        claimed_not_sharp: missed(false),
        claimed_then_lost: missed(true),
        claimed_early: early.len() as u64,
        early_by_ms: middle_and_most(&early),
        claimed_with_focus: hits().count() as u64 - (early.len() + late.len()) as u64,
        sharp_first: late.len() as u64,
        sharp_first_by_ms: middle_and_most(&late),
        sharp_unclaimed: unclaimed
            .filter(|s| s.trial.verdict == Verdict::Hit)
            .count() as u64,
        lag_included: hits().any(|s| s.cue.heard && s.lag_ms.is_none()),
    }
}

fn middle_and_most(sorted: &[f64]) -> Option<[f64; 2]> {
    Some([quantile::type_8(sorted, 0.5)?, *sorted.last()?])
}
