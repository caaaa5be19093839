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
const LONGEST: f64 = 5.0;
/// Fewest gaps that tell.
const FEWEST_GAPS: usize = 12;
/// Share of single refreshes among the gaps of an even screen. One that
/// brings none at every sixth (50 on 60) has 0.8.
const EVEN: f64 = 0.85;
/// The same at most where every picture is held longer.
const SLOW: f64 = 0.1;

/// Least coherence of bursts that keep the phase of a refresh. Pictures at 25 a
/// second on a screen of 60 keep that of the 25 to 0.75: there a gap says nothing.
const TIGHT: f64 = 0.85;

/// From frame times (s), the change each frame brings, the least one that
/// counts and the rhythm found.
pub(super) fn hold(times: &[f64], change: &[Option<f64>], least: f64, found: &Updates) -> Hold {
    let bursts = bursts(times, change, least);
    if coherence(&bursts, found) < TIGHT {
        return Hold::Even;
    }
    let amid = gaps(&bursts, AMID * least, found);
    match single(&amid) {
        Some(share) if share >= EVEN => Hold::Even,
        Some(share) if share > SLOW => Hold::Uneven,
        Some(_) => Hold::Slow(mean(&amid)),
        // Bursts barely seen are missed now and then, but not every second.
        None => {
            let all = gaps(&bursts, least, found);
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

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len().max(1) as f64
}

/// Instant and largest change of every burst: an update may show in two frames.
fn bursts(times: &[f64], change: &[Option<f64>], least: f64) -> Vec<(f64, f64)> {
    let loud = |k: usize| change[k].filter(|c| *c > least);
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut sum = (0.0, 0.0);
    for k in 1..times.len() {
        let Some(c) = loud(k) else { continue };
        let middle = f64::midpoint(times[k - 1], times[k]);
        let goes_on = k > 1 && loud(k - 1).is_some();
        if let Some(last) = out.last_mut().filter(|_| goes_on) {
            sum = (sum.0 + c * middle, sum.1 + c);
            *last = (sum.0 / sum.1, last.1.max(c));
        } else {
            sum = (c * middle, c);
            out.push((middle, c));
        }
    }
    out
}

/// How well bursts keep a rhythm's phase, 0..=1.
fn coherence(bursts: &[(f64, f64)], found: &Updates) -> f64 {
    let turn = |b: &(f64, f64)| std::f64::consts::TAU * b.0 / found.period_s;
    let sum = |f: fn(f64) -> f64| mean(&bursts.iter().map(|b| f(turn(b))).collect::<Vec<_>>());
    sum(f64::cos).hypot(sum(f64::sin))
}

/// Refreshes from one burst to the next, both of them at least `strong`.
fn gaps(bursts: &[(f64, f64)], strong: f64, found: &Updates) -> Vec<f64> {
    let number = |b: &(f64, f64)| ((b.0 - found.phase_s) / found.period_s).round();
    bursts
        .windows(2)
        .filter(|w| w[0].1.min(w[1].1) >= strong)
        .map(|w| number(&w[1]) - number(&w[0]))
        .filter(|gap| *gap >= 1.0 && *gap <= LONGEST)
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
