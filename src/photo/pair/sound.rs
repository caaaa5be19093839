//! Whether the likeliest alignment keeps to what times can tell, and which
//! photograph does not.

use std::ops::Range;

use super::align::{Look, SAME_S, Start, spread_s};
use super::search::Run;
use super::stretch::Stretches;
use super::{NamedTrial, PairError, Slot};

/// Looks for the first photograph that does not.
///
/// # Errors
/// Which it is.
pub(super) fn sound(
    look: &Look,
    slots: &[Slot],
    stretches: &Stretches,
    runs: &[Run],
) -> Result<(), PairError> {
    let error = runs.iter().find_map(|run| {
        let clip = &stretches.clips[run.clip];
        let trial = |place: usize| NamedTrial::of(&slots[clip.first + place]);
        let starts = look.starts(clip, &run.bursts, run.offset_s);
        let starts = starts.unwrap_or_default();
        let mut pairs = starts.windows(2);
        look.loose(&run.bursts)
            .or_else(|| pairs.find_map(|pair| look.together(&pair[0], &pair[1], trial)))
            .or_else(|| look.uneven(&starts))
    });
    match error.or_else(|| look.beside(slots, stretches, runs)) {
        Some(error) => Err(error),
        None => Ok(()),
    }
}

impl Look<'_> {
    fn name(&self, start: &Start) -> String {
        self.shots[start.shot].name.clone()
    }

    /// Photographs that follow each other neither as a burst nor as trials do.
    fn loose(&self, bursts: &Range<usize>) -> Option<PairError> {
        let times = self.times;
        let shots = times.bursts[bursts.clone()]
            .iter()
            .map(|burst| burst.shots.clone());
        let mut follow = shots.flat_map(|shots| shots.skip(1));
        let second = follow.find(|&k| times.s[k] - times.s[k - 1] > times.follow_s + SAME_S)?;
        let name = |k: usize| self.shots[k].name.clone();
        Some(PairError::Loose {
            first: name(second - 1),
            second: name(second),
            by_ms: (1000.0 * (times.s[second] - times.s[second - 1])).round(),
            burst_ms: (1000.0 * times.follow_s).round(),
            trial_ms: (500.0 * self.shortest_s).round(),
        })
    }

    /// A burst that goes on into the next trial, or two of them in one.
    fn together(
        &self,
        a: &Start,
        b: &Start,
        trial: impl Fn(usize) -> NamedTrial,
    ) -> Option<PairError> {
        let bursts = &self.times.bursts;
        if bursts.iter().all(|burst| burst.shots.start != b.shot) {
            return Some(PairError::SpansTwo {
                first: self.name(a),
                picture: self.name(b),
                trial: trial(b.place),
            });
        }
        (a.place == b.place).then(|| PairError::TwoInOne {
            first: self.name(a),
            second: self.name(b),
            trial: trial(a.place),
        })
    }

    /// A burst that was left outside, and falls into a clip all the same.
    fn beside(&self, slots: &[Slot], stretches: &Stretches, runs: &[Run]) -> Option<PairError> {
        let all = &self.times.bursts;
        let inside = |k: &usize| runs.iter().any(|run| run.bursts.contains(k));
        (0..all.len()).filter(|k| !inside(k)).find_map(|k| {
            let s = self.times.s[all[k].shots.start];
            let before = runs.iter().rfind(|run| run.bursts.end <= k);
            let after = runs.iter().find(|run| run.bursts.start > k);
            before.into_iter().chain(after).find_map(|run| {
                let clip = &stretches.clips[run.clip];
                let (place, _) = clip.at(s - run.offset_s)?;
                (s - run.offset_s < clip.end_s).then(|| PairError::Beside {
                    picture: self.shots[all[k].shots.start].name.clone(),
                    trial: NamedTrial::of(&slots[clip.first + place]),
                })
            })
        })
    }

    /// Photographs that come at too different times after their onsets.
    fn uneven(&self, starts: &[Start]) -> Option<PairError> {
        let most_s = self.shortest_s / 2.0;
        let by_s = spread_s(starts);
        let order = |a: &&Start, b: &&Start| a.after_s.total_cmp(&b.after_s);
        let (early, late) = (starts.iter().min_by(order)?, starts.iter().max_by(order)?);
        (by_s > most_s + self.times.resolution_s).then(|| PairError::Uneven {
            early: self.name(early),
            late: self.name(late),
            by_ms: (1000.0 * by_s).round(),
            most_ms: (1000.0 * most_s).round(),
        })
    }
}
