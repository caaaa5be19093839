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
    /// Files judged by blur of different versions, or by something else.
    #[error(
        "{} was judged by {}, {} by {}; their numbers do not compare: judge them again with this \
         build, from kept signals (focuslag time SESSION.toml --from-signals --force) or from the \
         clips (focuslag time SESSION.toml --force)",
        files[0], measured[0], files[1], measured[1]
    )]
    Measured {
        /// Both files.
        files: [String; 2],
        /// What each was judged by.
        measured: [String; 2],
    },
    /// Files judged at different δ.
    #[error(
        "{} was judged at another δ ({}) than {} ({}), and a coarser δ is reached sooner; judge \
         them again at one: focuslag compare --at-permille {largest} {} {} (from kept signals, \
         nothing is written), or set trial.settle_permille = {largest} in both rigs and run \
         focuslag time SESSION.toml --from-signals --force",
        files[0], deltas[0], files[1], deltas[1], files[0], files[1]
    )]
    Delta {
        /// Both files.
        files: [String; 2],
        /// δ of each, in words.
        deltas: [String; 2],
        /// The largest of them, ‰ of the screen's height.
        largest: f64,
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
    /// A look that cannot be, or that does not fit its plan.
    #[error("command line: --{key}: {message}")]
    Looks {
        /// What was asked.
        key: &'static str,
        /// What is wrong, and what would do.
        message: String,
    },
    /// The histogram could not be written.
    #[error(transparent)]
    Histogram(#[from] HistogramError),
}
