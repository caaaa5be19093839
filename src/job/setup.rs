//! One setup: its clips' observed trials judged against its own references.

use std::collections::BTreeMap;

use super::clip::{Watched, screen_record};
use crate::rig::{MeasureSpec, Rig, Settle, Setup};
use crate::sharpness::defaults;
use crate::stats::quantile::type_8;
use crate::store::schema::{self, Side, Verdict};
use crate::trial::lag::Lag;
use crate::trial::{Judged, Observed, Reference, Settings, judge, references};

/// A clip as far as it came.
pub struct Outcome {
    /// Path to write down, relative to the timing file's folder.
    pub path: String,
    /// SHA-256, empty where the file could not be read.
    pub sha256: String,
    /// True rate used.
    pub capture_fps: Option<f64>,
    /// Version of FFmpeg that decoded it.
    pub ffmpeg: Option<String>,
    /// What was seen, or why nothing was.
    pub watched: Result<Watched, String>,
    /// Trials the user takes out, with the reason.
    pub excluded: BTreeMap<u32, String>,
}

/// The rig's settings with the measure's defaults filled in.
#[must_use]
pub fn settings(rig: &Rig) -> Settings {
    let own = defaults(&rig.measure);
    Settings {
        window_s: rig.trial.window.seconds(),
        hold_s: rig.trial.hold.seconds(),
        tolerance: rig.trial.tolerance.unwrap_or(own.tolerance),
        hit_ratio: rig.trial.hit_ratio.unwrap_or(own.hit_ratio),
        rate_u: 0.0,
    }
}

/// Judges all clips of a setup together.
#[must_use]
pub fn judge_setup(
    setup: &Setup,
    outcomes: &[Outcome],
    by_hand: &BTreeMap<Option<Side>, f64>,
) -> Vec<schema::Clip> {
    let settings = settings(&setup.rig);
    let all: Vec<&Observed> = outcomes
        .iter()
        .filter_map(|o| o.watched.as_ref().ok())
        .flat_map(|w| &w.trials)
        .collect();
    let refs = references(&all, by_hand, |sorted, p| {
        type_8(sorted, p).or_else(|| sorted.last().copied())
    });
    outcomes
        .iter()
        .map(|o| clip_record(&setup.rig, o, &refs, &settings))
        .collect()
}

fn clip_record(
    rig: &Rig,
    outcome: &Outcome,
    refs: &BTreeMap<Option<Side>, Reference>,
    settings: &Settings,
) -> schema::Clip {
    let watched = outcome.watched.as_ref().ok();
    let lag = watched.and_then(|w| w.lag.lag);
    let trials = watched.map_or_else(Vec::new, |w| {
        judge(&w.trials, refs, settings)
            .iter()
            .zip(&w.trials)
            .enumerate()
            .map(|(i, (verdict, seen))| trial_record(i, seen, *verdict, w, outcome, refs))
            .collect()
    });
    schema::Clip {
        path: outcome.path.clone(),
        sha256: outcome.sha256.clone(),
        frames: watched.map_or(0, |w| w.frames),
        duration_s: tidy(watched.map_or(0.0, |w| w.duration_s)),
        capture_fps: outcome.capture_fps.map(tidy),
        screen: screen_record(rig, watched),
        steadiness: watched.map(|w| w.footing.record()),
        live_view_lag_ms: lag.map(|l| tidy(l.lag_s * 1e3)),
        live_view_lag_u_ms: lag.map(|l| tidy(l.u_s * 1e3)),
        live_view_mean_lag_ms: watched.and_then(|w| w.lag.mean_s).map(|s| tidy(s * 1e3)),
        hygiene: watched.and_then(|w| w.hygiene.clone()),
        warnings: watched.map_or_else(Vec::new, |w| w.warnings.clone()),
        error: outcome.watched.as_ref().err().cloned(),
        trials,
    }
}

fn trial_record(
    index: usize,
    seen: &Observed,
    judged: Judged,
    watched: &Watched,
    outcome: &Outcome,
    refs: &BTreeMap<Option<Side>, Reference>,
) -> schema::Trial {
    let index = u32::try_from(index).unwrap_or(u32::MAX);
    let (verdict, reason) = match outcome.excluded.get(&index) {
        Some(why) => (Verdict::Void, Some(format!("excluded: {why}"))),
        None => (judged.verdict, judged.reason.map(str::to_owned)),
    };
    let onset = seen.stimulus.onset_s;
    let hit = verdict == Verdict::Hit;
    let settled = hit || verdict == Verdict::Soft;
    // An onset read from the screen is as late as settle: nothing to take off.
    let taken_off = match watched.direct_onset {
        true => watched.lag.lag,
        false => Some(Lag::NONE),
    };
    let early = taken_off.map(|l| {
        let from = onset + l.lag_s;
        seen.settle_s.is_some_and(|s| s <= from + 1e-9)
    });
    let since = |from: f64| {
        let settle = seen.settle_s.filter(|_| hit);
        settle.map(|s| tidy(((s - from) * 1e3).max(0.0)))
    };
    let is_swing = seen.stimulus.side.is_some();
    // A level it merely passed or began at is none it settled on.
    let hunted = verdict == Verdict::Lost && reason.as_deref() == Some("hunted on");
    schema::Trial {
        index,
        side: seen.stimulus.side,
        verdict,
        reason,
        // Seen directly, "early" needs the live-view lag.
        early: match is_swing {
            true => early.map(|e| hit && e),
            false => Some(false),
        },
        move_s: seen.stimulus.move_s.map(tidy),
        onset_s: tidy(onset),
        reaction_s: seen.reaction_s.map(tidy),
        settle_s: seen.settle_s.filter(|_| settled).map(tidy),
        end_s: tidy(seen.end_s),
        latency_ms: since(onset),
        latency_corrected_ms: taken_off.and_then(|l| since(onset + l.lag_s)),
        uncertainty_ms: hit.then(|| {
            let lag_u = taken_off.map_or(0.0, |l| l.u_s);
            tidy(seen.uncertainty_s.hypot(lag_u) * 1e3)
        }),
        reversals: Some(match verdict {
            Verdict::Lost => seen.turns_in_window,
            _ => seen.reversals,
        }),
        relapses: Some(seen.relapses),
        overshoot: Some(tidy(seen.overshoot)),
        sharpness: Some({
            let all = levels(seen, refs.get(&seen.stimulus.side));
            schema::Sharpness {
                plateau: all.plateau.filter(|_| !hunted),
                ratio: all.ratio.filter(|_| !hunted),
                ..all
            }
        }),
        blur_permille: blur(seen, watched, refs.get(&seen.stimulus.side)).map(|b| schema::Blur {
            settled: b.settled.filter(|_| verdict != Verdict::Lost),
            ..b
        }),
        cues: watched.cues.claims(onset, seen.end_s),
    }
}

fn levels(seen: &Observed, reference: Option<&Reference>) -> schema::Sharpness {
    let plateau = seen.plateau.map(|p| p.level);
    let best = reference.map(|r| r.level);
    schema::Sharpness {
        floor: Some(tidy(seen.floor)),
        plateau: plateau.map(tidy),
        reference: best.map(tidy),
        reference_from: reference.map(|r| if r.by_hand { "clip" } else { "trials" }.to_owned()),
        ratio: plateau
            .zip(best)
            .filter(|(_, b)| *b > 0.0)
            .map(|(p, b)| tidy(p / b)),
    }
}

/// Blur against the side's reference, by the scale of the clip's own subject.
fn blur(seen: &Observed, watched: &Watched, reference: Option<&Reference>) -> Option<schema::Blur> {
    let subject = watched.subjects.get(&seen.stimulus.side)?;
    let best = reference?.level;
    let at = |value: f64| tidy(subject.permille(value, best));
    Some(schema::Blur {
        onset: Some(at(seen.level_at_onset)),
        settled: seen.plateau.map(|p| at(p.level)),
    })
}

/// Nine significant digits: more would be noise of the arithmetic.
pub(super) fn tidy(v: f64) -> f64 {
    if v == 0.0 || !v.is_finite() {
        return 0.0;
    }
    format!("{v:.8e}").parse().unwrap_or(v)
}

/// The measure with everything that its numbers depend on.
#[must_use]
pub fn measure_record(rig: &Rig) -> serde_json::Value {
    let own = defaults(&rig.measure);
    let used = settings(rig);
    let mut out = serde_json::json!({ "name": rig.measure.name(), "version": own.version });
    if let Some(map) = out.as_object_mut() {
        let mut put = |key: &str, value: f64| map.insert(key.to_owned(), value.into());
        match rig.measure {
            MeasureSpec::Tenengrad { smoothing_px } => {
                put("smoothing_px", smoothing_px);
            }
            MeasureSpec::MidBand { low_cph, high_cph } => {
                put("low_cph", low_cph);
                put("high_cph", high_cph);
            }
            _ => {}
        }
        put("tolerance", used.tolerance);
        put("hit_ratio", used.hit_ratio);
        if let Settle::Blur { permille } = rig.trial.settle {
            if let Some(permille) = permille {
                put("blur_permille", permille);
            }
            map.insert("settle".to_owned(), "blur".into());
        }
    }
    out
}
