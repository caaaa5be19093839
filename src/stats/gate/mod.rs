//! Does a firmware update stay within what was agreed?
//!
//! In: a candidate's timing file, a baseline's if changes are judged, and a
//! [`Policy`]. Out: a [`Gate`] that serialises to the fixed shape of `gate
//! --json`. A check passes when its whole interval is inside the limit, is a
//! regression when its whole interval is beyond it, and is inconclusive
//! between, or with too few trials. A quantile that is not reached lies beyond
//! the window: if even the low end of its interval does, and the limit lies
//! within the window, that is a regression.
//!
//! Slowdowns are differences of time-to-focus quantiles over all judged trials
//! (Kaplan–Meier), so that turning slow trials into lost ones does not pass.
//! Their intervals come from resampling: whole clips from five clips per setup
//! on, single trials within each side with fewer. Sides are strata; over `all`
//! each side counts with one weight in baseline and candidate alike. Where three
//! or more sessions of the baseline are named, what sessions differ by anyway
//! widens every change's interval.

mod between;
mod change;
mod checks;
mod exact;
mod figure;
mod more;
mod policy;
mod require;
mod sides;
mod world;

use serde::Serialize;

use super::compare::{CompareError, Named};
use super::describe::{Description, describe};

pub use policy::{Change, Policy, PolicyError, Require, Test};

/// How to resample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GateOptions {
    /// Seed of the resampling.
    pub seed: u64,
    /// Number of resamples, 199..=100000.
    pub resamples: usize,
}

impl Default for GateOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            resamples: 1999,
        }
    }
}

/// Why the gate cannot be run: the request is wrong.
#[derive(Debug, thiserror::Error)]
pub enum GateError {
    /// Changes are to be judged, but against what?
    #[error(
        "the policy limits a change ([change]), which needs a baseline: name one with --baseline \
         TIMING.json, or keep only [require] in the policy"
    )]
    NoBaseline,
    /// Neither a baseline nor anything the candidate must reach.
    #[error(
        "nothing to hold the candidate against: --baseline TIMING.json names what it was before, \
         --policy POLICY.toml with [require] says what it must reach"
    )]
    NothingNamed,
    /// Baseline and candidate cannot be held against each other.
    #[error(transparent)]
    Pair(#[from] CompareError),
    /// Resamples outside their range.
    #[error("the number of resamples must lie between 199 and 100000; {0} does not")]
    Resamples(usize),
}

/// The outcome.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gate {
    /// Regression if one check is, else inconclusive if one is.
    pub verdict: Verdict,
    /// Checks in the order of the policy, side by side.
    pub checks: Vec<Check>,
    /// Further judged trials each setup needs on the side that lacks most;
    /// null where decided or where no number of trials would do.
    pub more_trials_per_setup: Option<u64>,
    /// The check that needs them.
    pub more_trials_for: Option<MoreFor>,
    /// Sessions the baseline was filmed in.
    pub baseline_sessions: u64,
    /// Name of the baseline.
    pub baseline: Option<String>,
    /// Name of the candidate.
    pub candidate: String,
    /// `as seen` or `corrected`.
    pub latencies: String,
    /// What that means for these files, in words.
    pub lag: String,
    /// Whether a hit of the candidate only means as sharp as its own best.
    pub own_reference: bool,
    /// Two-sided level of intervals.
    pub confidence: f64,
    /// Fewest judged trials per side for a verdict.
    pub min_trials: u64,
    /// Who asks for so many, in words.
    pub min_trials_asked: String,
    /// Seed of the resampling.
    pub seed: u64,
    /// Number of resamples.
    pub resamples: usize,
    /// Baseline (where there is one) and candidate in depth, cues among it.
    pub setups: Vec<Told>,
    /// What a reader must know before believing the verdict.
    pub warnings: Vec<String>,
}

/// One of the setups that were held against each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Told {
    /// `before` and `after`, or `candidate` where there is no baseline.
    pub label: String,
    /// The setup in depth.
    pub detail: Description,
}

/// One limit on one side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Check {
    /// The policy's key.
    pub name: String,
    /// `near`, `far` or `all`.
    pub side: String,
    /// `change` or `require`.
    pub table: String,
    /// The limit.
    pub limit: f64,
    /// What was found, in the limit's unit; null where not reached.
    pub value: Option<f64>,
    /// Lower limit of its interval, null where unbounded; the window where it
    /// lies beyond that.
    pub low: Option<f64>,
    /// Upper limit of its interval, null where unbounded.
    pub high: Option<f64>,
    /// The verdict.
    pub verdict: Verdict,
    /// The baseline's own figure.
    pub baseline: Option<f64>,
    /// The candidate's own figure.
    pub candidate: Option<f64>,
    /// Judged trials of the baseline (null without) and of the candidate.
    pub judged: [Option<u64>; 2],
    /// Standard deviation of this figure between the sessions of the baseline,
    /// their trials' scatter included; null where it is not known.
    pub between_sessions: Option<f64>,
    /// Where the interval comes from.
    pub method: String,
    /// Why it is inconclusive.
    pub why: Option<String>,
    /// Whether there are fewer judged trials than a verdict needs.
    pub few: bool,
    /// The window, ms, within which the quantile is not reached; null where it
    /// is, and for rates.
    pub not_reached_by_ms: Option<f64>,
}

/// The check that needs the most further trials.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MoreFor {
    /// The policy's key.
    pub name: String,
    /// `near`, `far` or `all`.
    pub side: String,
}

/// Verdict of a check and of the gate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Inside the limits.
    Pass,
    /// Beyond a limit.
    Regression,
    /// Neither shown.
    Inconclusive,
}

/// Holds the candidate against the policy, and against the baseline.
///
/// # Errors
/// A limit on change without a baseline; different versions of blur or δ, a swing against
/// a trigger, or the same content as baseline and candidate.
pub fn gate(
    baseline: Option<&Named>,
    candidate: &Named,
    policy: &Policy,
    options: &GateOptions,
) -> Result<Gate, GateError> {
    let sessions: Vec<Named> = baseline.copied().into_iter().collect();
    gate_over_sessions(&sessions, candidate, policy, options)
}

/// The same with a baseline of any number of sessions.
///
/// # Errors
/// As [`gate`].
pub fn gate_over_sessions(
    sessions: &[Named],
    candidate: &Named,
    policy: &Policy,
    options: &GateOptions,
) -> Result<Gate, GateError> {
    let merged = between::merged(sessions);
    let baseline = merged.as_ref().zip(sessions.first());
    let baseline = baseline.map(|(timing, first)| Named {
        file: first.file,
        timing,
    });
    let baseline = baseline.as_ref();
    if !(199..=100_000).contains(&options.resamples) {
        return Err(GateError::Resamples(options.resamples));
    }
    if baseline.is_none() && policy.change.is_set() {
        return Err(if policy.built_in {
            GateError::NothingNamed
        } else {
            GateError::NoBaseline
        });
    }
    let named: Vec<Named> = baseline.into_iter().chain([candidate]).copied().collect();
    let all: Vec<Named> = sessions.iter().chain([candidate]).copied().collect();
    for (k, one) in all.iter().enumerate() {
        for before in &all[..k] {
            super::compare::check_two(before, one)?;
        }
    }
    let latencies = super::compare::latencies(&named);
    let mut warnings = super::compare::settings_warnings(&named, latencies);
    if policy.change.is_set() {
        warnings.splice(0..0, between::warnings(sessions));
    }
    let checks = checks::checks((baseline, sessions), candidate, policy, latencies, options);
    let more = more::more_trials(&checks, policy.test.min_trials);
    let labels: &[&str] = match named.as_slice() {
        [_, _] => &["before", "after"],
        _ => &["candidate"],
    };
    let setups: Vec<Told> = labels
        .iter()
        .zip(&named)
        .map(|(label, n)| Told {
            label: (*label).to_owned(),
            detail: describe(&n.timing.clips, latencies, policy.test.confidence),
        })
        .collect();
    let own_reference = setups.last().is_some_and(|s| s.detail.own_reference);
    Ok(Gate {
        verdict: overall(&checks),
        more_trials_per_setup: more.map(|m| m.0),
        more_trials_for: more.map(|m| MoreFor {
            name: m.1.name.clone(),
            side: m.1.side.clone(),
        }),
        checks,
        baseline_sessions: sessions.len() as u64,
        baseline: baseline.map(|b| b.timing.setup.name.clone()),
        candidate: candidate.timing.setup.name.clone(),
        latencies: latencies.words().to_owned(),
        lag: super::compare::lag_words(&named, latencies).to_owned(),
        own_reference,
        setups,
        confidence: policy.test.confidence,
        min_trials: policy.test.min_trials,
        min_trials_asked: policy.asked(),
        seed: options.seed,
        resamples: options.resamples,
        warnings,
    })
}

fn overall(checks: &[Check]) -> Verdict {
    let any = |verdict| checks.iter().any(|c| c.verdict == verdict);
    if any(Verdict::Regression) {
        Verdict::Regression
    } else if any(Verdict::Inconclusive) || checks.is_empty() {
        Verdict::Inconclusive
    } else {
        Verdict::Pass
    }
}

#[cfg(test)]
mod tests;
