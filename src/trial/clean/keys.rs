//! Sharpness that jumps at the key frames of the compression.
//!
//! A strong compression repaints the whole picture at a key frame and lets it
//! stand in between: the sharpness then steps at the key frame while nothing
//! moves. Where it rests on both sides, the step is the codec's alone, and what
//! came before is brought to the level after it. No moment can then fall on the
//! step. Source of the effect: intra pictures are coded by themselves (ITU-T
//! H.264, clause 3), everything else as changes.

use std::ops::Range;

use super::super::curve::{Curve, Sample, median};

/// A step of this share of the level matters; smaller ones are noise beside
/// the band.
const LEAST: f64 = 0.03;
/// A step of more is a repainted picture: what it was before, nobody knows.
const MOST: f64 = 0.2;
/// The same in a film that is seen to do so at most of its key frames: then a
/// step is no lens that happens to move there.
const MOST_OF_MANY: f64 = 0.6;
/// A step to so many times the level is no codec's: a lens arrived.
const LENS: f64 = 3.0;
/// Steps that make such a film, and their least share of the key frames at
/// which the sharpness rests.
const MANY: usize = 3;
const MOSTLY: f64 = 0.5;
/// Updates on either side in which the sharpness rests.
const REST: usize = 4;
/// Unrest there, ÷ step. With more play, a lens that hunts past a key frame
/// is taken for a repainted picture.
const UNREST: f64 = 0.25;
/// Frames before a key frame that may already show some of it: pictures coded
/// from both sides (ITU-T H.264, clause 3, bi-predictive slices).
const BOTH_SIDES: usize = 3;
/// A step of this share of the level can bring a trial into its band.
const ENTERS: f64 = 0.025;
/// A step is the codec's where it is so many times the largest before it.
const SUDDEN: f64 = 3.0;

/// A key frame at which the sharpness rests on both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    /// One past the last sample that shows nothing of the key frame.
    before: usize,
    /// Index of the first sample that shows nothing else.
    after: usize,
    /// Level after ÷ level before.
    pub ratio: f64,
}

impl Pause {
    /// Whether the level steps there.
    #[must_use]
    pub fn steps(&self) -> bool {
        (self.ratio - 1.0).abs() > LEAST
    }
}

/// The largest step, as a share of the level, that can be evened out in a clip
/// with such pauses.
#[must_use]
pub fn most<'a>(pauses: impl Iterator<Item = &'a Pause>) -> f64 {
    let (mut all, mut stepping) = (0, 0);
    for p in pauses {
        all += 1;
        stepping += usize::from(p.steps());
    }
    #[allow(clippy::cast_precision_loss)]
    let mostly = stepping as f64 >= MOSTLY * all as f64;
    if stepping >= MANY && mostly {
        MOST_OF_MANY
    } else {
        MOST
    }
}

/// The pauses at key frames (numbers of frames, rising) within some samples.
#[must_use]
pub fn pauses(curve: &Curve, range: &Range<usize>, keys: &[usize]) -> Vec<Pause> {
    let samples = &curve.samples;
    let (Some(first), Some(last)) = (samples.get(range.start), range.end.checked_sub(1)) else {
        return Vec::new();
    };
    let until = samples.get(last).map_or(first.first, |s| s.end);
    let from = keys.partition_point(|k| *k < first.first);
    let to = keys.partition_point(|k| *k < until);
    keys[from..to.max(from)]
        .iter()
        .filter_map(|key| pause(samples, range, *key))
        .collect()
}

fn pause(samples: &[Sample], range: &Range<usize>, key: usize) -> Option<Pause> {
    // The update that holds the key frame shows both pictures.
    let holds = samples.partition_point(|s| s.end <= key);
    let mixed = samples.get(holds)?.clean_frames().start < key;
    let after = holds + usize::from(mixed);
    if after + REST > range.end {
        return None;
    }
    let shown = samples[holds].end - samples[holds].first;
    (0..=BOTH_SIDES.div_ceil(shown)).find_map(|early| {
        let before = holds.checked_sub(early)?;
        let start = before.checked_sub(REST).filter(|b| *b >= range.start)?;
        let (a, b) = (&samples[start..before], &samples[after..after + REST]);
        let (low, high) = (level(a)?, level(b)?);
        let unrest = spread(a) + spread(b);
        let rests = unrest < (UNREST * (high - low).abs()).max(UNREST * LEAST * high);
        let ratio = high / low.max(f64::MIN_POSITIVE);
        let repainted = (1.0 / LENS..=LENS).contains(&ratio);
        (rests && repainted).then_some(Pause {
            before,
            after,
            ratio,
        })
    })
}

/// Whether the sharpness came into its band by a jump at a key frame: when it
/// would have without, nobody knows.
#[must_use]
pub fn enters_by_jump(curve: &Curve, keys: &[usize], settle_s: f64) -> bool {
    let i = curve.at_or_after(settle_s);
    let Some(s) = i
        .checked_sub(REST + 2)
        .and_then(|from| curve.samples.get(from..i + 2))
    else {
        return false;
    };
    let (before, at) = (&s[..REST + 1], &s[REST..]);
    let from = keys.partition_point(|k| *k < at[1].first);
    let has_key = keys.get(from).is_some_and(|k| *k < at[2].end);
    let largest = before
        .windows(2)
        .map(|w| (w[1].value - w[0].value).abs())
        .fold(0.0, f64::max);
    let step = at[3].value - at[0].value;
    has_key && step.abs() > ENTERS * at[3].value && step.abs() > SUDDEN * largest
}

fn level(samples: &[Sample]) -> Option<f64> {
    median(samples.iter().map(|s| s.value).collect())
}

fn spread(samples: &[Sample]) -> f64 {
    let values = samples.iter().map(|s| s.value);
    values.clone().fold(f64::MIN, f64::max) - values.fold(f64::MAX, f64::min)
}

/// Brings what came before each step to the level after it, back to `from`.
pub fn level_out(curve: &mut Curve, from: usize, steps: &[Pause]) {
    for step in steps {
        for s in &mut curve.samples[from..step.before] {
            s.value *= step.ratio;
        }
        // What shows both is taken for what comes after.
        let next = curve.samples[step.after].value;
        for s in &mut curve.samples[step.before..step.after] {
            s.value = next;
        }
    }
}
