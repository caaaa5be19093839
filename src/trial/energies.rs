//! From frames to updates: the energies by band of every update of the screen.
//!
//! Frames that repeat one picture share its energy and not their noise, so an
//! update seen in several frames is read from what neighbours among them have
//! in common. One seen in a single frame has the noise of the clip taken off.

use super::curve::{Curve, Sample, median};
use crate::ranked::at;
use crate::sharpness::{BANDS, BandReading, Energies};

/// Energies of every sample of a curve, ÷ mean light², noise taken off.
pub fn energies(curve: &Curve, frames: &[BandReading]) -> Vec<Energies> {
    let noise = noise(curve, frames);
    curve
        .samples
        .iter()
        .map(|s| match mean(pairs(s, frames)) {
            Some(common) => common,
            None => alone(s, frames, &noise),
        })
        .collect()
}

/// What neighbouring frames of one update have in common.
fn pairs<'a>(s: &Sample, frames: &'a [BandReading]) -> impl Iterator<Item = &'a [f32; BANDS]> {
    let clean = s.clean_frames();
    frames[clean.start + 1..clean.end.max(clean.start + 1)]
        .iter()
        .filter_map(|f| f.common.as_ref())
}

fn mean<'a>(rows: impl Iterator<Item = &'a [f32; BANDS]>) -> Option<Energies> {
    let mut sum = [0.0f32; BANDS];
    let mut n = 0.0;
    for row in rows {
        n += 1.0;
        sum.iter_mut().zip(row).for_each(|(s, v)| *s += v);
    }
    (n > 0.0).then(|| sum.map(|s| s / n))
}

fn alone(s: &Sample, frames: &[BandReading], noise: &Energies) -> Energies {
    let own = mean(frames[s.clean_frames()].iter().map(|f| &f.own)).unwrap_or([0.0; BANDS]);
    std::array::from_fn(|b| own[b] - noise[b])
}

/// Energy of the noise of one frame by band: half of the energy in which two
/// frames of one update differ, in the middle over the clip. Where every frame
/// is an update, its lower quarter serves: moments at which nothing changes.
fn noise(curve: &Curve, frames: &[BandReading]) -> Energies {
    let differ = |k: usize| -> Option<Energies> {
        let common = frames[k].common.as_ref()?;
        let (a, b) = (&frames[k - 1].own, &frames[k].own);
        Some(std::array::from_fn(|i| 0.5 * (a[i] + b[i]) - common[i]))
    };
    let repeats: Vec<Energies> = curve
        .samples
        .iter()
        .flat_map(|s| s.first + 1..s.end)
        .filter_map(differ)
        .collect();
    let (rows, share) = if repeats.is_empty() {
        ((1..frames.len()).filter_map(differ).collect(), 4)
    } else {
        (repeats, 2)
    };
    std::array::from_fn(|b| {
        let row = rows.iter().map(|r: &Energies| r[b]).collect();
        at(row, 1, share).unwrap_or(0.0).max(0.0)
    })
}

/// Mean of the logarithms of what is above nought: how sharp an update is
/// before anything is known of the subject. Bands count alike.
pub fn level(e: &Energies) -> f64 {
    let told = e.iter().filter(|v| **v > 0.0);
    let n = told.clone().count().max(1) as f64;
    told.map(|v| f64::from(*v).ln()).sum::<f64>() / n
}

/// The middle energies of some updates, band by band.
pub fn middle(updates: &[Energies]) -> Energies {
    std::array::from_fn(|b| {
        median(updates.iter().map(|e| f64::from(e[b])).collect()).unwrap_or(0.0) as f32
    })
}
