//! What was agreed, as written in TOML.

use serde::de::{Deserialize, Deserializer};

use crate::written::values::{refused, whole};
use crate::written::{Faults, Known, Sheet};

const KNOWN: Known = Known {
    keys: &[
        "change.hit_rate_drop",
        "change.median_slowdown_ms",
        "change.p90_slowdown_ms",
        "require.hit_rate",
        "require.p90_ms",
        "test.confidence",
        "test.min_trials",
    ],
    lists: &[],
    retired: &[],
};

/// Limits and how surely they are to be judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Policy {
    /// Candidate against baseline.
    pub change: Change,
    /// What the candidate must reach whatever the baseline did.
    pub require: Require,
    /// How surely.
    pub test: Test,
    /// Whether nobody wrote one: these are the built-in limits.
    pub built_in: bool,
}

/// The largest change that is accepted.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Change {
    /// Drop of the hit rate, 0..1.
    #[serde(deserialize_with = "drop_of_rate")]
    pub hit_rate_drop: Option<f64>,
    /// Slowdown of the median time-to-focus, ms.
    #[serde(deserialize_with = "slowdown")]
    pub median_slowdown_ms: Option<f64>,
    /// Slowdown of the 90 % point of time-to-focus, ms.
    #[serde(deserialize_with = "slowdown")]
    pub p90_slowdown_ms: Option<f64>,
}

/// What the candidate must reach.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Require {
    /// Hit rate, above 0 and below 1.
    #[serde(deserialize_with = "hit_rate")]
    pub hit_rate: Option<f64>,
    /// 90 % point of time-to-focus, ms.
    #[serde(deserialize_with = "required")]
    pub p90_ms: Option<f64>,
}

/// How surely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Test {
    /// Two-sided level of intervals, 0.5..1.
    pub confidence: f64,
    /// Fewest judged trials per side.
    pub min_trials: u64,
    /// Whether the policy names that number.
    pub min_trials_named: bool,
}

/// A policy that cannot be followed.
#[derive(Debug, thiserror::Error)]
pub enum PolicyError {
    /// Everything that is wrong, each with its line and key.
    #[error(transparent)]
    Faults(#[from] Faults),
    /// The wrong file was named.
    #[error("{0}: this is a timing file, not a policy; give it as --candidate or --baseline")]
    Timing(String),
    /// No limit at all.
    #[error(
        "{0}: sets no limit: give at least one key under [change] or [require] \
         (`hit_rate = 0.70` under [require], say)"
    )]
    Empty(String),
}

impl PolicyError {
    /// One message per fault.
    pub fn messages(&self) -> Vec<String> {
        match self {
            Self::Faults(faults) => faults.list.iter().map(ToString::to_string).collect(),
            other => vec![other.to_string()],
        }
    }
}

impl Change {
    /// Whether any change is limited.
    pub fn is_set(&self) -> bool {
        self.hit_rate_drop.is_some()
            || self.median_slowdown_ms.is_some()
            || self.p90_slowdown_ms.is_some()
    }
}

impl Require {
    /// Whether anything is required.
    pub fn is_set(&self) -> bool {
        self.hit_rate.is_some() || self.p90_ms.is_some()
    }
}

impl Default for Test {
    fn default() -> Self {
        Self {
            confidence: 0.95,
            min_trials: 20,
            min_trials_named: false,
        }
    }
}

impl Default for Policy {
    /// Without a policy file: 5 points of hit rate, 20 ms of the median, 50 ms
    /// of the 90 % point, nothing required of the candidate alone.
    fn default() -> Self {
        Self {
            change: Change {
                hit_rate_drop: Some(0.05),
                median_slowdown_ms: Some(20.0),
                p90_slowdown_ms: Some(50.0),
            },
            require: Require::default(),
            test: Test::default(),
            built_in: true,
        }
    }
}

impl Policy {
    /// Reads a policy; `file` is what messages call it.
    ///
    /// # Errors
    /// TOML that does not parse, unknown keys, impossible limits, no limit:
    /// all of them at once, each with file, line and key.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, PolicyError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        if text.trim_start().starts_with('{') && text.contains(crate::store::schema::FORMAT) {
            return Err(PolicyError::Timing(file.to_owned()));
        }
        let sheet = Sheet::new(file, text);
        let policy: Option<PolicyFile> = sheet.read(&KNOWN);
        let policy = Self::from(sheet.close(policy)?);
        if !policy.change.is_set() && !policy.require.is_set() {
            return Err(PolicyError::Empty(file.to_owned()));
        }
        Ok(policy)
    }

    /// Who asks for the number of trials, in words.
    pub(super) fn asked(&self) -> String {
        let n = self.test.min_trials;
        if self.built_in {
            format!("the built-in limits ask for {n}")
        } else if self.test.min_trials_named {
            format!("the policy asks for {n}")
        } else {
            format!("a verdict takes {n} unless the policy sets test.min_trials")
        }
    }
}

/// A policy as written.
#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct PolicyFile {
    change: Change,
    require: Require,
    test: TestFile,
}

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct TestFile {
    #[serde(deserialize_with = "level")]
    confidence: Option<f64>,
    #[serde(deserialize_with = "count")]
    min_trials: Option<u32>,
}

impl From<PolicyFile> for Policy {
    fn from(file: PolicyFile) -> Self {
        let (test, min_trials) = (Test::default(), file.test.min_trials);
        Self {
            change: file.change,
            require: file.require,
            test: Test {
                confidence: file.test.confidence.unwrap_or(test.confidence),
                min_trials: min_trials.map_or(test.min_trials, u64::from),
                min_trials_named: min_trials.is_some(),
            },
            built_in: false,
        }
    }
}

fn count<'de, D: Deserializer<'de>>(d: D) -> Result<Option<u32>, D::Error> {
    whole(d, 1..=1_000_000).map(Some)
}

/// Readers of a limit, in words where it does not fit; of a share 70 was meant as
/// 0.70.
macro_rules! limits {
    ($($name:ident: $fits:expr, $share:literal, $words:literal;)*) => {$(
        fn $name<'de, D: Deserializer<'de>>(d: D) -> Result<Option<f64>, D::Error> {
            limit(d, $fits, $share, $words)
        }
    )*};
}

limits! {
    drop_of_rate: |v| (0.0..1.0).contains(&v), true, "give a share from 0 to below 1 (0.05 for 5 points)";
    hit_rate: |v| v > 0.0 && v < 1.0, true, "give a share above 0 and below 1: no number of trials shows a rate of exactly 1";
    level: |v| v > 0.5 && v < 1.0, true, "give a share above 0.5 and below 1 (0.95, say)";
    slowdown: |v| (0.0..=60_000.0).contains(&v), false, "give milliseconds from 0 to 60000";
    required: |v| v > 0.0 && v <= 60_000.0, false, "give milliseconds above 0, at most 60000";
}

fn limit<'de, D: Deserializer<'de>>(
    d: D,
    fits: fn(f64) -> bool,
    share: bool,
    words: &str,
) -> Result<Option<f64>, D::Error> {
    let v = f64::deserialize(d)?;
    if fits(v) {
        return Ok(Some(v));
    }
    if share && (1.0..100.0).contains(&v) && fits(v / 100.0) {
        return refused(format!("is {v}; write {:.2} for {v} %", v / 100.0));
    }
    refused(format!("is {v}; {words}"))
}

#[cfg(test)]
#[path = "policy_tests.rs"]
mod tests;
