//! Why setups cannot be compared.

use super::super::histogram::HistogramError;

/// Why setups cannot be compared: the request is wrong.
#[derive(Debug, thiserror::Error)]
pub enum CompareError {
    /// Fewer than two files.
    #[error("a comparison needs at least two timing files, {0} given")]
    TooFew(usize),
    /// A level outside its range.
    #[error("the confidence must lie above 0.5 and below 1 (0.95, say); {0} does not")]
    Confidence(f64),
    /// Resamples outside their range.
    #[error("the number of resamples must lie between 199 and 100000; {0} does not")]
    Resamples(usize),
    /// Files judged by different measures.
    #[error(
        "{a} and {b} were judged by different measures ({what}); their numbers do not compare: \
         time both with the same measure"
    )]
    Measure {
        /// One file.
        a: String,
        /// The other.
        b: String,
        /// What differs.
        what: String,
    },
    /// A swing against a trigger light or tone.
    #[error(
        "{a} holds trials with near and far sides, {b} without: a swing and a trigger answer \
         different questions and are not compared"
    )]
    Sides {
        /// The file with sides.
        a: String,
        /// The file without.
        b: String,
    },
    /// The same content twice.
    #[error(
        "{a} and {b} hold the same trials of the same clips: a setup is not compared to itself"
    )]
    Same {
        /// One file.
        a: String,
        /// The other.
        b: String,
    },
    /// The histogram could not be written.
    #[error(transparent)]
    Histogram(#[from] HistogramError),
}
