//! The sharpness curve: one sample per update of the screen.

use crate::ranked::at;
pub(crate) use crate::ranked::median;
use crate::sharpness::Reading;

/// One update of the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// When it was first seen: the midpoint between the last frame of the
    /// update before and the first frame of this one, seconds as shot.
    pub shown_s: f64,
    /// First frame that shows it.
    pub first: usize,
    /// One past the last frame that shows it.
    pub end: usize,
    /// Sharpness: energy less the noise's, ÷ mean luma squared.
    pub value: f64,
    /// Mean luma, 0..=1.
    pub mean: f64,
    /// Share of white pixels.
    pub white: f64,
}

impl Sample {
    /// The frames that show this update alone: the first may still show part
    /// of the one before.
    pub fn clean_frames(&self) -> std::ops::Range<usize> {
        clean_frames(self.first, self.end)
    }
}

fn clean_frames(from: usize, to: usize) -> std::ops::Range<usize> {
    if to - from >= 3 {
        from + 1..to
    } else {
        to - 1..to
    }
}

/// The curve of one clip.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// In order of time.
    pub samples: Vec<Sample>,
    /// Seconds from one update to the next.
    pub period_s: f64,
    /// Median seconds from one frame to the next.
    pub frame_s: f64,
    /// Whether every frame is an update of its own (a feed, or a screen that
    /// changes at every frame).
    pub every_frame: bool,
}

/// Frames around which noise is looked up, seconds.
const NOISE_REACH_S: f64 = 0.5;

impl Curve {
    /// Gathers frames into updates. `updates` is the measured or stated
    /// rhythm (period and phase in seconds); `None` takes every frame.
    pub fn new(times: &[f64], readings: &[Reading], updates: Option<(f64, f64)>) -> Self {
        let frame_s = median(times.windows(2).map(|w| w[1] - w[0]).collect()).unwrap_or(0.0);
        let period_s = updates.map_or(frame_s, |u| u.0.max(frame_s));
        let every_frame = period_s < 1.5 * frame_s;
        let noise = noise(times, readings);
        let cells = cells(times, if every_frame { None } else { updates });
        let samples: Vec<Sample> = cells
            .windows(2)
            .map(|w| sample(times, readings, &noise, w[0], w[1], frame_s))
            .collect();
        Self {
            samples,
            period_s,
            frame_s,
            every_frame,
        }
    }

    /// The first frames of the updates that `rhythm` makes of frame times, and
    /// the end; `None` where every frame is one of its own.
    pub fn updates(times: &[f64], rhythm: Option<(f64, f64)>) -> Option<Vec<usize>> {
        let frame_s = median(times.windows(2).map(|w| w[1] - w[0]).collect())?;
        let slower = rhythm.filter(|r| r.0 >= 1.5 * frame_s);
        slower.map(|r| cells(times, Some(r)))
    }

    /// Index of the first sample shown at or after `t`.
    pub fn at_or_after(&self, t: f64) -> usize {
        self.samples.partition_point(|s| s.shown_s < t - 1e-9)
    }

    /// Samples shown in `from..to` seconds.
    pub fn between(&self, from: f64, to: f64) -> &[Sample] {
        &self.samples[self.at_or_after(from)..self.at_or_after(to).max(self.at_or_after(from))]
    }
}

/// Frame indices at which a new update begins, and the end.
fn cells(times: &[f64], updates: Option<(f64, f64)>) -> Vec<usize> {
    let Some((period, phase)) = updates else {
        return (0..=times.len()).collect();
    };
    let cell = |k: usize| ((times[k] - phase) / period).floor();
    let mut starts = vec![0];
    starts.extend((1..times.len()).filter(|k| cell(*k) > cell(*k - 1)));
    starts.push(times.len());
    starts
}

fn sample(
    times: &[f64],
    readings: &[Reading],
    noise: &[f64],
    from: usize,
    to: usize,
    frame_s: f64,
) -> Sample {
    let shown_s = if from == 0 {
        times[0] - frame_s / 2.0
    } else {
        f64::midpoint(times[from - 1], times[from])
    };
    let clean = clean_frames(from, to);
    let value = |k: usize| {
        let m = readings[k].mean.max(1e-3);
        ((readings[k].energy - noise[k]) / (m * m)).max(0.0)
    };
    let middle = |f: &dyn Fn(usize) -> f64| centre(clean.clone().map(f).collect());
    Sample {
        shown_s,
        first: from,
        end: to,
        value: middle(&value),
        mean: middle(&|k| readings[k].mean),
        white: middle(&|k| readings[k].white),
    }
}

/// The mean of a few values, the median of many: of a few a median would
/// throw most away.
fn centre(v: Vec<f64>) -> f64 {
    if v.len() < 5 {
        return v.iter().sum::<f64>() / v.len().max(1) as f64;
    }
    median(v).unwrap_or(0.0)
}

/// Energy of the noise at every frame, luma²: the lower quartile of half the
/// energy of frame-to-frame differences nearby. Frames that repeat one
/// picture differ by noise alone, and they are never rarer than that on a
/// screen slower than the film; on a feed, still moments serve.
fn noise(times: &[f64], readings: &[Reading]) -> Vec<f64> {
    let single: Vec<Option<f64>> = readings.iter().map(|r| r.change.map(|c| c / 2.0)).collect();
    let mut out = Vec::with_capacity(times.len());
    let mut last = (0, 0, 0.0);
    for (k, t) in times.iter().enumerate() {
        // Noise changes slowly: look it up every few frames only.
        if k % 8 == 0 || k == 0 {
            let from = times.partition_point(|x| *x < t - NOISE_REACH_S);
            let to = times.partition_point(|x| *x <= t + NOISE_REACH_S);
            let near = single[from..to].iter().flatten().copied().collect();
            last = (from, to, at(near, 1, 4).unwrap_or(0.0));
        }
        out.push(last.2);
    }
    out
}
