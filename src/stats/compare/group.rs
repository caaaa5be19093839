//! Trials of one setup, side by side, cut to a common window.

use std::collections::BTreeSet;

use crate::store::schema::Side;

use super::super::difference::Arm;
use super::super::sample::{self, Latencies, Observation};
use super::super::shift::Clustered;
use super::super::survival::Watched;
use super::Named;

/// Judged trials of one setup.
pub(super) struct SetupSample {
    pub label: String,
    /// What the clips are, for the stream of random numbers.
    pub identity: String,
    pub judged: Vec<Observation>,
    /// Sides any trial has, voids included.
    pub sides: BTreeSet<Side>,
    /// Clips with judged trials.
    pub clips: BTreeSet<usize>,
    /// Clips in the file.
    pub clip_count: usize,
}

/// One side of one setup within a window.
pub(super) struct Group {
    pub arm: Arm,
    pub hits: Clustered,
    /// Sorted by time.
    pub watched: Vec<Watched>,
    /// Clip of each.
    pub watched_clips: Vec<usize>,
    /// Latencies with misses as later than every hit, sorted.
    pub ranked: Vec<f64>,
    /// Shortest time any trial was watched, ms.
    pub horizon_ms: f64,
    /// Hits and judged per clip.
    pub per_clip: Vec<Arm>,
}

impl SetupSample {
    pub fn new(named: &Named, label: &str, latencies: Latencies) -> Self {
        let clips = &named.timing.clips;
        let judged = sample::judged(clips, latencies);
        let mut identity = named.timing.setup.name.clone();
        for clip in clips {
            identity.push('\n');
            identity.push_str(&clip.sha256);
        }
        Self {
            label: label.to_owned(),
            identity,
            sides: clips
                .iter()
                .flat_map(|c| &c.trials)
                .filter_map(|t| t.side)
                .collect(),
            clips: judged.iter().map(|o| o.clip).collect(),
            clip_count: clips.len(),
            judged,
        }
    }

    pub fn window_ms(&self) -> Option<f64> {
        sample::shortest_window_ms(&self.judged)
    }

    /// Trials of one side (of none, for light and tone) within `window_ms`.
    pub fn group(&self, side: Option<Side>, window_ms: f64) -> Group {
        let part: Vec<_> = self.judged.iter().filter(|o| o.side == side).collect();
        let mut per_clip = vec![Arm::default(); self.clip_count];
        for o in &part {
            per_clip[o.clip].n += 1;
            per_clip[o.clip].hits += u64::from(o.hit_within(window_ms).is_some());
        }
        let mut watched: Vec<_> = part
            .iter()
            .map(|o| (o.watched(window_ms), o.clip))
            .collect();
        watched.sort_by(|x, y| x.0.ms.total_cmp(&y.0.ms));
        let hits: Vec<_> = watched.iter().filter(|w| w.0.hit).collect();
        let mut ranked: Vec<f64> = hits.iter().map(|w| w.0.ms).collect();
        ranked.resize(part.len(), f64::INFINITY);
        Group {
            arm: Arm {
                hits: hits.len() as u64,
                n: part.len() as u64,
            },
            hits: Clustered {
                values: hits.iter().map(|w| w.0.ms).collect(),
                clips: hits.iter().map(|w| w.1).collect(),
            },
            ranked,
            horizon_ms: part
                .iter()
                .map(|o| o.horizon_ms(window_ms))
                .fold(f64::INFINITY, f64::min),
            watched_clips: watched.iter().map(|w| w.1).collect(),
            watched: watched.into_iter().map(|w| w.0).collect(),
            per_clip,
        }
    }
}
