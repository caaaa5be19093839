//! Time-to-focus of one side, and its resamples.

use rand_chacha::ChaCha8Rng;

use super::super::bootstrap::{FEWEST_CLIPS, draw, generator};
use super::super::difference::Arm;
use super::super::sample::Observation;
use super::super::survival::{Curve, Watched};

/// One side of one setup within a window.
pub(super) struct SideSample {
    pub arm: Arm,
    /// Sorted by time, with the clip of each.
    watched: Vec<Watched>,
    clips: Vec<usize>,
}

impl SideSample {
    pub fn new<'a>(trials: impl Iterator<Item = &'a Observation>, window_ms: f64) -> Self {
        let mut all: Vec<_> = trials.map(|o| (o.watched(window_ms), o.clip)).collect();
        all.sort_by(|x, y| x.0.ms.total_cmp(&y.0.ms));
        Self {
            arm: Arm {
                hits: all.iter().filter(|w| w.0.hit).count() as u64,
                n: all.len() as u64,
            },
            clips: all.iter().map(|w| w.1).collect(),
            watched: all.into_iter().map(|w| w.0).collect(),
        }
    }

    pub fn curve(&self) -> Option<Curve> {
        Curve::counted(&self.watched, |_| 1)
    }
}

/// One resample of a side: its curve and hit rate.
pub(super) struct Resampled {
    pub curve: Option<Curve>,
    pub hit_rate: Option<f64>,
}

/// Resamples of the sides of one setup.
pub(super) struct Resamples {
    /// By resample, then by side.
    pub sides: Vec<Vec<Resampled>>,
    /// Units that were drawn: clips, or trials.
    pub units: usize,
    pub by_clip: bool,
}

/// Draws `resamples` times: whole clips if both setups have enough of them,
/// else trials within each side.
pub(super) fn resample(
    sides: &[SideSample],
    by_clip: bool,
    identity: &str,
    seed: u64,
    resamples: usize,
) -> Resamples {
    let mut rng = generator(seed, identity);
    let clips = clips_of(sides);
    let drawn = (0..resamples)
        .map(|_| {
            if by_clip {
                one_by_clip(sides, &clips, &mut rng)
            } else {
                one_by_trial(sides, &mut rng)
            }
        })
        .collect();
    let trials = sides.iter().map(|s| s.watched.len()).sum();
    Resamples {
        sides: drawn,
        units: if by_clip { clips.len() } else { trials },
        by_clip,
    }
}

/// Whether a setup has clips enough to be resampled by clip.
pub(super) fn enough_clips(sides: &[SideSample]) -> bool {
    clips_of(sides).len() >= FEWEST_CLIPS
}

fn clips_of(sides: &[SideSample]) -> Vec<usize> {
    let mut clips: Vec<usize> = sides.iter().flat_map(|s| s.clips.clone()).collect();
    clips.sort_unstable();
    clips.dedup();
    clips
}

fn one_by_clip(sides: &[SideSample], clips: &[usize], rng: &mut ChaCha8Rng) -> Vec<Resampled> {
    let drawn = draw(rng, clips.len());
    let mut times = vec![0; clips.last().map_or(0, |last| last + 1)];
    for (&clip, count) in clips.iter().zip(drawn) {
        times[clip] = count;
    }
    sides
        .iter()
        .map(|side| resampled(side, |k| times[side.clips[k]] as usize))
        .collect()
}

fn one_by_trial(sides: &[SideSample], rng: &mut ChaCha8Rng) -> Vec<Resampled> {
    sides
        .iter()
        .map(|side| {
            let times = draw(rng, side.watched.len());
            resampled(side, |k| times[k] as usize)
        })
        .collect()
}

fn resampled(side: &SideSample, times: impl Fn(usize) -> usize) -> Resampled {
    let (mut hits, mut n) = (0, 0);
    for (k, watched) in side.watched.iter().enumerate() {
        let count = times(k);
        n += count;
        hits += if watched.hit { count } else { 0 };
    }
    Resampled {
        curve: Curve::counted(&side.watched, times),
        hit_rate: (n > 0).then(|| hits as f64 / n as f64),
    }
}
