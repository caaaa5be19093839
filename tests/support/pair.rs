//! When a settle agrees with the truth.

/// Whether a settle agrees with its pair: to a refresh and a frame before it,
/// and to two of them after. On these small screens compression holds detail
/// back after motion, so that a settle may be late, and never early.
pub fn agrees(pair: [f64; 2], got: f64, unit: f64) -> bool {
    got > pair[0] - unit && got < pair[1] + 2.0 * unit
}
