//! The stretch of time that belongs to each trial of a clip.

use super::Slot;
use super::times::NoTimes;
use crate::store::schema::Side;

/// The stretches of all clips, in order.
#[derive(Clone, Debug)]
pub(super) struct Stretches {
    /// One a clip.
    pub clips: Vec<Clip>,
    /// Shortest time between two onsets of a clip, seconds.
    pub shortest_s: f64,
}

/// The stretches of one clip. Each lasts to the next, the last to `end_s`.
#[derive(Clone, Debug)]
pub(super) struct Clip {
    /// Index of its first slot.
    pub first: usize,
    /// Where they begin, seconds from the clip's first frame.
    pub onsets_s: Vec<f64>,
    /// Their sides.
    pub sides: Vec<Option<Side>>,
    /// Where the last one ends.
    pub end_s: f64,
}

impl Stretches {
    /// From slots in order.
    ///
    /// # Errors
    /// No clip has two trials.
    pub fn of(slots: &[Slot]) -> Result<Self, NoTimes> {
        let clips = || slots.chunk_by(|a, b| a.clip == b.clip);
        let gaps = clips().flat_map(|clip| clip.windows(2).map(|w| w[1].onset_s - w[0].onset_s));
        let (shortest_s, longest_s) = gaps.fold((f64::INFINITY, 0.0), |(low, high), gap| {
            (gap.min(low), gap.max(high))
        });
        if !shortest_s.is_finite() {
            return Err(NoTimes::OneTrialEach);
        }
        let mut first = 0;
        let clips = clips().map(|clip| {
            let from = first;
            first += clip.len();
            Clip::of(clip, from, longest_s)
        });
        Ok(Self {
            clips: clips.collect(),
            shortest_s,
        })
    }
}

impl Clip {
    fn of(slots: &[Slot], first: usize, longest_s: f64) -> Self {
        let last = slots.last().map_or((0.0, 0.0), |s| (s.onset_s, s.end_s));
        Self {
            first,
            onsets_s: slots.iter().map(|s| s.onset_s).collect(),
            sides: slots.iter().map(|s| s.side).collect(),
            end_s: (last.0 + longest_s).max(last.1),
        }
    }

    /// From the first onset to the end of the last stretch, seconds.
    pub fn span_s(&self) -> f64 {
        self.end_s - self.onsets_s.first().copied().unwrap_or(self.end_s)
    }

    /// Place of the stretch that holds an instant, and how far into it that is;
    /// `None` before the first.
    pub fn at(&self, s: f64) -> Option<(usize, f64)> {
        let place = self
            .onsets_s
            .partition_point(|onset| *onset <= s)
            .checked_sub(1)?;
        Some((place, s - self.onsets_s[place]))
    }
}
