//! One clip: at which offsets do these bursts lie in its stretches, and how
//! steadily do they come after their onsets?

use std::ops::Range;

use super::Shot;
use super::stretch::Clip;
use super::times::Times;

/// How finely an onset is told from a film: about a refresh of a screen at
/// 60 Hz, seconds. Photographs are never taken to come more steadily than this
/// and the steps of their times.
const ONSET_S: f64 = 0.02;

/// Times nearer to each other than this are one, seconds: rounding.
pub(super) const SAME_S: f64 = 1e-9;

/// Bursts in the stretches of one clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fit {
    /// −log likelihood, see [`cost`].
    pub cost: f64,
    /// Time of the photographs at which the clip's first frame was taken, seconds.
    pub offset_s: f64,
}

/// What a fit is looked for in.
pub(super) struct Look<'a> {
    /// The photographs.
    pub shots: &'a [Shot],
    /// When they were taken.
    pub times: &'a Times,
    /// Shortest time between two onsets, seconds.
    pub shortest_s: f64,
    /// Whether sides must agree.
    pub sides: bool,
}

/// One photograph that begins something: the first of a burst, or of its part in
/// another stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Start {
    /// Which photograph.
    pub shot: usize,
    /// Place of its stretch in the clip.
    pub place: usize,
    /// Time after the onset there, seconds; the offset is not sure, so only
    /// differences tell.
    pub after_s: f64,
}

impl Look<'_> {
    /// The two best fits of some bursts in a clip, all of them within its
    /// stretches. An offset decides which photograph lies where; that changes
    /// only where the first or the last of a burst passes an onset.
    pub fn fits(&self, clip: &Clip, bursts: Range<usize>) -> Vec<Fit> {
        let (from, to) = self.span(&bursts);
        let (low, high) = (to - clip.end_s, from - clip.onsets_s[0]);
        let mut edges = vec![low, high];
        for burst in &self.times.bursts[bursts.clone()] {
            for shot in [burst.shots.start, burst.shots.end - 1] {
                let passes = clip.onsets_s.iter().map(|onset| self.times.s[shot] - onset);
                edges.extend(passes.filter(|edge| *edge > low && *edge < high));
            }
        }
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        let between = edges.windows(2).filter(|pair| pair[1] - pair[0] > SAME_S);
        let mut found: Vec<Fit> = between
            .filter_map(|pair| self.fit(clip, &bursts, f64::midpoint(pair[0], pair[1])))
            .collect();
        found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        found.truncate(2);
        found
    }

    /// Times of the first and the last photograph, seconds.
    pub fn span(&self, bursts: &Range<usize>) -> (f64, f64) {
        let all = &self.times.bursts;
        let (first, last) = (&all[bursts.start], &all[bursts.end - 1]);
        (
            self.times.s[first.shots.start],
            self.times.s[last.shots.end - 1],
        )
    }

    fn fit(&self, clip: &Clip, bursts: &Range<usize>, offset_s: f64) -> Option<Fit> {
        let starts = self.starts(clip, bursts, offset_s)?;
        let spread = spread_s(&starts) + self.times.resolution_s + ONSET_S;
        Some(Fit {
            cost: cost(starts.len(), spread / self.shortest_s),
            offset_s,
        })
    }

    /// What begins where at an offset; `None` where a photograph lies before the
    /// first onset or shows another side than its trial.
    pub fn starts(&self, clip: &Clip, bursts: &Range<usize>, offset_s: f64) -> Option<Vec<Start>> {
        let mut starts: Vec<Start> = Vec::new();
        for burst in &self.times.bursts[bursts.clone()] {
            let at = |shot: usize| clip.at(self.times.s[shot] - offset_s);
            let start = |shot, (place, after_s)| Start {
                shot,
                place,
                after_s,
            };
            let (first, last) = (at(burst.shots.start)?, at(burst.shots.end - 1)?);
            starts.push(start(burst.shots.start, first));
            if first.0 == last.0 {
                let other = |side| clip.sides[first.0].is_some_and(|filmed| filmed != side);
                if self.sides && burst.sides.iter().any(|&side| other(side)) {
                    return None;
                }
                continue;
            }
            let mut before = first.0;
            for shot in burst.shots.clone() {
                let here = at(shot)?;
                let sides = self.shots[shot].side.zip(clip.sides[here.0]);
                if self.sides && sides.is_some_and(|(shows, filmed)| shows != filmed) {
                    return None;
                }
                if here.0 != before {
                    starts.push(start(shot, here));
                }
                before = here.0;
            }
        }
        Some(starts)
    }
}

/// Largest less smallest time after onset, seconds.
pub(super) fn spread_s(starts: &[Start]) -> f64 {
    let all = starts.iter().map(|start| start.after_s);
    let (low, high) = all.fold((f64::INFINITY, 0.0), |(low, high): (f64, f64), s| {
        (s.min(low), s.max(high))
    });
    (high - low).max(0.0)
}

/// −log likelihood of `n` starts that come evenly within a spread, given as a
/// share of the shortest time between two onsets. One of them is used up by the
/// offset. What does not start anything may lie anywhere in that shortest time.
fn cost(n: usize, spread: f64) -> f64 {
    n.saturating_sub(1) as f64 * spread.ln()
}
