//! Judged trials as the estimators want them. Voids stay outside.

use crate::store::schema::{Clip, Side, Trial, Verdict};

use super::survival::Watched;

/// Slack when two windows of time are compared, ms: stamps are kept as decimal
/// seconds and their differences carry rounding.
pub const SAME_MS: f64 = 1e-3;

/// Which latency of a trial is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Latencies {
    /// Settle − onset as the film shows it.
    AsSeen,
    /// With the live-view lag taken off where it applies.
    Corrected,
}

impl Latencies {
    /// The words used in tables and JSON.
    pub fn words(self) -> &'static str {
        match self {
            Self::AsSeen => "as seen",
            Self::Corrected => "corrected",
        }
    }
}

/// One judged trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// Index of its clip in the timing file.
    pub clip: usize,
    /// Place in the session, voids included, from 0.
    pub order: usize,
    /// Its side; `None` for light and tone.
    pub side: Option<Side>,
    /// Length of the window, ms.
    pub window_ms: f64,
    /// Lag taken off the latencies of its clip, ms; 0 as seen.
    pub lag_ms: f64,
    /// Latency of a hit as seen; `None` for soft and lost.
    pub seen_ms: Option<f64>,
    /// The chosen latency of a hit; `None` for soft and lost.
    pub hit_ms: Option<f64>,
}

impl Observation {
    /// The hit's latency, if it settled within a window of `window_ms`.
    pub fn hit_within(&self, window_ms: f64) -> Option<f64> {
        let seen = self.seen_ms?;
        (seen <= window_ms + SAME_MS).then_some(self.hit_ms?)
    }

    /// How long the trial can be said to have been watched, on the axis of
    /// the chosen latency, if its window was no longer than `window_ms`.
    pub fn horizon_ms(&self, window_ms: f64) -> f64 {
        (self.window_ms.min(window_ms) - self.lag_ms).max(0.0)
    }

    /// On the time axis, with a window no longer than `window_ms`.
    pub fn watched(&self, window_ms: f64) -> Watched {
        match self.hit_within(window_ms) {
            Some(ms) => Watched { ms, hit: true },
            None => Watched {
                ms: self.horizon_ms(window_ms),
                hit: false,
            },
        }
    }
}

/// Length of a trial's window, ms.
pub fn window_ms(trial: &Trial) -> f64 {
    (trial.end_s - trial.onset_s) * 1000.0
}

/// The judged trials in the order of the session. A hit without the chosen
/// latency is left out: callers ask [`has_corrected`] first.
pub fn judged(clips: &[Clip], latencies: Latencies) -> Vec<Observation> {
    let mut found = Vec::new();
    let mut order = 0;
    for (k, clip) in clips.iter().enumerate() {
        let lag = match latencies {
            Latencies::AsSeen => 0.0,
            Latencies::Corrected => lag_taken_off(clip),
        };
        for trial in &clip.trials {
            let place = order;
            order += 1;
            let hit_ms = match (trial.verdict, latencies) {
                (Verdict::Void, _) => continue,
                (Verdict::Soft | Verdict::Lost, _) => None,
                (Verdict::Hit, Latencies::AsSeen) => trial.latency_ms,
                (Verdict::Hit, Latencies::Corrected) => trial.latency_corrected_ms,
            };
            if trial.verdict == Verdict::Hit && hit_ms.is_none() {
                continue;
            }
            found.push(Observation {
                clip: k,
                order: place,
                side: trial.side,
                window_ms: window_ms(trial),
                lag_ms: lag,
                seen_ms: trial.latency_ms.or(hit_ms),
                hit_ms,
            });
        }
    }
    found
}

/// Whether corrected latencies may be used: every hit of every clip has one,
/// and no clip that is all misses leaves its lag unknown where others had one
/// taken off (how long its trials were watched would be unknown too).
pub fn has_corrected(clips: &[Clip]) -> bool {
    let hit = |t: &&Trial| t.verdict == Verdict::Hit;
    let all = clips.iter().flat_map(|c| &c.trials).filter(hit);
    let every = all.clone().all(|t| t.latency_corrected_ms.is_some());
    let lags = clips.iter().any(|c| lag_taken_off(c) > 0.0);
    let blind = clips.iter().any(|c| {
        let judged = c.trials.iter().any(|t| t.verdict != Verdict::Void);
        judged && c.live_view_lag_ms.is_none() && !c.trials.iter().any(|t| hit(&t))
    });
    every && !(lags && blind)
}

/// The lag a clip's corrections took off, ms: seen from its hits, else the
/// clip's own lag (so that a miss is never said to have been watched longer
/// than it was).
fn lag_taken_off(clip: &Clip) -> f64 {
    clip.trials
        .iter()
        .filter_map(|t| Some(t.latency_ms? - t.latency_corrected_ms?))
        .reduce(f64::max)
        .or(clip.live_view_lag_ms)
        .unwrap_or(0.0)
        .max(0.0)
}

/// The shortest window among these trials, ms.
pub fn shortest_window_ms(trials: &[Observation]) -> Option<f64> {
    trials.iter().map(|o| o.window_ms).reduce(f64::min)
}

/// Hit latencies, sorted.
pub fn sorted_hits(trials: &[Observation]) -> Vec<f64> {
    let mut hits: Vec<f64> = trials.iter().filter_map(|o| o.hit_ms).collect();
    hits.sort_by(f64::total_cmp);
    hits
}
