//! Beeps in a sound track: bursts of one steady frequency that stand above
//! their background.
//!
//! Short spectra (10 ms, Hann window, by `rustfft`) are looked through for a
//! line that stands out twice: against the same frequency over the whole clip,
//! so that a hum that is always there is no beep, and against its neighbours
//! at that moment, so that a knock, which has all frequencies, is none. The
//! line must hold its frequency, and its level to 10 dB, for 20 ms: a knock on
//! something that rings fades sooner. [`super::burst`] then finds when it
//! began.

use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::burst;
use crate::ranked::middle;

/// A beep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// When it reached half its level, seconds from the first sample; `None`:
    /// it sounded when the track began.
    pub start_s: Option<f64>,
    /// When it ended, seconds from the first sample, to some 10 ms.
    pub end_s: f64,
    /// Its frequency, Hz.
    pub hz: f64,
}

/// Length of a spectrum and distance of two, seconds.
const SPAN_S: f64 = 0.010;
const HOP_S: f64 = 0.002;
/// Frequencies of beeps, Hz.
const LOWEST_HZ: f64 = 1000.0;
const HIGHEST_HZ: f64 = 8000.0;
/// How far a line stands above its background and its neighbours: 12 dB.
const STANDS_OUT: f32 = 15.85;
/// Neighbours, in lines of the spectrum; the nearest belong to the line itself.
const NEIGHBOURS: std::ops::RangeInclusive<usize> = 3..=12;
/// Shortest beep, in spectra.
const SHORTEST: usize = 10;
/// Of a beep's greatest power, what it holds for so long: 10 dB.
const HOLDS: f32 = 0.1;
/// Spectra that may be missed within a beep.
const MISSED: usize = 2;
/// Amplitude below which nothing is a beep, of ± 32767 (−81 dB).
const LEAST_AMPLITUDE: f32 = 3.0;
/// Spectra that suffice to know the background.
const ENOUGH: usize = 2000;

/// All beeps in one channel of sound, `rate` samples a second, in order.
///
/// Frequencies from 1 to 8 kHz are looked at; a beep must last 20 ms.
pub fn tones(samples: &[i16], rate: f64) -> Vec<Tone> {
    let Some(lens) = Lens::new(rate) else {
        return Vec::new();
    };
    let background = lens.background(samples);
    let lines: Vec<Option<Line>> = (0..lens.spectra(samples))
        .map(|i| lens.line(&lens.spectrum(samples, i * lens.hop), &background))
        .collect();
    let mut out: Vec<Tone> = Vec::new();
    for run in held(&lines) {
        let tone = lens.tone(samples, rate, &run);
        match out.last_mut() {
            Some(last) if joins(last, &tone) => last.end_s = tone.end_s,
            _ => out.push(tone),
        }
    }
    out
}

/// A beep that pauses for less than this goes on, seconds.
const PAUSE_S: f64 = 0.02;

fn joins(last: &Tone, next: &Tone) -> bool {
    let near = (last.hz - next.hz).abs() < 150.0;
    near && next.start_s.is_none_or(|s| s - last.end_s < PAUSE_S)
}

/// A line and its power.
#[derive(Clone, Copy)]
struct Line {
    number: usize,
    power: f32,
}

/// Spectra in a row that show one line.
struct Run {
    first: usize,
    last: usize,
    line: usize,
}

/// Runs of spectra whose line stays where it is.
fn held(lines: &[Option<Line>]) -> Vec<Run> {
    let mut out: Vec<Run> = Vec::new();
    let mut open: Option<Run> = None;
    for (i, line) in lines.iter().enumerate() {
        let goes_on = |r: &Run| line.is_some_and(|l| l.number.abs_diff(r.line) <= 1);
        match &mut open {
            Some(run) if goes_on(run) => run.last = i,
            Some(run) if i - run.last <= MISSED => {}
            _ => {
                out.extend(open.take());
                open = line.map(|line| Run {
                    first: i,
                    last: i,
                    line: line.number,
                });
            }
        }
    }
    out.extend(open);
    out.retain(|r| {
        let powers = lines[r.first..=r.last].iter().flatten().map(|l| l.power);
        let most = powers.clone().fold(0.0, f32::max);
        powers.filter(|p| *p >= HOLDS * most).count() >= SHORTEST
    });
    out
}

/// Spectra of one sample rate.
struct Lens {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    hop: usize,
    /// First and one past the last line looked at.
    band: (usize, usize),
    line_hz: f64,
    least: f32,
}

impl Lens {
    fn new(rate: f64) -> Option<Self> {
        let n = (rate * SPAN_S).round() as usize;
        let line_hz = rate / n.max(1) as f64;
        let low = (LOWEST_HZ / line_hz).round() as usize;
        let high = (HIGHEST_HZ.min(0.45 * rate) / line_hz).round() as usize;
        if n < 64 || high < low + 2 * NEIGHBOURS.end() {
            return None;
        }
        let turn = std::f64::consts::TAU / n as f64;
        Some(Self {
            fft: FftPlanner::new().plan_fft_forward(n),
            window: (0..n)
                .map(|i| (0.5 - 0.5 * (turn * i as f64).cos()) as f32)
                .collect(),
            hop: (rate * HOP_S).round().max(1.0) as usize,
            band: (low, high),
            line_hz,
            // A sine of amplitude a has the power (a·n/4)² in its line.
            least: (LEAST_AMPLITUDE * n as f32 / 4.0).powi(2),
        })
    }

    fn spectra(&self, samples: &[i16]) -> usize {
        match samples.len().checked_sub(self.window.len()) {
            Some(rest) => rest / self.hop + 1,
            None => 0,
        }
    }

    /// Powers of the lines 0..n/2 from sample `at` on.
    fn spectrum(&self, samples: &[i16], at: usize) -> Vec<f32> {
        let mut line: Vec<Complex32> = samples[at..at + self.window.len()]
            .iter()
            .zip(&self.window)
            .map(|(s, w)| Complex32::new(f32::from(*s) * w, 0.0))
            .collect();
        self.fft.process(&mut line);
        line.truncate(self.window.len() / 2);
        line.iter().map(Complex32::norm_sqr).collect()
    }

    /// Median power of every line over the clip.
    fn background(&self, samples: &[i16]) -> Vec<f32> {
        let count = self.spectra(samples);
        let step = count.div_ceil(ENOUGH).max(1);
        let some: Vec<Vec<f32>> = (0..count)
            .step_by(step)
            .map(|i| self.spectrum(samples, i * self.hop))
            .collect();
        (0..self.window.len() / 2)
            .map(|k| {
                middle(some.iter().map(|s| s[k]).collect())
                    .unwrap_or(0.0)
                    .max(self.least)
            })
            .collect()
    }

    /// The line that stands out of a spectrum.
    fn line(&self, spectrum: &[f32], background: &[f32]) -> Option<Line> {
        let above = |k: &usize| spectrum[*k] / background[*k];
        let best = (self.band.0..self.band.1).max_by(|a, b| above(a).total_cmp(&above(b)))?;
        // The strongest line of the rise, not the one with the least behind it.
        let best = (best.saturating_sub(2)..=best + 2)
            .filter(|k| (self.band.0..self.band.1).contains(k))
            .max_by(|a, b| spectrum[*a].total_cmp(&spectrum[*b]))?;
        let around = NEIGHBOURS.flat_map(|d| [best.checked_sub(d), Some(best + d)]);
        let around = around.flatten().filter_map(|k| spectrum.get(k).copied());
        let neighbours = middle(around.collect()).unwrap_or(0.0);
        let stands = above(&best) > STANDS_OUT && spectrum[best] > STANDS_OUT * neighbours;
        stands.then_some(Line {
            number: best,
            power: spectrum[best],
        })
    }

    fn tone(&self, samples: &[i16], rate: f64, run: &Run) -> Tone {
        let half = self.window.len() as f64 / 2.0;
        let centre = |i: usize| (i * self.hop) as f64 + half;
        let hz = self.frequency(samples, run);
        Tone {
            start_s: burst::start(samples, rate, hz, (centre(run.first), centre(run.last)))
                .map(|s| s / rate),
            end_s: centre(run.last) / rate,
            hz,
        }
    }

    /// Frequency between the lines, by a parabola through the logarithms.
    fn frequency(&self, samples: &[i16], run: &Run) -> f64 {
        let s = self.spectrum(samples, usize::midpoint(run.first, run.last) * self.hop);
        let log = |k: usize| f64::from(s[k].max(f32::MIN_POSITIVE)).ln();
        let k = run.line;
        let (a, b, c) = (log(k - 1), log(k), log(k + 1));
        let bend = a - 2.0 * b + c;
        let off = if bend < 0.0 {
            0.5 * (a - c) / bend
        } else {
            0.0
        };
        (k as f64 + off.clamp(-1.0, 1.0)) * self.line_hz
    }
}

#[cfg(test)]
#[path = "tone_tests.rs"]
mod tests;
