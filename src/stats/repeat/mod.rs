//! How repeatable a bench is: one setup, filmed in several sessions.
//!
//! In: timing files, each a session, or several to a session by a tag. Out: a
//! [`Repeat`] that serialises to `repeat --json`: for the settle time of the
//! hits, the time to focus of all judged trials (a miss counts as the window)
//! and the hit rate, per side and together: the standard deviation within a
//! session (repeatability), between sessions with its interval, and of both
//! (reproducibility), and the smallest change that one more session of this size
//! shows against these.
//!
//! Sources: ISO 5725-2, one-way analysis ([`spread`](super::spread)); its limits
//! of 2.8 standard deviations, ISO 5725-6; the smallest change by Student's t,
//! Bloom 1995, Eval. Rev. 19:547; hit rates that scatter more than chance lets
//! them by the chi-squared test of homogeneity. All cited from memory.

mod figure;
mod session;
mod smallest;
mod words;

use serde::Serialize;

use super::compare::{self, CompareError, CompareOptions, Named};

pub use figure::Figure;
pub use session::SessionRow;
pub(in crate::stats) use smallest::reach;
pub use smallest::smallest_change;

/// One setup over its sessions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Repeat {
    /// Name of the setup; several where the files name several.
    pub setup: String,
    /// Two-sided level of intervals.
    pub confidence: f64,
    /// `as seen` or `corrected`.
    pub latencies: String,
    /// What that means for these files, in words.
    pub lag: String,
    /// Window all trials are cut to, ms.
    pub window_ms: f64,
    /// The sessions in the order given.
    pub sessions: Vec<SessionRow>,
    /// What scatters how much.
    pub figures: Vec<Figure>,
    /// In plain words.
    pub sentence: String,
    /// What a reader must know before relying on it.
    pub warnings: Vec<String>,
}

/// Why there is no answer: the request is wrong.
#[derive(Debug, thiserror::Error)]
pub enum RepeatError {
    /// Fewer than two sessions.
    #[error(
        "repeatability needs at least two sessions of one setup (three or more say much more), \
         {0} given: name one timing file for each"
    )]
    TooFew(usize),
    /// A file without the tag.
    #[error("{file}: has no tag `{tag}`, which is to name its session; it has {has}")]
    NoTag {
        /// The file.
        file: String,
        /// The tag.
        tag: String,
        /// The tags it has.
        has: String,
    },
    /// Fewer than two sessions with judged trials.
    #[error(
        "only {judged} of {sessions} sessions have judged trials: there is nothing to hold them \
         against; focuslag show FILE tells why trials are void"
    )]
    Void {
        /// Sessions with judged trials.
        judged: usize,
        /// All sessions.
        sessions: usize,
    },
    /// One judged trial in each.
    #[error(
        "no session has more than one judged trial, so nothing tells the scatter of trials from \
         that of sessions; film more trials in each"
    )]
    Single,
    /// Files that cannot be held against each other.
    #[error(transparent)]
    Files(#[from] CompareError),
}

/// Holds the sessions of a setup against each other.
///
/// # Errors
/// Fewer than two sessions, or than two with judged trials; a file without the
/// tag; different versions of blur or δ, a swing against a trigger, the same
/// content twice.
pub fn repeat(named: &[Named], by: Option<&str>, confidence: f64) -> Result<Repeat, RepeatError> {
    let groups = session::groups(named, by)?;
    if groups.len() < 2 {
        return Err(RepeatError::TooFew(groups.len()));
    }
    let options = CompareOptions {
        confidence,
        ..CompareOptions::default()
    };
    compare::check_all(named, &options)?;
    let latencies = compare::latencies(named);
    let sessions = session::sessions(groups, latencies);
    let judged: Vec<_> = sessions.iter().filter(|s| !s.judged.is_empty()).collect();
    if judged.len() < 2 {
        return Err(RepeatError::Void {
            judged: judged.len(),
            sessions: sessions.len(),
        });
    }
    if judged.iter().all(|s| s.judged.len() < 2) {
        return Err(RepeatError::Single);
    }
    let window_ms = session::window_ms(&judged);
    let figures = figure::figures(&judged, window_ms, confidence);
    let setup = session::setup_name(named);
    Ok(Repeat {
        sentence: words::sentence(&setup, &figures, confidence),
        warnings: words::warnings(named, &sessions, by),
        setup,
        confidence,
        latencies: latencies.words().to_owned(),
        lag: compare::lag_words(named, latencies).to_owned(),
        window_ms,
        sessions: sessions.iter().map(|s| s.row(window_ms)).collect(),
        figures,
    })
}

#[cfg(test)]
mod tests;
