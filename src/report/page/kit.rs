//! One setup with everything the page says of it.

use super::Source;
use crate::report::trial::{Close, worst};
use crate::stats::compare::{Comparison, SetupRow};
use crate::stats::describe::{Description, describe};
use crate::stats::sample::{Latencies, Observation, judged};
use crate::stats::summary::summarise;
use crate::store::schema::{Clip, Side, Summary, Tally, TimeToFocus, Trial};

/// A setup.
pub(super) struct Kit<'a> {
    /// Its place among the files.
    pub place: usize,
    pub source: &'a Source<'a>,
    /// Latencies as seen.
    pub summary: Summary,
    /// The same as comparisons use them.
    compared: Option<&'a SetupRow>,
    pub detail: Description,
    /// What its latencies are in comparisons.
    pub latencies: Latencies,
    pub confidence: f64,
}

impl<'a> Kit<'a> {
    pub fn all(
        sources: &'a [Source<'a>],
        comparisons: &'a [Comparison],
        confidence: f64,
    ) -> Vec<Self> {
        sources
            .iter()
            .enumerate()
            .filter_map(|(place, source)| {
                let clips = &source.timing.clips;
                let of = |c: &'a Comparison| {
                    let own = c.setups.iter().find(|s| s.name == source.timing.setup.name);
                    own.map(|own| (c, own))
                };
                let compared = comparisons.iter().find_map(of);
                let latencies = match compared {
                    Some((c, _)) if c.latencies == Latencies::Corrected.words() => {
                        Latencies::Corrected
                    }
                    _ => Latencies::AsSeen,
                };
                Some(Self {
                    place,
                    source,
                    summary: summarise(clips, confidence).ok()?,
                    compared: compared.map(|(_, own)| own),
                    detail: describe(clips, latencies, confidence),
                    latencies,
                    confidence,
                })
            })
            .collect()
    }

    pub fn label(&self) -> &'a str {
        &self.source.timing.setup.name
    }

    /// For links.
    pub fn id(&self) -> String {
        format!("k{}", self.place)
    }

    pub fn trial_id(&self, clip: usize, trial: &Trial) -> String {
        format!("t{}-{clip}-{}", self.place, trial.index)
    }

    pub fn trials_len(&self) -> usize {
        self.source
            .timing
            .clips
            .iter()
            .map(|c| c.trials.len())
            .sum()
    }

    /// Every trial with its clip and the clip's place.
    pub fn trials(&self) -> impl Iterator<Item = (usize, &'a Clip, &'a Trial)> + use<'a> {
        let clips = self.source.timing.clips.iter().enumerate();
        clips.flat_map(|(k, c)| c.trials.iter().map(move |t| (k, c, t)))
    }

    /// A trial with its evidence.
    pub fn close(&self, clip: &'a Clip, trial: &'a Trial) -> Close<'a> {
        let evidence = self.source.evidence.as_ref();
        let own = evidence.and_then(|e| e.trial(clip, trial));
        Close {
            // A curve whose onset has moved would be set beside wrong marks.
            kept: evidence
                .and_then(|e| e.clip(clip))
                .filter(|_| own.is_some()),
            evidence: own,
            ..Close::bare(self.source.timing, clip, trial)
        }
    }

    /// The worst trial's place.
    pub fn worst(&self) -> Option<(usize, &'a Clip, &'a Trial)> {
        let (clip, trial) = worst(self.source.timing)?;
        self.trials()
            .find(|(_, c, t)| std::ptr::eq(*c, clip) && std::ptr::eq(*t, trial))
    }

    /// Sides, near first; `None` alone for light and tone.
    pub fn sides(&self) -> Vec<Option<Side>> {
        if self.summary.by_side.is_empty() {
            return vec![None];
        }
        self.summary.by_side.keys().map(|s| Some(*s)).collect()
    }

    /// Judged trials of a side, or all.
    pub fn judged(&self, side: Option<Side>) -> Vec<Observation> {
        judged(&self.source.timing.clips, self.latencies)
            .into_iter()
            .filter(|o| side.is_none() || o.side == side)
            .collect()
    }

    /// Counts of a side, or of all.
    pub fn tally(&self, side: Option<Side>) -> &Tally {
        let own = side.and_then(|s| self.summary.by_side.get(&s));
        own.unwrap_or(&self.summary.all)
    }

    /// Time to focus of a side, or of all, in [`Self::latencies`].
    pub fn focus(&self, side: Option<Side>) -> TimeToFocus {
        let Some(compared) = self.compared else {
            return self.tally(side).time_to_focus_ms;
        };
        let own = side.and_then(|s| compared.by_side.get(&s));
        own.unwrap_or(&compared.all).time_to_focus_ms
    }

    /// Longest window, ms.
    pub fn window_ms(&self) -> f64 {
        self.trials()
            .map(|(_, _, t)| (t.end_s - t.onset_s) * 1000.0)
            .fold(0.0, f64::max)
    }
}

/// What a side is called.
pub(super) fn side_word(side: Option<Side>) -> &'static str {
    side.map_or("all", crate::report::row::side_name)
}

/// The setup that has the worst trial of all.
pub(super) fn worst_of_all<'k, 'a>(kits: &'k [Kit<'a>]) -> Option<&'k Kit<'a>> {
    use crate::report::trial::badness;
    let of = |k: &Kit| k.worst().map(|w| badness(w.2));
    kits.iter().reduce(|a, b| if of(b) > of(a) { b } else { a })
}
