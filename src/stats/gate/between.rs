//! The spread between sessions: what re-rigging, light and battery alone do.
//!
//! From three sessions of the baseline on, a change is held against what one
//! more session may differ by from their mean: Student's t over the sessions'
//! own figures, which hold the scatter of their trials as well (a prediction
//! interval; Hahn & Meeker 1991, *Statistical Intervals*, from memory). It widens
//! the interval from the trials, never narrows it.

use statrs::statistics::Statistics;

use super::super::compare::Named;
use super::super::repeat::reach;
use super::figure::Figure;
use super::sides::SideSample;
use super::world::View;
use crate::store::schema::Timing;

/// Fewest sessions whose spread is used.
pub(super) const FEWEST: usize = 3;

/// A session's figure: `None` without trials on a side, `Some(None)` where it
/// is not reached within the window.
type Own = Option<Option<f64>>;

/// An interval that allows for the spread between sessions.
pub(super) struct Widened {
    pub figure: Figure,
    /// Standard deviation of the sessions' figures, and how many there are.
    pub spread: Option<(f64, u64)>,
}

impl View<'_> {
    /// Widens an interval by the spread of `own` over the baseline's sessions.
    pub(super) fn between_sessions(
        &self,
        figure: Figure,
        own: impl Fn(&[SideSample]) -> Own,
    ) -> Widened {
        let unknown = Widened {
            figure,
            spread: None,
        };
        let known: Vec<Option<f64>> = self.world.sessions.iter().filter_map(|s| own(s)).collect();
        if known.len() < FEWEST {
            return unknown;
        }
        let reached: Option<Vec<f64>> = known.iter().copied().collect();
        let Some(values) = reached else {
            let (low, high) = (f64::NEG_INFINITY, f64::INFINITY);
            return Widened {
                figure: Figure {
                    low,
                    high,
                    ..figure
                },
                spread: None,
            };
        };
        let k = values.len() as u64;
        let sd = values.iter().std_dev();
        let Some(by) = reach(k, self.world.confidence).map(|times| times * sd) else {
            return unknown;
        };
        // Without a value of its own the interval moves out at either end.
        let around = figure
            .value
            .map_or((figure.low - by, figure.high + by), |v| (v - by, v + by));
        Widened {
            figure: figure.widened(around),
            spread: Some((sd, k)),
        }
    }
}

/// All sessions as one baseline.
pub(super) fn merged(sessions: &[Named]) -> Option<Timing> {
    let (first, rest) = sessions.split_first()?;
    let mut all = first.timing.clone();
    for session in rest {
        all.clips.extend(session.timing.clips.iter().cloned());
    }
    Some(all)
}

/// What is to be said of the sessions of the baseline.
pub(super) fn warnings(sessions: &[Named]) -> Vec<String> {
    let mut said = Vec::new();
    if (1..FEWEST).contains(&sessions.len()) {
        said.push(format!(
            "How much sessions of one kit differ is not known here ({} of the baseline, it takes \
             {FEWEST}): what setting up anew, light and battery do counts as the update's. Film the \
             baseline in {FEWEST} sessions or more and name them all: --baseline A B C; focuslag \
             repeat tells how much they differ.",
            match sessions.len() {
                1 => "one session".to_owned(),
                n => format!("{n} sessions"),
            }
        ));
    }
    let name = |n: &Named| n.timing.setup.name.clone();
    if let Some(other) = sessions.iter().find(|n| name(n) != name(&sessions[0])) {
        said.push(format!(
            "The baseline is made of {} and {}: what differs between the kits counts as between \
             sessions.",
            name(&sessions[0]),
            name(other)
        ));
    }
    said
}
