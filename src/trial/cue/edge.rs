//! On and off in a signal per frame.

use super::Spell;
use crate::ranked::noise;
use crate::trial::light::state_levels;

/// Smallest step between off and on in noise standard deviations.
const LEAST_SNR: f64 = 8.0;
/// A cue that goes for a shorter time only blinks, seconds.
const BLINK_S: f64 = 0.1;
/// Frames over which a cue may come up (a frame exposed across the refresh, a
/// slow panel).
const COMING_UP: usize = 3;

/// When a signal is on, from frame times (s, as shot) and values; on and off
/// must differ by `least` and by eight times the noise.
///
/// A change first seen in frame k happened at the midpoint of frames k−1 and
/// k. Thresholds come from the signal's own two levels.
pub fn spells(times: &[f64], values: &[f64], least: f64) -> Vec<Spell> {
    let Some((off, on)) = state_levels(values) else {
        return Vec::new();
    };
    let step = on - off;
    let noise = noise(values);
    if step < least || step < LEAST_SNR * noise {
        return Vec::new();
    }
    let (high, low) = (off + 0.5 * step, off + 0.25 * step);
    let first = off + (0.1 * step).max(5.0 * noise).min(0.25 * step);
    let mut out: Vec<Spell> = Vec::new();
    let mut lit = false;
    for k in 0..times.len().min(values.len()) {
        let before = k.checked_sub(1).map(|b| f64::midpoint(times[b], times[k]));
        if lit && values[k] < low {
            lit = false;
            if let Some(last) = out.last_mut() {
                last.off_s = before;
            }
        } else if !lit && values[k] > high && stays(values, k, high) {
            lit = true;
            match out.last_mut() {
                Some(last) if last.off_s.is_some_and(|t| times[k] - t < BLINK_S) => {
                    last.off_s = None;
                }
                _ => out.push(Spell {
                    on_s: came_on(times, values, k, first),
                    off_s: None,
                }),
            }
        }
    }
    out
}

fn stays(values: &[f64], k: usize, high: f64) -> bool {
    values.get(k + 1).is_none_or(|v| *v > high)
}

/// The midpoint before the first frame that leaves the off level.
fn came_on(times: &[f64], values: &[f64], k: usize, least: f64) -> Option<f64> {
    let mut first = k;
    while first > 0 && k - first < COMING_UP && values[first - 1] > least {
        first -= 1;
    }
    // Up from the first frame on: when it came up was not filmed.
    (first > 0).then(|| f64::midpoint(times[first - 1], times[first]))
}

/// Of several readings of one cue, the one whose two levels lie farthest
/// apart; the first of equals.
pub fn fullest(readings: &[Vec<f64>]) -> Option<usize> {
    let step = |v: &Vec<f64>| state_levels(v).map_or(0.0, |(off, on)| on - off);
    let mut best: Option<(usize, f64)> = None;
    for (i, v) in readings.iter().enumerate() {
        let s = step(v);
        // Another must be clearly better: the first is what was asked for.
        if best.is_none_or(|(_, b)| s > 1.25 * b + 1e-9) {
            best = Some((i, s));
        }
    }
    best.map(|b| b.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(n: usize, on: impl Fn(usize) -> f64) -> (Vec<f64>, Vec<f64>) {
        let times = (0..n).map(|k| k as f64 / 240.0).collect();
        (times, (0..n).map(on).collect())
    }

    #[test]
    fn a_box_is_timed_from_the_first_frame_that_shows_some_of_it() {
        let (t, v) = film(900, |k| match k {
            200 => 0.01,
            201..400 => 0.04,
            // A blink is no end, a gap is.
            410..500 | 560..700 => 0.041,
            _ => 0.0,
        });
        let got = spells(&t, &v, 0.003);
        assert_eq!(got.len(), 2, "{got:?}");
        assert!((got[0].on_s.unwrap() - 199.5 / 240.0).abs() < 1e-9);
        assert!((got[0].off_s.unwrap() - 499.5 / 240.0).abs() < 1e-9);
        assert!((got[1].on_s.unwrap() - 559.5 / 240.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_on_from_the_start_has_no_beginning() {
        let (t, v) = film(600, |k| if !(100..=400).contains(&k) { 0.5 } else { 0.1 });
        let got = spells(&t, &v, 0.15);
        assert_eq!(got[0].on_s, None);
        assert_eq!(got[1].off_s, None);
        assert!(spells(&t, &v, 0.5).is_empty(), "too small a rise");
    }

    #[test]
    fn nothing_is_found_in_noise() {
        let hash = |k: usize| ((k * 7919 + 13) % 101) as f64 / 101.0;
        let (t, v) = film(2000, |k| 0.02 * hash(k));
        assert!(spells(&t, &v, 0.003).is_empty());
        let (t, v) = film(2000, |_| 0.0);
        assert!(spells(&t, &v, 0.003).is_empty());
    }

    #[test]
    fn the_reading_as_asked_for_wins_unless_another_is_clearly_better() {
        let two = |on: f64| film(400, |k| if k > 200 { on } else { 0.0 }).1;
        assert_eq!(fullest(&[two(0.04), two(0.045)]), Some(0));
        assert_eq!(fullest(&[two(0.01), two(0.04)]), Some(1));
        assert_eq!(fullest(&[]), None);
    }
}
