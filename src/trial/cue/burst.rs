//! When a beep of known frequency began.
//!
//! The sound is turned down to 0 Hz by the beep's frequency and averaged over
//! 3 ms; the length of what is left is the beep's amplitude. It begins where
//! that rises through the middle between what was before and the beep's own
//! level: an average that reaches to both sides crosses the middle of a step
//! where the step is.

use crate::ranked::middle;

/// Span of the average, seconds: ± 330 Hz.
const AVERAGE_S: f64 = 0.003;
/// Distance of two amplitudes, seconds.
const STEP_S: f64 = 0.000_25;
/// How far before and after the first spectrum the beginning is looked for.
const BEFORE_S: f64 = 0.030;
const AFTER_S: f64 = 0.030;
/// Where the level before is taken, and how long the beep's own, seconds.
const QUIET_S: (f64, f64) = (0.045, 0.012);
const LEVEL_S: f64 = 0.040;
/// It must stay so long above the middle, seconds.
const STAYS_S: f64 = 0.006;

/// The sample (with a fraction) at which a beep of `hz` began whose spectra
/// stand out from `seen.0` to `seen.1` (samples); `None` where the track began
/// with it.
pub(super) fn start(samples: &[i16], rate: f64, hz: f64, seen: (f64, f64)) -> Option<f64> {
    let from = seen.0 - (BEFORE_S + QUIET_S.0) * rate;
    let to = (seen.0 + (AFTER_S + LEVEL_S) * rate).max(seen.1.min(seen.0 + rate));
    let step = (STEP_S * rate).max(1.0);
    let wave = Down::new(samples, rate, hz, from, to);
    let at = |t: f64| wave.amplitude(t);
    let over = |a: f64, b: f64| -> Vec<f64> {
        let n = ((b - a) / step).max(0.0) as usize;
        (0..=n).map(|i| at(a + i as f64 * step)).collect()
    };
    let level_end = (seen.0 + LEVEL_S * rate).min(seen.1);
    let usual = |a: f64, b: f64| middle(over(a, b)).unwrap_or(0.0);
    let level = usual(seen.0.min(level_end) + 0.002 * rate, level_end);
    let quiet = (seen.0 - QUIET_S.0 * rate).max(0.0);
    let quiet_end = seen.0 - QUIET_S.1 * rate;
    if quiet_end <= quiet {
        return None;
    }
    let half = f64::midpoint(usual(quiet, quiet_end), level);
    let first = (seen.0 - BEFORE_S * rate).max(0.0);
    let row = over(first, (seen.0 + AFTER_S * rate).min(seen.1));
    let stays = ((STAYS_S * rate / step) as usize).max(1);
    let crossing = (1..row.len()).find(|i| {
        let next = &row[*i..(*i + stays).min(row.len())];
        let above = next.iter().filter(|a| **a >= half).count();
        row[*i - 1] < half && row[*i] >= half && 10 * above >= 9 * next.len()
    });
    crossing.map_or_else(
        || (row.first().is_some_and(|a| *a < half)).then_some(seen.0),
        |i| {
            let share = (half - row[i - 1]) / (row[i] - row[i - 1]);
            Some(first + ((i - 1) as f64 + share) * step)
        },
    )
}

/// A stretch of sound turned down to 0 Hz, as running sums.
struct Down {
    first: usize,
    sums: Vec<(f64, f64)>,
    half: f64,
}

impl Down {
    fn new(samples: &[i16], rate: f64, hz: f64, from: f64, to: f64) -> Self {
        let half = AVERAGE_S * rate / 2.0;
        let first = ((from - half).max(0.0) as usize).min(samples.len());
        let last = ((to + half).max(0.0) as usize).clamp(first, samples.len());
        let turn = std::f64::consts::TAU * hz / rate;
        let mut sum = (0.0, 0.0);
        let mut sums = vec![sum];
        for (i, s) in samples[first..last].iter().enumerate() {
            let (sin, cos) = (turn * i as f64).sin_cos();
            sum.0 += f64::from(*s) * cos;
            sum.1 += f64::from(*s) * sin;
            sums.push(sum);
        }
        Self { first, sums, half }
    }

    /// Amplitude around sample `t`.
    fn amplitude(&self, t: f64) -> f64 {
        let place = |x: f64| {
            let i = (x - self.first as f64).round().max(0.0) as usize;
            i.min(self.sums.len() - 1)
        };
        let (a, b) = (place(t - self.half), place(t + self.half));
        let (from, to) = (self.sums[a], self.sums[b]);
        // What lies outside the track is silence, not a shorter average.
        2.0 * (to.0 - from.0).hypot(to.1 - from.1) / (2.0 * self.half)
    }
}
