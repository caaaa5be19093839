//! Latency histograms: what is stored, and the bins of a drawing.
//!
//! In: latencies in ms. Stored: HdrHistogram V2, compressed, base64, in µs from
//! 1 to 60,000,000 with three significant digits (a count may stand up to 0.1 %
//! beside its latency; the trials stay the truth). Out of a stored histogram:
//! counts over bins with round edges on a scale that several setups share. The
//! only place that knows the hdrhistogram crate.

use std::time::Duration;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use hdrhistogram::Histogram;
use hdrhistogram::serialization::interval_log::{IntervalLogWriterBuilder, Tag};
use hdrhistogram::serialization::{Deserializer, Serializer, V2DeflateSerializer};

use crate::names::acts;

/// Lowest value told apart, µs.
pub const LOWEST_US: u64 = 1;
/// Highest value, µs.
pub const HIGHEST_US: u64 = 60_000_000;
/// Significant decimal digits kept.
pub const DIGITS: u8 = 3;
/// Longest stored text accepted: far beyond any histogram of this range.
const LONGEST_TEXT: usize = 1 << 20;

/// Why a stored histogram could not be made or read.
#[derive(Debug, thiserror::Error)]
pub enum HistogramError {
    /// Not base64.
    #[error("the histogram is not base64 text: {0}")]
    Text(#[from] base64::DecodeError),
    /// Longer than any histogram of this range.
    #[error("the histogram text is {0} characters long, which no latency histogram needs")]
    TooLong(usize),
    /// Base64, but not a histogram this build can read.
    #[error("not an HdrHistogram V2 payload this build can read: {0}")]
    Payload(String),
}

/// Hit latencies of one setup, bucketed.
#[derive(Clone, Debug)]
pub struct LatencyHistogram {
    counts: Histogram<u64>,
}

impl LatencyHistogram {
    /// Buckets these latencies (ms). Beyond the range the nearest end counts.
    ///
    /// # Errors
    /// Never in practice: the range is fixed and valid.
    pub fn of_ms(latencies: &[f64]) -> Result<Self, HistogramError> {
        let mut counts = Histogram::new_with_bounds(LOWEST_US, HIGHEST_US, DIGITS)
            .map_err(|e| HistogramError::Payload(e.to_string()))?;
        for ms in latencies {
            // A cast of a float saturates, so no value can wrap around.
            counts.saturating_record(((ms * 1000.0).round() as u64).min(HIGHEST_US));
        }
        Ok(Self { counts })
    }

    /// The stored text, `HISTFAAA…`; the same latencies give the same text.
    ///
    /// # Errors
    /// If the histogram cannot be written, which memory alone could cause.
    pub fn to_text(&self) -> Result<String, HistogramError> {
        let mut bytes = Vec::new();
        V2DeflateSerializer::new()
            .serialize(&self.counts, &mut bytes)
            .map_err(|e| HistogramError::Payload(e.to_string()))?;
        Ok(STANDARD.encode(bytes))
    }

    /// A log of one interval in the HdrHistogram log format (version 1.3, V2
    /// payload), tagged; the largest value stands in ms. Start and length are
    /// those of the film, seconds: no clock is asked.
    ///
    /// # Errors
    /// If the histogram cannot be written, which memory alone could cause.
    pub fn to_log(
        &self,
        tag: &str,
        length_s: f64,
        comment: &str,
    ) -> Result<String, HistogramError> {
        let fault = |e: &dyn std::fmt::Debug| HistogramError::Payload(format!("{e:?}"));
        // The format has no commas, spaces or line ends in a tag.
        let safe = |c: char| {
            if c.is_whitespace() || c == ',' || acts(c) {
                '-'
            } else {
                c
            }
        };
        let tag: String = tag.chars().map(safe).collect();
        let comment: String = comment
            .chars()
            .map(|c| if acts(c) { ' ' } else { c })
            .collect();
        let mut bytes = Vec::new();
        let mut serializer = V2DeflateSerializer::new();
        let length = Duration::try_from_secs_f64(length_s).unwrap_or_default();
        IntervalLogWriterBuilder::new()
            .add_comment("[Histogram log format version 1.3]")
            .add_comment(&comment)
            .with_max_value_divisor(1000.0)
            .begin_log_with(&mut bytes, &mut serializer)
            .map_err(|e| fault(&e))?
            .write_histogram(&self.counts, Duration::ZERO, length, Tag::new(&tag))
            .map_err(|e| fault(&e))?;
        String::from_utf8(bytes).map_err(|e| fault(&e))
    }

    /// Reads a stored text back.
    ///
    /// # Errors
    /// Where it is not base64 or not a V2 histogram.
    pub fn from_text(text: &str) -> Result<Self, HistogramError> {
        if text.len() > LONGEST_TEXT {
            return Err(HistogramError::TooLong(text.len()));
        }
        let bytes = STANDARD.decode(text.trim())?;
        let counts = Deserializer::new()
            .deserialize(&mut bytes.as_slice())
            .map_err(|e| HistogramError::Payload(e.to_string()))?;
        Ok(Self { counts })
    }

    /// Number of latencies recorded.
    pub fn len(&self) -> u64 {
        self.counts.len()
    }

    /// Buckets with something in them: lowest and highest latency of the
    /// bucket in µs, and the count.
    pub fn buckets(&self) -> Vec<(u64, u64, u64)> {
        self.counts
            .iter_recorded()
            .map(|b| {
                let top = b.value_iterated_to();
                (self.counts.lowest_equivalent(top), top, b.count_at_value())
            })
            .collect()
    }
}

/// Bins with round edges, ms: bin k covers `start + k·step .. start + (k+1)·step`,
/// the lower edge inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Lower edge of the first bin, ms.
    pub start_ms: f64,
    /// Width of a bin, ms: 1, 2 or 5 times a power of ten.
    pub step_ms: f64,
    /// Number of bins.
    pub bins: usize,
}

impl Scale {
    /// The finest scale of at most `most` bins (at least 2) that holds every
    /// latency of every histogram; `None` where all are empty.
    pub fn common(histograms: &[&LatencyHistogram], most: usize) -> Option<Self> {
        let buckets: Vec<_> = histograms.iter().flat_map(|h| h.buckets()).collect();
        let low = middle_us(buckets.iter().min_by_key(|b| b.0)?) / 1000.0;
        let high = middle_us(buckets.iter().max_by_key(|b| b.1)?) / 1000.0;
        round_steps()
            .map(|step_ms| {
                let first = (low / step_ms).floor();
                Self {
                    start_ms: first * step_ms,
                    step_ms,
                    bins: ((high / step_ms).floor() - first) as usize + 1,
                }
            })
            .find(|scale| scale.bins <= most.max(2))
    }

    /// Counts of one histogram over the bins; what lies outside is not
    /// counted.
    pub fn counts(&self, histogram: &LatencyHistogram) -> Vec<u64> {
        let mut counts = vec![0; self.bins];
        for bucket in histogram.buckets() {
            let ms = middle_us(&bucket) / 1000.0;
            let place = ((ms - self.start_ms) / self.step_ms).floor();
            if place >= 0.0 && (place as usize) < self.bins {
                counts[place as usize] += bucket.2;
            }
        }
        counts
    }

    /// The same bins from 0 on; coarser ones where those were more than `most`.
    pub fn starting_at_zero(self, most: usize) -> Self {
        let end_ms = self.edge_ms(self.bins);
        let from_zero = |step_ms: f64| Self {
            start_ms: 0.0,
            step_ms,
            bins: (end_ms / step_ms).ceil() as usize,
        };
        let steps = round_steps().filter(|step| *step >= self.step_ms);
        let mut scales = steps.map(from_zero);
        let fits = scales.find(|scale| scale.bins <= most);
        fits.unwrap_or(from_zero(self.step_ms))
    }

    /// Lower edge of a bin, ms.
    pub fn edge_ms(&self, bin: usize) -> f64 {
        self.start_ms + bin as f64 * self.step_ms
    }
}

/// 1, 2, 5, 10, … up to the whole range, ms.
fn round_steps() -> impl Iterator<Item = f64> {
    (0..6).flat_map(|e| [1.0, 2.0, 5.0].map(|m| m * 10f64.powi(e)))
}

fn middle_us(bucket: &(u64, u64, u64)) -> f64 {
    f64::midpoint(bucket.0 as f64, bucket.1 as f64)
}

#[cfg(test)]
#[path = "histogram_tests.rs"]
mod tests;
