//! Light that comes and goes faster than any focusing: mains flicker, screen
//! dimming by pulses, beats between screen and film; over the whole area or in
//! bands that a rolling shutter draws.
//!
//! Found where the brightness of the area, or of its rows, never stands still
//! for long. The frequency is that of the strongest line above [`SLOWEST_HZ`]
//! in the power spectrum, averaged over pieces of the clip (Welch 1967) by its
//! logarithm, so that the swings weigh little.

use std::io;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use rustfft::{Fft, FftPlanner, num_complex::Complex};

use super::bands::{Around, Bands, row_pixels};
use crate::ranked::{at, middle, usual_step};
use crate::sharpness::{Places, ROWS, Reading, TileReel};

/// Light that does not stand still.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Flicker {
    /// Frequency as the film shows it, per second as shot; `None` without a
    /// clear line.
    pub seen_hz: Option<f64>,
    /// Standard deviation of the area's brightness ÷ mean.
    pub depth: f64,
    /// Standard deviation of the rows' brightness against the area's.
    pub bands: f64,
    /// Share of rows and frames that go black.
    pub black: f64,
    /// The measure's energy grows with the light to this power: 2 where the
    /// film's tone curve is a pure power.
    pub exponent: f64,
    /// Frames on either side over which the light is averaged.
    pub half: usize,
}

/// Share of rows gone black that counts.
const LEAST_BLACK: f64 = 0.02;

impl Flicker {
    /// Whether rows go black now and then.
    pub fn goes_black(&self) -> bool {
        self.black > LEAST_BLACK
    }
}

/// Slower changes are exposure or the subject.
pub const SLOWEST_HZ: f64 = 8.0;
/// Smallest depth that matters: a tenth of a usual band.
const LEAST_DEPTH: f64 = 0.005;
/// Smallest unsteadiness of the rows that matters.
const LEAST_BANDS: f64 = 0.006;
/// Seconds of film looked at together for depth.
const PIECE_S: f64 = 0.25;
/// Share of the pieces that may be steadier than what counts as found.
const STEADIER: f64 = 0.25;
/// Seconds over which light is averaged, at least.
const AVERAGE_S: f64 = 0.12;
/// Shortest piece of film for the spectrum, seconds.
const SEGMENT_S: f64 = 0.8;
/// A line stands out of the median of its surroundings by this factor.
const CLEAR: f64 = 12.0;
/// A row with less than this share of its usual light is black.
pub const BLACK: f64 = 0.45;

/// Looks for flicker. `times` are as shot, seconds.
///
/// # Errors
/// When the tiles cannot be read back.
pub fn find(
    times: &[f64],
    readings: &[Reading],
    reel: &mut TileReel,
    places: &Places,
) -> io::Result<Option<Flicker>> {
    let Some(frame_s) = usual_step(times) else {
        return Ok(None);
    };
    let half = half_window(frame_s, None);
    let mut look = Look::new(frame_s);
    let mut around = Around::new(reel, places, half);
    while let Some((bands, usual)) = around.next()? {
        look.take(&bands, &usual, &row_pixels(places));
    }
    let (depth, rows, black) = look.depth();
    if depth < LEAST_DEPTH && rows < LEAST_BANDS {
        return Ok(None);
    }
    let line = look.line(frame_s);
    let mut found = Flicker {
        seen_hz: None,
        depth,
        bands: rows,
        black,
        exponent: 2.0,
        half: half_window(frame_s, line.map(|l| l.0)),
    };
    if let Some((near_hz, channel)) = line {
        let series = series(reel, places, half, channel)?;
        found.seen_hz = Some(refine(times, &series, near_hz, 1.0 / SEGMENT_S));
    }
    found.exponent = exponent(readings, reel, places)?.unwrap_or(2.0);
    Ok(Some(found))
}

/// Frames on either side that make whole periods of the line, where known.
fn half_window(frame_s: f64, line_hz: Option<f64>) -> usize {
    let least = AVERAGE_S / frame_s;
    let whole = line_hz.map_or(least, |hz| {
        let period = 1.0 / (hz * frame_s);
        (least / period).ceil() * period
    });
    (((whole - 1.0) / 2.0).round() as usize).max(1)
}

/// Channels of the spectrum: every row, and the area as a whole.
const CHANNELS: usize = ROWS + 1;

/// What is gathered while going through the frames.
struct Look {
    piece: usize,
    sums: (f64, f64, usize),
    depths: Vec<(f64, f64)>,
    black: (usize, usize),
    segment: usize,
    fft: Arc<dyn Fft<f64>>,
    held: Vec<[f64; CHANNELS]>,
    logs: Vec<[f64; CHANNELS]>,
    segments: usize,
}

impl Look {
    fn new(frame_s: f64) -> Self {
        let segment = ((SEGMENT_S / frame_s).ceil() as usize).next_power_of_two();
        Self {
            piece: ((PIECE_S / frame_s).round() as usize).max(4),
            sums: (0.0, 0.0, 0),
            depths: Vec::new(),
            black: (0, 0),
            segment,
            fft: FftPlanner::new().plan_fft_forward(segment),
            held: Vec::with_capacity(segment),
            logs: vec![[0.0; CHANNELS]; segment / 2 + 1],
            segments: 0,
        }
    }

    fn take(&mut self, bands: &Bands, usual: &[f64; ROWS], pixels: &[f64; ROWS]) {
        let mut x = [0.0; CHANNELS];
        let (mut now, mut mean, mut n) = (0.0, 0.0, 0.0);
        for r in 0..ROWS {
            if pixels[r] > 0.0 && usual[r] > 0.0 {
                x[r] = bands.mean[r] / usual[r] - 1.0;
                now += bands.mean[r] * pixels[r];
                mean += usual[r] * pixels[r];
                n += 1.0;
                self.black.0 += usize::from(x[r] + 1.0 < BLACK);
                self.black.1 += 1;
            }
        }
        let whole = if mean > 0.0 { now / mean - 1.0 } else { 0.0 };
        x[ROWS] = whole;
        let rows: f64 = (0..ROWS)
            .filter(|r| pixels[*r] > 0.0)
            .map(|r| (x[r] - whole).powi(2))
            .sum();
        self.sums.0 += whole * whole;
        self.sums.1 += rows / f64::max(n, 1.0);
        self.sums.2 += 1;
        if self.sums.2 == self.piece {
            let n = self.piece as f64;
            self.depths
                .push(((self.sums.0 / n).sqrt(), (self.sums.1 / n).sqrt()));
            self.sums = (0.0, 0.0, 0);
        }
        self.held.push(x);
        if self.held.len() == self.segment {
            self.transform();
        }
    }

    fn transform(&mut self) {
        let n = self.segment as f64;
        for c in 0..CHANNELS {
            let mut line: Vec<Complex<f64>> = self
                .held
                .iter()
                .enumerate()
                .map(|(i, x)| {
                    let turn = std::f64::consts::TAU * (i as f64 + 0.5) / n;
                    Complex::new(x[c] * (0.5 - 0.5 * turn.cos()), 0.0)
                })
                .collect();
            self.fft.process(&mut line);
            for (sum, v) in self.logs.iter_mut().zip(&line) {
                sum[c] += (v.norm_sqr() + 1e-12).ln();
            }
        }
        self.segments += 1;
        self.held.clear();
    }

    /// Depth of the area's and of the rows' changes in the steadier pieces, and
    /// the share of rows that are black.
    fn depth(&self) -> (f64, f64, f64) {
        let of = |f: fn(&(f64, f64)) -> f64| {
            let mut v: Vec<f64> = self.depths.iter().map(f).collect();
            v.sort_by(f64::total_cmp);
            let at = (v.len() as f64 * STEADIER) as usize;
            v.get(at).copied().unwrap_or(0.0)
        };
        let black = self.black.0 as f64 / self.black.1.max(1) as f64;
        (of(|d| d.0), of(|d| d.1), black)
    }

    /// Frequency of the strongest clear line and the channel it is clearest in.
    fn line(&self, frame_s: f64) -> Option<(f64, usize)> {
        if self.segments == 0 {
            return None;
        }
        let power = |bin: usize, c: usize| (self.logs[bin][c] / self.segments as f64).exp();
        let all: Vec<f64> = (0..self.logs.len())
            .map(|b| (0..CHANNELS).map(|c| power(b, c)).sum())
            .collect();
        let hz = |bin: f64| bin / (self.segment as f64 * frame_s);
        let first = (0..all.len()).find(|b| hz(*b as f64) >= SLOWEST_HZ)?;
        let usual = middle(all[first..].to_vec())?;
        let top = (first..all.len()).max_by(|a, b| all[*a].total_cmp(&all[*b]))?;
        if all[top] < CLEAR * usual {
            return None;
        }
        let channel = (0..CHANNELS).max_by(|a, b| power(top, *a).total_cmp(&power(top, *b)))?;
        Some((hz(top as f64), channel))
    }
}

/// The relative light of one channel, frame by frame.
fn series(
    reel: &mut TileReel,
    places: &Places,
    half: usize,
    channel: usize,
) -> io::Result<Vec<f64>> {
    let pixels = row_pixels(places);
    let total: f64 = pixels.iter().sum();
    let mut out = Vec::with_capacity(reel.len());
    let mut around = Around::new(reel, places, half);
    while let Some((bands, usual)) = around.next()? {
        let of = |m: &[f64; ROWS]| match m.get(channel) {
            Some(row) => *row,
            None => m.iter().zip(pixels).map(|(m, n)| m * n).sum::<f64>() / total,
        };
        out.push(of(&bands.mean) / of(&usual).max(1e-6) - 1.0);
    }
    Ok(out)
}

/// Steps of the last search on either side.
const STEPS: i32 = 40;

/// The frequency near `hz` (± `width`) whose line is strongest, the stretch
/// looked at growing from a second to the whole clip.
fn refine(times: &[f64], series: &[f64], hz: f64, width: f64) -> f64 {
    let strength = |f: f64, n: usize| {
        let (mut c, mut s) = (0.0, 0.0);
        for (t, x) in times[..n].iter().zip(series) {
            let turn = std::f64::consts::TAU * f * t;
            c += x * turn.cos();
            s += x * turn.sin();
        }
        c * c + s * s
    };
    let start = times.first().copied().unwrap_or(0.0);
    let span = times.last().copied().unwrap_or(0.0) - start;
    let (mut best, mut width, mut stretch) = (hz, width, 1.5);
    loop {
        let n = times.partition_point(|t| *t <= start + stretch);
        let steps = (-STEPS..=STEPS).map(|i| best + width * f64::from(i) / f64::from(STEPS));
        best = steps
            .max_by(|a, b| strength(*a, n).total_cmp(&strength(*b, n)))
            .unwrap_or(best);
        // Lamps wander with the mains: a long clip tells no more.
        if stretch >= span.min(12.0) {
            return best;
        }
        width = 0.6 / stretch;
        stretch *= 2.0;
    }
}

/// Least change of light between two frames that tells the exponent.
const LEAST_STEP: f64 = 0.015;
/// Pairs that suffice.
const PAIRS: usize = 20_000;

/// How the energy follows the light, from frames next to each other while the
/// picture is sharp: there the light is all that changes.
fn exponent(readings: &[Reading], reel: &mut TileReel, places: &Places) -> io::Result<Option<f64>> {
    let level = |r: &Reading| r.energy / (r.mean * r.mean).max(1e-6);
    let sharp = at(readings.iter().map(level).collect(), 3, 5).unwrap_or(0.0);
    let mut pairs: Vec<(f64, f64)> = Vec::new();
    let mut before: Option<Bands> = None;
    for (k, reading) in readings.iter().enumerate() {
        if level(reading) < sharp {
            before = None;
            continue;
        }
        let now = Bands::of(&reel.get(k)?, places);
        if let Some(b) = before.filter(|_| pairs.len() < PAIRS) {
            pairs.extend((0..ROWS).filter_map(|r| pair(&b, &now, r)));
        }
        before = Some(now);
    }
    Ok(weighted_median(pairs))
}

/// Ratio of the changes' logarithms, and its weight.
fn pair(a: &Bands, b: &Bands, r: usize) -> Option<(f64, f64)> {
    let both = a.mean[r] > 0.05 && b.mean[r] > 0.05 && a.energy[r] > 0.0 && b.energy[r] > 0.0;
    let light = (b.mean[r] / a.mean[r]).ln();
    // Near black a row is lit in part: that tells nothing.
    let fair = both && light.abs() > LEAST_STEP && light.abs() < 0.4;
    fair.then(|| ((b.energy[r] / a.energy[r]).ln() / light, light.abs()))
}

fn weighted_median(mut pairs: Vec<(f64, f64)>) -> Option<f64> {
    if pairs.len() < 30 {
        return None;
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = pairs.iter().map(|p| p.1).sum();
    let mut below = 0.0;
    let middle = pairs.iter().find(|p| {
        below += p.1;
        below >= total / 2.0
    })?;
    Some(middle.0.clamp(1.0, 4.0))
}
