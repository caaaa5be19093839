//! Readings as they would be under steady light.
//!
//! Each row of tiles is brought to its own mean light around the frame. What
//! follows the light (every energy does, by the flicker's exponent) is taken
//! out; edges in time stay where they are, because nothing is averaged over
//! frames but the light itself.

use std::io;

use super::bands::{Around, Bands, row_pixels};
use super::flicker::{BLACK, Flicker};
use crate::sharpness::{Places, ROWS, Reading, TileReel};

/// A row whose light differs this much from its neighbour's is lit in part.
const EDGE: f64 = 0.3;

/// One frame under steady light, row by row.
struct Relit {
    energy: [f64; ROWS],
    usable: [bool; ROWS],
    light: f64,
    /// Energy as it was, all rows.
    raw: f64,
}

/// Readings under steady light. `updates` are the first frames of the screen's
/// updates and the end, where they are known: frames of one update show one
/// picture, so a row that is black in one of them is taken from the others.
///
/// # Errors
/// When the tiles cannot be read back.
pub fn steady(
    readings: &[Reading],
    reel: &mut TileReel,
    places: &Places,
    flicker: &Flicker,
    updates: Option<&[usize]>,
) -> io::Result<Vec<Reading>> {
    let pixels = row_pixels(places);
    let total: f64 = pixels.iter().sum();
    let mut around = Around::new(reel, places, flicker.half).lit_only(flicker.goes_black());
    let mut out: Vec<Reading> = Vec::with_capacity(readings.len());
    let mut before: Option<Bands> = None;
    let mut share = [0.0; ROWS];
    let mut group: Vec<Relit> = Vec::new();
    let mut ends = updates.into_iter().flatten().skip(1).peekable();
    for (k, reading) in readings.iter().enumerate() {
        let Some((bands, usual)) = around.next()? else {
            break;
        };
        let relit = relit(&bands, &usual, &pixels, total, flicker.exponent);
        out.push(Reading {
            mean: relit.light,
            change: changed(reading, &bands, before.as_ref(), &usual, flicker.exponent),
            ..*reading
        });
        before = Some(bands);
        group.push(relit);
        let end = match ends.peek() {
            Some(end) => k + 1 == **end,
            None => true,
        };
        if end || k + 1 == readings.len() {
            ends.next();
            let from = out.len() - group.len();
            fill(&mut out[from..], &readings[from..=k], &group, &mut share);
            group.clear();
        }
    }
    Ok(out)
}

fn relit(
    bands: &Bands,
    usual: &[f64; ROWS],
    pixels: &[f64; ROWS],
    total: f64,
    exponent: f64,
) -> Relit {
    let gain: [f64; ROWS] = std::array::from_fn(|r| {
        if usual[r] > 0.0 {
            bands.mean[r] / usual[r]
        } else {
            1.0
        }
    });
    let mut out = Relit {
        energy: [0.0; ROWS],
        usable: [false; ROWS],
        light: 0.0,
        raw: bands.energy.iter().sum(),
    };
    for r in 0..ROWS {
        out.light += usual[r] * pixels[r] / total.max(1.0);
        let near = [r.checked_sub(1), Some(r + 1).filter(|n| *n < ROWS)];
        let even = near
            .into_iter()
            .flatten()
            .all(|n| pixels[n] == 0.0 || (gain[n] - gain[r]).abs() < EDGE);
        out.usable[r] = gain[r] > BLACK && even;
        out.energy[r] = bands.energy[r] * gain[r].max(0.05).powf(-exponent);
    }
    out
}

/// Sets the energies of the frames of one update.
fn fill(out: &mut [Reading], readings: &[Reading], group: &[Relit], share: &mut [f64; ROWS]) {
    // Frames after the first show nothing of the update before.
    let whole = if group.len() >= 3 { &group[1..] } else { group };
    let mean_of = |frames: &[Relit], r: usize| {
        let usable: Vec<f64> = frames
            .iter()
            .filter(|f| f.usable[r])
            .map(|f| f.energy[r])
            .collect();
        let n = usable.len() as f64;
        (n > 0.0).then(|| usable.iter().sum::<f64>() / n)
    };
    let other: [Option<f64>; ROWS] =
        std::array::from_fn(|r| mean_of(whole, r).or_else(|| mean_of(group, r)));
    for ((o, reading), frame) in out.iter_mut().zip(readings).zip(group) {
        let (mut seen, mut known) = (0.0, 0.0);
        for r in 0..ROWS {
            let value = if frame.usable[r] {
                Some(frame.energy[r])
            } else {
                other[r]
            };
            if let Some(v) = value {
                seen += v;
                known += share[r];
            }
        }
        let all: f64 = share.iter().sum();
        // Rows seen in no frame of the update stand in by their usual share.
        let scale = if known > 0.0 { all / known } else { 1.0 };
        if frame.raw > 0.0 {
            o.energy = reading.energy * seen * scale / frame.raw;
        }
    }
    for (s, v) in share.iter_mut().zip(other) {
        if let Some(v) = v {
            *s = if *s > 0.0 { 0.8 * *s + 0.2 * v } else { v };
        }
    }
}

/// The change against the frame before with both under the same light.
fn changed(
    reading: &Reading,
    now: &Bands,
    before: Option<&Bands>,
    usual: &[f64; ROWS],
    exponent: f64,
) -> Option<f64> {
    let change = reading.change?;
    let before = before?;
    let (mut raw, mut relit, mut rows, mut used) = (0.0, 0.0, 0.0, 0.0);
    for (r, level) in usual.iter().enumerate() {
        if now.compared[r] <= 0.0 || *level <= 0.0 {
            continue;
        }
        raw += now.change[r];
        rows += 1.0;
        let (a, b) = (now.mean[r] / level, before.mean[r] / level);
        if a < BLACK || b < BLACK {
            continue;
        }
        used += 1.0;
        let rho = (a / b).powf(exponent / 2.0);
        let (x, y, d) = (now.compared[r], before.compared[r], now.change[r]);
        let cross = (x + y - d) / 2.0;
        let alike = (x + rho * rho * y - 2.0 * rho * cross).max(0.0);
        relit += alike * a.powf(-exponent);
    }
    if used == 0.0 || raw <= 0.0 {
        return (rows == 0.0).then_some(change);
    }
    Some(change * relit / raw * rows / used)
}
