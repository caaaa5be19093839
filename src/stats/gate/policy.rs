//! What was agreed, as written in TOML.

use serde::Deserialize;
use toml::Spanned;

/// Limits and how surely they are to be judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Policy {
    /// Candidate against baseline.
    pub change: Change,
    /// What the candidate must reach whatever the baseline did.
    pub require: Require,
    /// How surely.
    pub test: Test,
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
}

/// A policy that cannot be followed.
#[derive(Debug, thiserror::Error)]
pub enum PolicyError {
    /// A key or value at a known place.
    #[error("{file}: line {line}: {message}")]
    At {
        /// The file as named.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Key and what to do.
        message: String,
    },
    /// No limit at all.
    #[error(
        "{0}: sets no limit: give at least one key in `change` or `require` \
         (`change.hit_rate_drop = 0.05`, say)"
    )]
    Empty(String),
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
        }
    }
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Written {
    change: WrittenChange,
    require: WrittenRequire,
    test: WrittenTest,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct WrittenChange {
    hit_rate_drop: Option<Spanned<f64>>,
    median_slowdown_ms: Option<Spanned<f64>>,
    p90_slowdown_ms: Option<Spanned<f64>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct WrittenRequire {
    hit_rate: Option<Spanned<f64>>,
    p90_ms: Option<Spanned<f64>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct WrittenTest {
    confidence: Option<Spanned<f64>>,
    min_trials: Option<Spanned<i64>>,
}

impl Policy {
    /// Reads a policy; `file` is what messages call it.
    ///
    /// # Errors
    /// TOML that does not parse, unknown keys, impossible limits, no limit:
    /// each names file, line and key.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, PolicyError> {
        let source = Source { text, file };
        let written: Written = toml::from_str(text).map_err(|e| PolicyError::At {
            file: file.to_owned(),
            line: e.span().map_or(1, |span| source.line(span.start)),
            message: e.message().to_owned(),
        })?;
        let change = &written.change;
        let require = &written.require;
        let test = &written.test;
        let defaults = Test::default();
        let policy = Self {
            change: Change {
                hit_rate_drop: source.share(&change.hit_rate_drop, "change.hit_rate_drop", true)?,
                median_slowdown_ms: source
                    .span_ms(&change.median_slowdown_ms, "change.median_slowdown_ms")?,
                p90_slowdown_ms: source
                    .span_ms(&change.p90_slowdown_ms, "change.p90_slowdown_ms")?,
            },
            require: Require {
                hit_rate: source.share(&require.hit_rate, "require.hit_rate", false)?,
                p90_ms: source.required_ms(&require.p90_ms, "require.p90_ms")?,
            },
            test: Test {
                confidence: source
                    .confidence(&test.confidence)?
                    .unwrap_or(defaults.confidence),
                min_trials: source
                    .count(&test.min_trials)?
                    .unwrap_or(defaults.min_trials),
            },
        };
        if !policy.change.is_set() && !policy.require.is_set() {
            return Err(PolicyError::Empty(file.to_owned()));
        }
        Ok(policy)
    }
}

/// The text, to turn places into lines.
struct Source<'a> {
    text: &'a str,
    file: &'a str,
}

type Found<T> = Result<Option<T>, PolicyError>;

impl Source<'_> {
    fn line(&self, at: usize) -> usize {
        let upto = &self.text.as_bytes()[..at.min(self.text.len())];
        upto.iter().filter(|&&b| b == b'\n').count() + 1
    }

    fn within<T: Copy>(
        &self,
        value: &Option<Spanned<T>>,
        key: &str,
        fits: impl Fn(T) -> bool,
        must: &str,
    ) -> Found<T> {
        match value {
            None => Ok(None),
            Some(v) if fits(*v.get_ref()) => Ok(Some(*v.get_ref())),
            Some(v) => Err(PolicyError::At {
                file: self.file.to_owned(),
                line: self.line(v.span().start),
                message: format!("key `{key}` must {must}"),
            }),
        }
    }

    fn share(&self, value: &Option<Spanned<f64>>, key: &str, zero: bool) -> Found<f64> {
        if zero {
            let must = "be a share from 0 to below 1 (0.05 for 5 points)";
            self.within(value, key, |v| (0.0..1.0).contains(&v), must)
        } else {
            let must = "lie above 0 and below 1: no number of trials shows a rate of exactly 1";
            self.within(value, key, |v| v > 0.0 && v < 1.0, must)
        }
    }

    fn span_ms(&self, value: &Option<Spanned<f64>>, key: &str) -> Found<f64> {
        let must = "lie from 0 to 60000 ms";
        self.within(value, key, |v| (0.0..=60_000.0).contains(&v), must)
    }

    fn required_ms(&self, value: &Option<Spanned<f64>>, key: &str) -> Found<f64> {
        let must = "lie above 0 and at most at 60000 ms";
        self.within(value, key, |v| v > 0.0 && v <= 60_000.0, must)
    }

    fn confidence(&self, value: &Option<Spanned<f64>>) -> Found<f64> {
        let must = "lie above 0.5 and below 1 (0.95, say)";
        self.within(value, "test.confidence", |v| v > 0.5 && v < 1.0, must)
    }

    fn count(&self, value: &Option<Spanned<i64>>) -> Found<u64> {
        let must = "be a whole number from 1 to 1000000";
        let found = self.within(
            value,
            "test.min_trials",
            |v| (1..=1_000_000).contains(&v),
            must,
        );
        Ok(found?.map(i64::unsigned_abs))
    }
}

#[cfg(test)]
#[path = "policy_tests.rs"]
mod tests;
