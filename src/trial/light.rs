//! A trigger light that goes on: every rise of its region's brightness.

use super::Stimulus;
use crate::limits;
use crate::ranked::noise;
use crate::store::schema::OnsetSeen;

/// Smallest step between off and on, luma, and in noise standard deviations.
pub const LEAST_STEP: f64 = 0.04;
/// Bins of the two-state histogram (IEEE Std 181 state levels, mode method).
const BINS: usize = 100;

/// The instants at which the light goes on, from frame times (s, as shot) and
/// the mean luma of the light's region.
///
/// A change first seen in frame k happened at the midpoint of frames k−1 and
/// k; the frame during whose exposure it went on is only partly lit, so the
/// first frame that leaves the off level counts, once the light is confirmed
/// on. However short a light is it counts; one already on at the start of the
/// clip does not.
pub fn light_stimuli(times: &[f64], luma: &[f64]) -> Vec<Stimulus> {
    let Some((off, on)) = state_levels(luma) else {
        return Vec::new();
    };
    let step = on - off;
    if step < LEAST_STEP || step < limits::LIGHT_LEAST_SNR.get() * noise(luma) {
        return Vec::new();
    }
    let (high, low) = (off + 0.5 * step, off + 0.25 * step);
    let first_light = off + (0.1 * step).max(5.0 * noise(luma)).min(0.25 * step);
    let mut lit = luma.first().is_some_and(|v| *v > high);
    let mut dark_since = f64::MIN;
    let mut out: Vec<Stimulus> = Vec::new();
    for k in 1..times.len() {
        if lit && luma[k] < low {
            lit = false;
            dark_since = times[k];
            if let Some(press) = out.last_mut() {
                press.off_s = Some(f64::midpoint(times[k - 1], times[k]));
            }
        } else if !lit && luma[k] > high && confirmed(luma, k, high) {
            lit = true;
            // Flicker inside one lighting is not a second press.
            if times[k] - dark_since < limits::LIGHT_FLICKER_S.get() {
                if let Some(press) = out.last_mut() {
                    press.off_s = None;
                }
                continue;
            }
            let mut first = k;
            while first > 1 && k - first < 3 && luma[first - 1] > first_light {
                first -= 1;
            }
            let frame = times[first] - times[first - 1];
            out.push(Stimulus {
                side: None,
                move_s: None,
                onset_s: f64::midpoint(times[first - 1], times[first]),
                seen: OnsetSeen::Direct,
                onset_u_s: (frame * frame / 12.0).sqrt(),
                off_s: None,
            });
        }
    }
    out
}

fn confirmed(luma: &[f64], k: usize, high: f64) -> bool {
    luma.get(k + 1).is_none_or(|v| *v > high)
}

/// Off and on level: modes of the two halves of the histogram between the
/// lowest and the highest value (IEEE Std 181-2011 histogram method).
pub fn state_levels(values: &[f64]) -> Option<(f64, f64)> {
    let low = values.iter().copied().fold(f64::MAX, f64::min);
    let high = values.iter().copied().fold(f64::MIN, f64::max);
    if values.len() < 2 || !(high - low).is_normal() {
        return None;
    }
    state_levels_in(values, (low, high * (1.0 + 1e-9) + 1e-12), BINS)
}

/// The same with stated bounds and number of bins.
pub fn state_levels_in(values: &[f64], bounds: (f64, f64), bins: usize) -> Option<(f64, f64)> {
    let width = (bounds.1 - bounds.0) / bins as f64;
    let mut counts = vec![0u32; bins];
    for v in values.iter().filter(|v| **v >= bounds.0 && **v <= bounds.1) {
        let bin = ((v - bounds.0) / width) as usize;
        counts[bin.min(bins - 1)] += 1;
    }
    let first = counts.iter().position(|c| *c > 0)?;
    let last = counts.iter().rposition(|c| *c > 0)?;
    let split = first + (last - first) / 2;
    let centre = |bin: usize| bounds.0 + (bin as f64 + 0.5) * width;
    let mode = |from: usize, to: usize| {
        // Ties go to the lowest bin.
        (from..=to).rev().max_by_key(|b| counts[*b]).map(centre)
    };
    Some((mode(first, split)?, mode(split, last)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values: octave-signal `statelevels.m` run in Octave 7.3.0, which agrees
    /// with an independent numpy version; algorithm as in IEEE Std 181.
    #[test]
    fn state_levels_agree_with_a_reference_library() {
        let v = [
            10., 10., 11., 10., 10., 9., 10., 10., 30., 60., 95., 104., 98., 100., 101., 100.,
            100., 99., 100., 100.,
        ];
        let got = state_levels_in(&v, (5.0, 110.0), 20).unwrap();
        assert!((got.0 - 7.625).abs() < 1e-9 && (got.1 - 102.125).abs() < 1e-9);
        let got = state_levels_in(&v, (5.0, 110.0), 10).unwrap();
        assert!((got.0 - 10.25).abs() < 1e-9 && (got.1 - 104.75).abs() < 1e-9);
        let w: Vec<f64> = (0..480)
            .map(|n| 20.0 + 60.0 * step(f64::from(n) / 240.0 - 0.25))
            .collect();
        assert!((w[65] - 21.245009004343).abs() < 1e-9);
        let got = state_levels_in(&w, (15.0, 110.0), 100).unwrap();
        assert!((got.0 - 20.225).abs() < 1e-9 && (got.1 - 80.075).abs() < 1e-9);
        let got = state_levels_in(&w, (10.0, 110.7), 50).unwrap();
        assert!((got.0 - 19.063).abs() < 1e-9 && (got.1 - 79.483).abs() < 1e-9);
    }

    /// Second-order step, ζ = 0.3, ωn = 10 rad/s.
    fn step(t: f64) -> f64 {
        if t < 0.0 {
            return 0.0;
        }
        let (z, w) = (0.3f64, 10.0f64);
        let root = (1.0 - z * z).sqrt();
        1.0 - (-z * w * t).exp() * ((w * root * t).cos() + z / root * (w * root * t).sin())
    }

    #[test]
    fn a_light_is_timed_from_the_first_partly_lit_frame() {
        let times: Vec<f64> = (0..480).map(|k| f64::from(k) / 240.0).collect();
        let luma: Vec<f64> = (0..480)
            .map(|k| match k {
                100 => 0.25,
                101..160 | 300..360 => 0.9,
                _ => 0.1,
            })
            .collect();
        let s = light_stimuli(&times, &luma);
        assert_eq!(s.len(), 2);
        assert!((s[0].onset_s - 99.5 / 240.0).abs() < 1e-9);
        assert!((s[1].onset_s - 299.5 / 240.0).abs() < 1e-9);
        assert!((s[0].off_s.unwrap() - 159.5 / 240.0).abs() < 1e-9);
        assert!((s[1].off_s.unwrap() - 359.5 / 240.0).abs() < 1e-9);
    }

    /// A light that flickers went out when it stayed out; one that is lit as
    /// filming stops is held.
    #[test]
    fn a_light_is_held_until_it_stays_out() {
        let times: Vec<f64> = (0..480).map(|k| f64::from(k) / 240.0).collect();
        let lit = |k: i32| matches!(k, 100..120 | 130..200 | 400..480);
        let luma: Vec<f64> = (0..480).map(|k| if lit(k) { 0.9 } else { 0.1 }).collect();
        let s = light_stimuli(&times, &luma);
        assert_eq!(s.len(), 2);
        assert!((s[0].off_s.unwrap() - 199.5 / 240.0).abs() < 1e-9);
        assert_eq!(s[1].off_s, None);
    }

    #[test]
    fn no_light_is_found_in_noise_drift_or_flicker() {
        let times: Vec<f64> = (0..960).map(|k| f64::from(k) / 240.0).collect();
        let hash = |k: usize| ((k * 7919 + 13) % 101) as f64 / 101.0 - 0.5;
        let noise: Vec<f64> = (0..960).map(|k| 0.4 + 0.02 * hash(k)).collect();
        assert!(light_stimuli(&times, &noise).is_empty());
        let flicker: Vec<f64> = times
            .iter()
            .map(|t| 0.4 + 0.1 * (t * std::f64::consts::TAU * 20.0).sin())
            .collect();
        assert!(light_stimuli(&times, &flicker).is_empty());
    }
}
