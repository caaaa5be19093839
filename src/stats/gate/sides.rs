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
    pub watched: Vec<Watched>,
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

/// How often each clip, or each trial of each side, counts in every resample.
pub(super) struct Draws {
    pub by_clip: bool,
    /// Clips, or trials, that were drawn from.
    pub units: usize,
    /// By resample; then one list over the clips, or a list per side.
    counts: Vec<Vec<Vec<u32>>>,
}

impl Draws {
    /// Draws `resamples` times: whole clips, or trials within each side.
    pub fn new(
        sides: &[SideSample],
        by_clip: bool,
        identity: &str,
        seed: u64,
        resamples: usize,
    ) -> Self {
        let mut rng = generator(seed, identity);
        let clips = clips_of(sides);
        let counts = (0..resamples)
            .map(|_| {
                if by_clip {
                    vec![draw_clips(&clips, &mut rng)]
                } else {
                    let each = sides.iter().map(|s| draw(&mut rng, s.watched.len()));
                    each.collect()
                }
            })
            .collect();
        let trials = sides.iter().map(|s| s.watched.len()).sum();
        Self {
            by_clip,
            units: if by_clip { clips.len() } else { trials },
            counts,
        }
    }

    /// Number of resamples.
    pub fn len(&self) -> usize {
        self.counts.len()
    }

    /// In words, for the method of a check.
    pub fn words(&self) -> &'static str {
        if self.by_clip {
            "resampled clips"
        } else {
            "resampled trials within each side"
        }
    }

    fn times(&self, resample: usize, place: usize, side: &SideSample, k: usize) -> usize {
        let counts = &self.counts[resample];
        let count = if self.by_clip {
            counts[0][side.clips[k]]
        } else {
            counts[place][k]
        };
        count as usize
    }

    /// Curve of the side at `place` in one resample.
    pub fn curve(&self, resample: usize, place: usize, side: &SideSample) -> Option<Curve> {
        Curve::counted(&side.watched, |k| self.times(resample, place, side, k))
    }

    /// Its hit rate.
    pub fn hit_rate(&self, resample: usize, place: usize, side: &SideSample) -> Option<f64> {
        let (mut hits, mut n) = (0, 0);
        for (k, watched) in side.watched.iter().enumerate() {
            let count = self.times(resample, place, side, k);
            n += count;
            hits += if watched.hit { count } else { 0 };
        }
        (n > 0).then(|| hits as f64 / n as f64)
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

fn draw_clips(clips: &[usize], rng: &mut ChaCha8Rng) -> Vec<u32> {
    let mut times = vec![0; clips.last().map_or(0, |last| last + 1)];
    for (&clip, count) in clips.iter().zip(draw(rng, clips.len())) {
        times[clip] = count;
    }
    times
}
