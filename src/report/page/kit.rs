//! One setup with everything the page says of it.

use super::Source;
use crate::report::trial::{Close, worst};
use crate::report::words::fixed;
use crate::stats::compare::Comparison;
use crate::stats::describe::{Description, describe};
use crate::stats::sample::{Latencies, Observation, has_corrected, judged};
use crate::stats::summary::summarise;
use crate::store::schema::{Clip, Side, Summary, Trial};

/// A setup.
pub(super) struct Kit<'a> {
    /// Its place among the files.
    pub place: usize,
    pub source: &'a Source<'a>,
    pub summary: Summary,
    pub detail: Description,
    /// What its latencies are in comparisons.
    pub latencies: Latencies,
    pub confidence: f64,
}

impl<'a> Kit<'a> {
    pub fn all(
        sources: &'a [Source<'a>],
        comparisons: &[Comparison],
        confidence: f64,
    ) -> Vec<Self> {
        sources
            .iter()
            .enumerate()
            .filter_map(|(place, source)| {
                let clips = &source.timing.clips;
                let of =
                    |c: &&Comparison| c.setups.iter().any(|s| s.name == source.timing.setup.name);
                let corrected = comparisons
                    .iter()
                    .find(of)
                    .is_some_and(|c| c.latencies == Latencies::Corrected.words());
                let latencies = if corrected {
                    Latencies::Corrected
                } else {
                    Latencies::AsSeen
                };
                Some(Self {
                    place,
                    source,
                    summary: summarise(clips, confidence).ok()?,
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

/// When half of the trials are in focus, quickest first.
pub(super) fn quickness(kits: &[Kit]) -> Option<String> {
    // A latency that holds an unknown lag is not to be set beside others.
    let fair = |k: &&Kit| k.summary.all.hit == 0 || has_corrected(&k.source.timing.clips);
    let mut known: Vec<(f64, &str)> = kits
        .iter()
        .filter(fair)
        .filter_map(|k| Some((k.summary.all.time_to_focus_ms.median?, k.label())))
        .collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let said: Vec<String> = known
        .iter()
        .map(|(ms, label)| format!("{label} {} ms", fixed(*ms, 0)))
        .collect();
    let never: Vec<&str> = kits
        .iter()
        .filter(|k| k.summary.all.judged > 0 && k.summary.all.time_to_focus_ms.median.is_none())
        .map(Kit::label)
        .collect();
    let never = match never.as_slice() {
        [] => String::new(),
        names => format!("; not within the window: {}", names.join(", ")),
    };
    (said.len() > 1).then(|| {
        format!(
            "Half of all judged trials are in focus by: {}{never} (ms after onset, as the screen shows it).",
            said.join(", ")
        )
    })
}

/// The setup that has the worst trial of all.
pub(super) fn worst_of_all<'k, 'a>(kits: &'k [Kit<'a>]) -> Option<&'k Kit<'a>> {
    use crate::report::trial::badness;
    let of = |k: &Kit| k.worst().map(|w| badness(w.2));
    kits.iter().reduce(|a, b| if of(b) > of(a) { b } else { a })
}
