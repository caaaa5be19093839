//! Whether a trial could be watched to its end.

use super::curve::{Curve, Sample};

/// Longest hole in the frames that a trial survives, seconds beyond which
/// the moments in it cannot be told.
const LONGEST_HOLE_S: f64 = 0.1;

/// Whether window and hold lie inside what was filmed: before the clip's end,
/// before the next stimulus, and without a hole.
#[must_use]
pub fn is_cut(curve: &Curve, onset_s: f64, read_to_s: f64, next_move_s: Option<f64>) -> bool {
    let Some(last) = curve.samples.last() else {
        return true;
    };
    let clip_end = last.shown_s + curve.period_s + curve.frame_s;
    if read_to_s > clip_end || next_move_s.is_some_and(|t| t < read_to_s) {
        return true;
    }
    let longest = LONGEST_HOLE_S.max(2.5 * curve.period_s);
    let seen = curve.between(onset_s - curve.period_s, read_to_s);
    seen.is_empty() || seen.windows(2).any(|w| hole(w) > longest)
}

fn hole(pair: &[Sample]) -> f64 {
    pair[1].shown_s - pair[0].shown_s
}
