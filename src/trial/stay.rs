//! Where the blur stays within δ of a value.
//!
//! A stay's updates all lie within δ, but for single strays: never its first
//! or last update, and at most one in twenty.

use crate::limits;
use std::ops::Range;

use super::trace::{Update, apart};

/// The stay that reaches to the end of `updates`: its first index. `None`
/// where the end itself is outside.
pub fn last_stay(updates: &[Update], centre: f64, delta: f64) -> Option<usize> {
    let inside = |k: usize| apart(updates[k].permille, centre) <= delta;
    let n = updates.len();
    let stay = longest(n, |back| inside(n - 1 - back));
    (stay > 0).then(|| n - stay)
}

/// Updates of the longest stay that begins with the first of `n`; 0 where that
/// itself is outside. Its strays are counted over all of it.
fn longest(n: usize, inside: impl Fn(usize) -> bool) -> usize {
    if n == 0 || !inside(0) {
        return 0;
    }
    let (mut stay, mut strays) = (1, 0);
    for k in 1..n {
        if inside(k) {
            if strays * limits::STRAYS.count() <= k + 1 {
                stay = k + 1;
            }
            continue;
        }
        strays += 1;
        // Two on end are no stray.
        if !inside(k - 1) {
            break;
        }
    }
    stay
}

/// Every stretch that stays within δ of `centre` for at least `least_s`
/// seconds, in order.
pub fn stays(
    updates: &[Update],
    centre: f64,
    delta: f64,
    least_s: f64,
    period_s: f64,
) -> Vec<Range<usize>> {
    let inside = |k: usize| apart(updates[k].permille, centre) <= delta;
    let mut out = Vec::new();
    let mut k = 0;
    while k < updates.len() {
        if !inside(k) {
            k += 1;
            continue;
        }
        let (from, end) = (k, k + longest(updates.len() - k, |on| inside(k + on)));
        let lasted = updates[end - 1].shown_s - updates[from].shown_s + period_s;
        if lasted >= least_s - 1e-9 {
            out.push(from..end);
        }
        k = end;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sharpness::Blurred;

    fn course(v: &[f64]) -> Vec<Update> {
        v.iter()
            .enumerate()
            .map(|(k, v)| Update {
                shown_s: k as f64 * 0.01,
                permille: *v,
                blur: Blurred {
                    square: v * v,
                    square_u: 0.1,
                },
                mean: 0.5,
                white: 0.0,
            })
            .collect()
    }

    #[test]
    fn a_stay_reaches_back_to_its_first_update() {
        let c = course(&[9.0, 5.0, 2.1, 1.9, 0.0, -1.0, 0.5]);
        assert_eq!(last_stay(&c, 0.0, 2.0), Some(3));
        assert_eq!(last_stay(&c, 8.0, 2.0), None);
        assert_eq!(last_stay(&[], 0.0, 2.0), None);
    }

    #[test]
    fn strays_are_single_and_few() {
        let mut v = vec![0.0; 60];
        v[0] = 9.0;
        v[30] = 5.0;
        assert_eq!(last_stay(&course(&v), 0.0, 2.0), Some(1));
        // Right before the end it is no stay any more: two in a row.
        v[31] = 5.0;
        assert_eq!(last_stay(&course(&v), 0.0, 2.0), Some(32));
        // One update in three is no stay.
        let dense: Vec<f64> = (0..60)
            .map(|k| if k % 3 == 1 { 5.0 } else { 0.0 })
            .collect();
        assert!(last_stay(&course(&dense), 0.0, 2.0).unwrap() > 50);
        // A stray is never a stay's first update.
        let mut v = vec![0.0; 40];
        v[..5].fill(9.0);
        v[6] = 9.0;
        assert_eq!(last_stay(&course(&v), 0.0, 2.0), Some(5));
    }

    #[test]
    fn a_stop_in_between_is_found_if_it_lasts() {
        let mut v = vec![0.0; 40];
        v.extend([8.0; 30]);
        v.extend([0.0; 10]);
        let all = stays(&course(&v), 0.0, 2.0, 0.3, 0.01);
        assert_eq!(all, std::slice::from_ref(&(0..40)));
        // A stray early in a stay counts against all of it.
        v[10] = 5.0;
        let all = stays(&course(&v), 0.0, 2.0, 0.3, 0.01);
        assert_eq!(all, std::slice::from_ref(&(0..40)));
    }
}
