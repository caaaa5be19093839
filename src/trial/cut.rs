//! Whether a trial could be watched to its end.

use super::trace::{Trace, Update};
use crate::limits;

/// Whether window and hold lie inside what was filmed: before the clip's end,
/// before the next stimulus, and without a hole.
pub fn is_cut(trace: &Trace, onset_s: f64, read_to_s: f64, over_s: Option<f64>) -> bool {
    let Some(last) = trace.updates.last() else {
        return true;
    };
    let clip_end = last.shown_s + trace.period_s + trace.frame_s;
    if read_to_s > clip_end || over_s.is_some_and(|t| t < read_to_s) {
        return true;
    }
    let longest = limits::LONGEST_HOLE_S.get().max(2.5 * trace.period_s);
    // One update more on either side: a hole may lie across an end.
    let first = trace.at_or_after(onset_s).saturating_sub(1);
    let end = (trace.at_or_after(read_to_s) + 1).min(trace.updates.len());
    trace.updates[first..end.max(first)]
        .windows(2)
        .any(|w| hole(w) > longest)
}

fn hole(pair: &[Update]) -> f64 {
    pair[1].shown_s - pair[0].shown_s
}
