//! Before filming: how many trials, at which frame rate, how far apart, how
//! the target swings.
//!
//! In: a [`Question`] (everything optional). Out: a [`Plan`] that serialises to
//! `plan --json`: `trials_per_setup` where an effect was named, and `capture`,
//! `optics`, `swing` where their inputs are given. Pure arithmetic, no files.

pub(crate) mod capture;
pub(crate) mod floor;
pub(crate) mod looks;
pub(crate) mod optics;
pub(crate) mod sampling;
pub(crate) mod sessions;
pub mod sizes;
pub mod sooner;
pub(crate) mod swing;

use serde::Serialize;

pub use capture::{Capture, CaptureQuestion};
pub use floor::Floor;
pub use looks::{Looks, LooksQuestion};
pub(crate) use optics::{Optics, OpticsQuestion};
pub(crate) use sampling::{Field, FieldQuestion, field};
pub use sessions::{Sessions, SessionsQuestion};
pub use sizes::{Latencies, Rates, Trials};
pub(crate) use swing::{Swing, SwingQuestion};

/// What is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Question {
    /// Two-sided confidence, 0.5..1; 0.95 where not given.
    pub confidence: Option<f64>,
    /// Power, 0.5..1; 0.8 where not given.
    pub power: Option<f64>,
    /// Two hit rates to be told apart.
    pub rates: Option<Rates>,
    /// A hit rate to be shown to reach a floor.
    pub floor: Option<Floor>,
    /// Two sets of latencies to be told apart.
    pub latencies: Option<Latencies>,
    /// Standard deviation of one setup's latencies, ms.
    pub spread_ms: Option<f64>,
    /// Trials per setup that can be had: what would they show?
    pub trials: Option<u64>,
    /// Whether it is looked before all is filmed.
    pub looks: Option<LooksQuestion>,
    /// A baseline of several sessions.
    pub sessions: Option<SessionsQuestion>,
    /// How the screen is filmed.
    pub capture: Option<CaptureQuestion>,
    /// Lens and distances.
    pub optics: Option<OpticsQuestion>,
    /// The pendulum.
    pub swing: Option<SwingQuestion>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// Trials each setup needs for every effect named; null if none was.
    pub trials_per_setup: Option<u64>,
    /// Two-sided confidence.
    pub confidence: f64,
    /// Power.
    pub power: f64,
    /// How the number came about, one per effect named.
    pub trials: Vec<Trials>,
    /// What a given number of trials can show.
    pub shows: Option<sizes::Shows>,
    /// When to look, and what counts then.
    pub looks: Option<Looks>,
    /// What one more session shows.
    pub sessions: Option<Sessions>,
    /// Filming.
    pub capture: Option<Capture>,
    /// Lens and distances.
    pub optics: Option<Optics>,
    /// The pendulum.
    pub swing: Option<Swing>,
    /// What stands against the plan.
    pub warnings: Vec<String>,
}

/// Why there is no answer: the request is wrong. Keys name what was asked.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{key}: {message}")]
pub struct PlanError {
    /// What was asked, `hit-rate` say.
    pub key: &'static str,
    /// What is wrong and what would do.
    pub message: String,
}

impl PlanError {
    pub(crate) fn new(key: &'static str, message: impl Into<String>) -> Self {
        Self {
            key,
            message: message.into(),
        }
    }
}

/// Refuses a value outside its range.
pub(crate) fn within(
    key: &'static str,
    value: f64,
    low: f64,
    high: f64,
    unit: &str,
) -> Result<f64, PlanError> {
    if value.is_finite() && value >= low && value <= high {
        return Ok(value);
    }
    Err(PlanError::new(
        key,
        format!("{value} is outside {low} to {high}{unit}"),
    ))
}

/// The looks, where there are several.
fn design(question: &Question, level: sizes::Level) -> Result<Option<looks::Design>, PlanError> {
    let Some(looks) = question.looks else {
        return Ok(None);
    };
    let message = match (
        question.floor,
        question.rates,
        question.latencies,
        question.trials,
    ) {
        (Some(_), ..) => "looks are for telling two kits apart; ask --at-least by itself",
        (None, None, None, None) => {
            "needs two kits to be told apart (--hit-rate with --versus, or --spread-ms with \
             --detect-ms) or --trials"
        }
        _ => return looks::Design::new(looks, level).map(Some),
    };
    Err(PlanError::new("looks", message))
}

/// Answers a question.
///
/// # Errors
/// A value outside its range, or effects that are none.
pub fn plan(question: &Question) -> Result<Plan, PlanError> {
    let confidence = question.confidence.unwrap_or(0.95);
    let power = question.power.unwrap_or(0.8);
    within("confidence", confidence, 0.5, 0.9999, "")?;
    within("power", power, 0.5, 0.9999, "")?;
    let level = sizes::Level { confidence, power };
    let design = design(question, level)?;
    let mut trials = Vec::new();
    if let Some(rates) = question.rates {
        trials.push(sizes::for_rates(rates, level)?);
    }
    if let Some(floor) = question.floor {
        trials.push(floor::for_floor(floor, level)?);
    }
    if let Some(latencies) = question.latencies {
        trials.push(sizes::for_latencies(latencies, level)?);
        trials.push(sooner::for_sooner(latencies, level)?);
    }
    if let Some(design) = &design {
        trials = trials.into_iter().map(|t| design.looked_at(t)).collect();
    }
    let trials_per_setup = trials.iter().map(|t| t.trials_per_setup).max();
    let swing = question.swing.map(|q| swing::swing(&q)).transpose()?;
    let capture = question.capture.map(|q| capture::capture(&q)).transpose()?;
    let optics = question.optics.map(|q| optics::optics(&q)).transpose()?;
    let mut warnings = Vec::new();
    warnings.extend(capture.iter().flat_map(|c| c.warnings.clone()));
    warnings.extend(optics.iter().flat_map(|o| o.warnings.clone()));
    warnings.extend(swing.iter().flat_map(|s| s.warnings.clone()));
    Ok(Plan {
        trials_per_setup,
        looks: design
            .as_ref()
            .map(|d| d.schedule(trials_per_setup.or(question.trials))),
        confidence,
        power,
        trials,
        shows: question
            .trials
            .map(|n| {
                let times = design.as_ref().map_or(1.0, |d| d.times);
                sizes::shows(n, times, question.rates, question.spread_ms, level)
            })
            .transpose()?,
        sessions: question
            .sessions
            .map(|q| sessions::sessions(&q, level))
            .transpose()?,
        capture,
        optics,
        swing,
        warnings,
    })
}
