//! Values by their place in rising order.

use std::cmp::Ordering;
use std::f64::consts::SQRT_2;

/// Standard deviation of a normal distribution ÷ its median absolute deviation.
pub(crate) const SIGMA_OF_MAD: f64 = 1.4826;

/// A number of either width.
pub(crate) trait Value: Copy {
    fn order(&self, other: &Self) -> Ordering;
}

impl Value for f32 {
    fn order(&self, other: &Self) -> Ordering {
        self.total_cmp(other)
    }
}

impl Value for f64 {
    fn order(&self, other: &Self) -> Ordering {
        self.total_cmp(other)
    }
}

/// The value `part` of `whole` of the way through, without interpolation;
/// `None` of nothing, and at the very end.
pub(crate) fn at<T: Value>(mut v: Vec<T>, part: usize, whole: usize) -> Option<T> {
    let place = v.len() * part / whole;
    (place < v.len()).then(|| *v.select_nth_unstable_by(place, T::order).1)
}

/// The middle value, the upper one of two; `None` of nothing.
pub(crate) fn middle<T: Value>(v: Vec<T>) -> Option<T> {
    at(v, 1, 2)
}

/// The middle value (mean of the two middle ones); `None` of nothing.
pub(crate) fn median(mut v: Vec<f64>) -> Option<f64> {
    let (half, even) = (v.len() / 2, v.len().is_multiple_of(2));
    if v.is_empty() {
        return None;
    }
    let (below, upper, _) = v.select_nth_unstable_by(half, f64::total_cmp);
    let lower = below.iter().copied().max_by(f64::total_cmp);
    Some(f64::midpoint(
        lower.filter(|_| even).unwrap_or(*upper),
        *upper,
    ))
}

/// The smallest value that a share `p` of all does not exceed (nearest rank);
/// `None` of nothing.
pub(crate) fn nearest_rank(v: &[f64], p: f64) -> Option<f64> {
    let mut v = v.to_vec();
    let rank = (v.len() as f64 * p).ceil() as usize;
    let place = rank.saturating_sub(1);
    (place < v.len()).then(|| *v.select_nth_unstable_by(place, f64::total_cmp).1)
}

/// Standard deviation of one value's noise, from what values that belong
/// together differ by.
pub(crate) fn noise_of_steps(steps: Vec<f64>) -> f64 {
    median(steps).unwrap_or(0.0) * SIGMA_OF_MAD / SQRT_2
}

/// Standard deviation of one value's noise, from each to the next.
pub(crate) fn noise(values: &[f64]) -> f64 {
    noise_of_steps(values.windows(2).map(|w| (w[1] - w[0]).abs()).collect())
}

/// Usual step of rising times; `None` where there is none.
pub(crate) fn usual_step(times: &[f64]) -> Option<f64> {
    let steps = times.windows(2).map(|w| w[1] - w[0]).collect();
    middle(steps).filter(|s| *s > 0.0)
}
