//! What was agreed, as written in TOML.

use crate::rig::Faults;
use crate::rig::fields::Table;
use crate::rig::sheet::Sheet;

/// Every key, and its heading.
const KEYS: [&str; 7] = [
    "change.hit_rate_drop",
    "change.median_slowdown_ms",
    "change.p90_slowdown_ms",
    "require.hit_rate",
    "require.p90_ms",
    "test.confidence",
    "test.min_trials",
];

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
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Change {
    /// Drop of the hit rate, 0..1.
    pub hit_rate_drop: Option<f64>,
    /// Slowdown of the median time-to-focus, ms.
    pub median_slowdown_ms: Option<f64>,
    /// Slowdown of the 90 % point of time-to-focus, ms.
    pub p90_slowdown_ms: Option<f64>,
}

/// What the candidate must reach.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Require {
    /// Hit rate, above 0 and below 1.
    pub hit_rate: Option<f64>,
    /// 90 % point of time-to-focus, ms.
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
    #[must_use]
    pub fn messages(&self) -> Vec<String> {
        match self {
            Self::Faults(faults) => faults.list.iter().map(ToString::to_string).collect(),
            other => vec![other.to_string()],
        }
    }
}

impl Change {
    /// Whether any change is limited.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.hit_rate_drop.is_some()
            || self.median_slowdown_ms.is_some()
            || self.p90_slowdown_ms.is_some()
    }
}

impl Require {
    /// Whether anything is required.
    #[must_use]
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
        let policy = sheet.tree().map(|tree| {
            let root = Table::root(&sheet, &tree);
            root.check_keys(&KEYS);
            Self::read(&root)
        });
        let policy = sheet.close(policy)?;
        if !policy.change.is_set() && !policy.require.is_set() {
            return Err(PolicyError::Empty(file.to_owned()));
        }
        Ok(policy)
    }

    fn read(root: &Table) -> Self {
        let (change, require, test) = (
            root.section("change"),
            root.section("require"),
            root.section("test"),
        );
        let defaults = Test::default();
        let min_trials = test
            .value("min_trials")
            .and_then(|v| v.whole_in(1..=1_000_000));
        Self {
            change: Change {
                hit_rate_drop: number(&change, "hit_rate_drop", &DROP),
                median_slowdown_ms: number(&change, "median_slowdown_ms", &SLOWDOWN),
                p90_slowdown_ms: number(&change, "p90_slowdown_ms", &SLOWDOWN),
            },
            require: Require {
                hit_rate: number(&require, "hit_rate", &RATE),
                p90_ms: number(&require, "p90_ms", &REQUIRED),
            },
            test: Test {
                confidence: number(&test, "confidence", &LEVEL).unwrap_or(defaults.confidence),
                min_trials: min_trials.map_or(defaults.min_trials, u64::from),
                min_trials_named: min_trials.is_some(),
            },
            built_in: false,
        }
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

/// What a number must be.
struct Must {
    fits: fn(f64) -> bool,
    words: &'static str,
    /// Whether it is a share, so that 70 was meant as 0.70.
    share: bool,
}

const DROP: Must = Must {
    fits: |v| (0.0..1.0).contains(&v),
    words: "give a share from 0 to below 1 (0.05 for 5 points)",
    share: true,
};
const RATE: Must = Must {
    fits: |v| v > 0.0 && v < 1.0,
    words: "give a share above 0 and below 1: no number of trials shows a rate of exactly 1",
    share: true,
};
const LEVEL: Must = Must {
    fits: |v| v > 0.5 && v < 1.0,
    words: "give a share above 0.5 and below 1 (0.95, say)",
    share: true,
};
const SLOWDOWN: Must = Must {
    fits: |v| (0.0..=60_000.0).contains(&v),
    words: "give milliseconds from 0 to 60000",
    share: false,
};
const REQUIRED: Must = Must {
    fits: |v| v > 0.0 && v <= 60_000.0,
    words: "give milliseconds above 0, at most 60000",
    share: false,
};

fn number(table: &Table, key: &str, must: &Must) -> Option<f64> {
    let value = table.value(key)?;
    let number = value.number()?;
    if (must.fits)(number) {
        return Some(number);
    }
    let hint = if must.share && (1.0..100.0).contains(&number) && (must.fits)(number / 100.0) {
        format!("; write {:.2} for {number} %", number / 100.0)
    } else {
        format!("; {}", must.words)
    };
    value.fault(format!("is {number}{hint}"));
    None
}

#[cfg(test)]
#[path = "policy_tests.rs"]
mod tests;
