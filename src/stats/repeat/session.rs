//! Timing files as sessions.

use serde::Serialize;

use super::super::compare::{self, Named};
use super::super::sample::{self, Latencies, Observation};
use super::super::summary::rate;
use super::RepeatError;
use crate::store::schema::{Rate, Verdict};

/// One session as it is reported.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionRow {
    /// The tag's value, or what tells the file from the others.
    pub label: String,
    /// Its timing files.
    pub files: Vec<String>,
    /// Hit + soft + lost.
    pub judged: u64,
    /// Hits within the window.
    pub hit: u64,
    /// Could not be judged.
    pub void: u64,
    /// Hit ÷ judged, with its interval at 95 %.
    pub hit_rate: Option<Rate>,
    /// Mean settle time of the hits, ms.
    pub settle_ms: Option<f64>,
    /// Mean time to focus of all judged trials, a miss as the window, ms.
    pub time_to_focus_ms: Option<f64>,
}

/// One session.
pub(super) struct Session {
    pub label: String,
    files: Vec<String>,
    pub judged: Vec<Observation>,
    void: u64,
}

/// A label, and the files under it.
type Group<'a> = (String, Vec<Named<'a>>);

/// Files by session, in the order given.
pub(super) fn groups<'a>(
    named: &[Named<'a>],
    by: Option<&str>,
) -> Result<Vec<Group<'a>>, RepeatError> {
    let Some(tag) = by else {
        let labels = compare::labels(named);
        return Ok(labels
            .into_iter()
            .zip(named.iter().map(|n| vec![*n]))
            .collect());
    };
    let mut groups: Vec<Group> = Vec::new();
    for n in named {
        let tags = &n.timing.setup.tags;
        let label = tags.get(tag).ok_or_else(|| RepeatError::NoTag {
            file: n.file.to_owned(),
            tag: tag.to_owned(),
            has: match tags.is_empty() {
                true => "none".to_owned(),
                false => tags.keys().cloned().collect::<Vec<_>>().join(", "),
            },
        })?;
        match groups.iter_mut().find(|g| &g.0 == label) {
            Some(group) => group.1.push(*n),
            None => groups.push((label.clone(), vec![*n])),
        }
    }
    Ok(groups)
}

pub(super) fn sessions(groups: Vec<Group>, latencies: Latencies) -> Vec<Session> {
    let one = |(label, files): Group| Session {
        label,
        judged: files
            .iter()
            .flat_map(|n| sample::judged(&n.timing.clips, latencies))
            .collect(),
        void: files
            .iter()
            .flat_map(|n| n.timing.clips.iter().flat_map(|c| &c.trials))
            .filter(|t| t.verdict == Verdict::Void)
            .count() as u64,
        files: files.iter().map(|n| n.file.to_owned()).collect(),
    };
    groups.into_iter().map(one).collect()
}

/// The shortest window of all, ms.
pub(super) fn window_ms(sessions: &[&Session]) -> f64 {
    let windows = sessions
        .iter()
        .filter_map(|s| sample::shortest_window_ms(&s.judged));
    windows.fold(f64::INFINITY, f64::min)
}

/// `kit-amber`, or all names there are.
pub(super) fn setup_name(named: &[Named]) -> String {
    let mut names: Vec<&str> = named.iter().map(|n| n.timing.setup.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    names.join(", ")
}

impl Session {
    pub fn row(&self, window_ms: f64) -> SessionRow {
        let watched: Vec<_> = self.judged.iter().map(|o| o.watched(window_ms)).collect();
        let hits: Vec<f64> = watched.iter().filter(|w| w.hit).map(|w| w.ms).collect();
        let all: Vec<f64> = watched.iter().map(|w| w.ms).collect();
        SessionRow {
            label: self.label.clone(),
            files: self.files.clone(),
            judged: all.len() as u64,
            hit: hits.len() as u64,
            void: self.void,
            hit_rate: rate(hits.len() as u64, all.len() as u64, 0.95),
            settle_ms: mean(&hits),
            time_to_focus_ms: mean(&all),
        }
    }
}

pub(super) fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
