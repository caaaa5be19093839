//! Pictures that a screen holds for more than one refresh.
//!
//! A live view slower than the screen changes it at some refreshes only, and
//! where it runs at no whole fraction of the refresh the bursts still keep the
//! refresh's phase. Amid motion the gaps between them tell the two apart.

use super::Updates;

/// For how many refreshes pictures are held amid motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Hold {
    /// One each, or too little motion to tell.
    Even,
    /// Always more than one: so many in the mean.
    Slow(f64),
    /// Now one, now more.
    Uneven,
}

/// A burst this far above the least one is amid motion: a target does not
/// come to a stand between two such, so a refresh without a burst between
/// them brought no picture.
const AMID: f64 = 2.0;
/// Longest hold, refreshes: the slowest live view on a screen of 60 Hz.
const LONGEST: i64 = 5;
/// Fewest gaps that tell.
const FEWEST_GAPS: usize = 12;
/// Share of single refreshes among the gaps of an even screen. One that
/// brings none at every sixth (50 on 60) has 0.8.
const EVEN: f64 = 0.85;
/// The same at most where every picture is held longer.
const SLOW: f64 = 0.1;

/// From frame times (s), the change each frame brings, the least one that
/// counts and the rhythm found.
pub(super) fn hold(times: &[f64], change: &[Option<f64>], least: f64, found: &Updates) -> Hold {
    let amid = gaps(times, change, (least, AMID * least), found);
    match single(&amid) {
        Some(share) if share >= EVEN => Hold::Even,
        Some(share) if share > SLOW => Hold::Uneven,
        Some(_) => Hold::Slow(mean(&amid)),
        // Bursts barely seen are missed now and then, but not every second.
        None => {
            let all = gaps(times, change, (least, least), found);
            let slow = single(&all).is_some_and(|share| share <= SLOW);
            if slow {
                Hold::Slow(mean(&all))
            } else {
                Hold::Even
            }
        }
    }
}

/// Share of gaps of one refresh; `None` of too few.
fn single(gaps: &[f64]) -> Option<f64> {
    let one: Vec<f64> = gaps.iter().map(|g| f64::from(*g == 1.0)).collect();
    (gaps.len() >= FEWEST_GAPS).then(|| mean(&one))
}

#[allow(clippy::cast_precision_loss)]
fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}

/// Refreshes from one burst (a change above `least`) to the next, both of them
/// at least `strong`.
fn gaps(
    times: &[f64],
    change: &[Option<f64>],
    (least, strong): (f64, f64),
    found: &Updates,
) -> Vec<f64> {
    // Number of the refresh and the largest change in it.
    let mut loud: Vec<(i64, f64)> = Vec::new();
    for k in 1..times.len() {
        let Some(c) = change[k].filter(|c| *c > least) else {
            continue;
        };
        let middle = f64::midpoint(times[k - 1], times[k]);
        #[allow(clippy::cast_possible_truncation)]
        let number = ((middle - found.phase_s) / found.period_s).round() as i64;
        match loud.last_mut().filter(|l| l.0 == number) {
            Some(last) => last.1 = last.1.max(c),
            None => loud.push((number, c)),
        }
    }
    loud.windows(2)
        .filter(|w| w[0].1.min(w[1].1) >= strong)
        .map(|w| w[1].0 - w[0].0)
        .filter(|gap| *gap <= LONGEST)
        .map(|gap| f64::from(i32::try_from(gap).unwrap_or(i32::MAX)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A screen of 60 Hz filmed at 240 frames a second that changes, by `size`,
    /// at the refreshes `pattern` names of each five.
    fn told(pattern: &[usize], size: f64) -> Hold {
        let times: Vec<f64> = (0..600).map(|k| f64::from(k) / 240.0).collect();
        let new = |k: usize| k % 4 == 2 && pattern.contains(&(k / 4 % 5));
        let change: Vec<Option<f64>> = (0..600)
            .map(|k| Some(if new(k) { size } else { 0.1 }))
            .collect();
        let found = Updates {
            period_s: 1.0 / 60.0,
            phase_s: 1.5 / 240.0,
            coherence: 1.0,
            uneven: false,
        };
        hold(&times, &change, 1.0, &found)
    }

    #[test]
    fn holds_are_told_by_the_gaps_between_bursts() {
        assert_eq!(told(&[0, 1, 2, 3, 4], 9.0), Hold::Even);
        assert_eq!(told(&[0, 1, 2, 3], 9.0), Hold::Uneven);
        let slow = |size| match told(&[0, 2], size) {
            Hold::Slow(n) => n,
            other => panic!("{other:?}"),
        };
        // Two pictures in five refreshes, also where they are barely seen.
        assert!((slow(9.0) - 2.5).abs() < 0.02);
        assert!((slow(1.5) - 2.5).abs() < 0.02);
    }

    #[test]
    fn bursts_missed_now_and_then_are_no_held_pictures() {
        assert_eq!(told(&[0, 1, 3], 1.5), Hold::Even);
        assert_eq!(told(&[], 9.0), Hold::Even);
    }
}
