//! Timing records made by hand for the tests of this room.

use std::collections::BTreeMap;

use crate::store::schema::{
    BLUR, BLUR_VERSION, Blur, Clip, FORMAT, OnsetSeen, ReferenceFrom, Screen, Setup, Side, Timing,
    Trial, VERSION, Verdict,
};

/// Dyestuff, grams of yield by batch: Davies & Goldsmith 1972, *Statistical Methods
/// in Research and Production* (R lme4's `Dyestuff`).
pub(crate) const DYESTUFF: [[f64; 5]; 6] = [
    [1545., 1440., 1440., 1520., 1580.],
    [1540., 1555., 1490., 1560., 1495.],
    [1595., 1550., 1605., 1510., 1560.],
    [1445., 1440., 1595., 1465., 1545.],
    [1595., 1630., 1515., 1635., 1625.],
    [1520., 1455., 1450., 1480., 1445.],
];

/// A trial with a window of `window_ms`; a latency makes it a hit.
pub(crate) fn trial(
    index: u32,
    side: Option<Side>,
    latency_ms: Option<f64>,
    window_ms: f64,
) -> Trial {
    let onset_s = 1.0 + 4.0 * f64::from(index);
    Trial {
        index,
        side,
        verdict: if latency_ms.is_some() {
            Verdict::Hit
        } else {
            Verdict::Lost
        },
        reason: latency_ms.is_none().then(|| "hunted on".to_owned()),
        early: side.map(|_| false),
        move_s: None,
        onset_s,
        reaction_s: None,
        settle_s: latency_ms.map(|ms| onset_s + ms / 1000.0),
        end_s: onset_s + window_ms / 1000.0,
        latency_ms,
        latency_corrected_ms: None,
        uncertainty_ms: latency_ms.map(|_| 6.9),
        reversals: None,
        relapses: None,
        overshoot_permille: None,
        onset_seen: Some(OnsetSeen::Screen),
        delta_permille: Some(2.0),
        hit_limit_permille: Some(4.0),
        reference_from: Some(ReferenceFrom::Hand),
        close_call: false,
        blur_permille: None,
        cues: BTreeMap::new(),
    }
}

/// A trial that could not be judged.
pub(crate) fn void(index: u32, side: Option<Side>) -> Trial {
    Trial {
        verdict: Verdict::Void,
        reason: Some("cut".to_owned()),
        ..trial(index, side, None, 1500.0)
    }
}

/// A clip named after `seed`, holding these trials in order.
pub(crate) fn clip(seed: &str, trials: Vec<Trial>) -> Clip {
    let digest: u64 = seed.bytes().fold(7, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    Clip {
        path: format!("{seed}.mp4"),
        sha256: format!("{digest:064x}"),
        frames: 1440,
        duration_s: 6.0,
        capture_fps: Some(240.0),
        screen: Screen {
            corners: None,
            refresh_hz: Some(60.0),
            live_view_hz: None,
            height_px: Some(640.0),
        },
        least_permille: None,
        steadiness: None,
        live_view_lag_ms: None,
        live_view_lag_u_ms: None,
        live_view_mean_lag_ms: None,
        hygiene: None,
        warnings: Vec::new(),
        error: None,
        trials,
    }
}

/// A timing file of these clips.
pub(crate) fn timing(name: &str, clips: Vec<Clip>) -> Timing {
    let sided = clips
        .iter()
        .flat_map(|c| &c.trials)
        .any(|t| t.side.is_some());
    let kind = if sided { "swing" } else { "light" };
    Timing {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: Setup {
            name: name.to_owned(),
            tags: BTreeMap::new(),
        },
        rig: serde_json::json!({
            "name": "bench-240",
            "capture": { "fps": 240.0 },
            "stimulus": { "kind": kind },
            "trial": { "window_ms": 1500.0, "settle_permille": 2.0, "hit_permille": 4.0 }
        }),
        measure: measure(2.0),
        made_by: BTreeMap::new(),
        clips,
        by_hand: Vec::new(),
        summary: None,
    }
}

/// Trials of one clip, alternating near and far.
pub(crate) fn swings(latencies: &[Option<f64>]) -> Vec<Trial> {
    latencies
        .iter()
        .enumerate()
        .map(|(k, &ms)| {
            let side = if k % 2 == 0 { Side::Near } else { Side::Far };
            trial(k as u32, Some(side), ms, 1500.0)
        })
        .collect()
}

/// What is measured, at a δ.
pub(crate) fn measure(delta: f64) -> serde_json::Value {
    serde_json::json!({
        "name": BLUR, "version": BLUR_VERSION, "settle_permille": delta, "hit_permille": 4.0,
        "signal": "tenengrad", "smoothing_px": 1.0
    })
}

/// A trial that was judged by blur: at `onset` ‰, ending at `end` ‰, against a
/// reference of this kind.
pub(crate) fn blurred(trial: &mut Trial, onset: f64, end: f64, from: ReferenceFrom) {
    trial.reference_from = Some(from);
    trial.blur_permille = Some(Blur {
        onset: Some(onset),
        end: Some(end),
        end_u: Some(0.3),
    });
}
