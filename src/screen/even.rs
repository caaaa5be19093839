//! Small pictures under even light, for films that flicker.
//!
//! Bands of light that run through a picture look like motion. Every row is
//! brought to its mean light around the frame, and taken from that frame of a
//! screen update in which it is brightest: another may show it black.

use std::io;

use super::{Reel, Thumb};

/// A row this dark against its usual light says nothing.
const DARKEST: f32 = 0.1;
/// A row with less than this share of its usual light is not lit.
const LIT: f32 = 0.5;
/// Of rows that go black, those with this share of the most light are lit.
const LIT_OF_MOST: f64 = 0.6;

/// The mean of the larger values of one row, where it goes black now and then:
/// its light while it is lit. 0 of none.
pub fn lit_mean(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = values.clone().fold(0.0, f64::max);
    let lit = values.filter(|v| *v >= LIT_OF_MOST * most);
    let (n, sum) = lit.fold((0.0, 0.0), |(n, sum), v| (n + 1.0, sum + v));
    if n > 0.0 { sum / n } else { 0.0 }
}

/// The reel with every row at its usual light; `half` frames on either side
/// make the usual. `updates` are the first frames of the screen's updates and
/// the end, where they are known: frames of one update show one picture.
/// `black`: rows go black now and then; a row that is so in every frame of an
/// update stays as it was before.
///
/// # Errors
/// When temporary files cannot be read or written.
pub fn even_light(
    reel: &mut Reel,
    half: usize,
    updates: Option<&[usize]>,
    black: bool,
) -> io::Result<Reel> {
    let n = reel.len();
    let mut rows: Vec<Vec<f32>> = Vec::with_capacity(n);
    for k in 0..n {
        rows.push(row_means(&reel.get(k)?));
    }
    let Some(height) = rows.first().map(Vec::len) else {
        return Ok(Reel::new(1, 1));
    };
    let width = reel.get(0)?.width;
    let usual = if black {
        lit(&rows, half, height)
    } else {
        usual(&rows, half, height)
    };
    let every: Vec<usize>;
    let bounds = match updates {
        Some(u) => u,
        None => {
            every = (0..=n).collect();
            &every
        }
    };
    let mut out = Reel::new(width, height);
    let mut before: Option<Thumb> = None;
    for w in bounds.windows(2) {
        let (from, to) = (w[0], w[1].min(n));
        // The first frame may show part of the update before.
        let clean = if to - from >= 3 { from + 1 } else { from };
        let mut picture = reel.get(clean)?;
        for r in 0..height {
            let lit = |k: &usize| rows[*k][r] / usual[*k][r].max(1e-3);
            let best = (clean..to)
                .max_by(|a, b| lit(a).total_cmp(&lit(b)))
                .unwrap_or(clean);
            let cells = r * width..(r + 1) * width;
            if let Some(before) = before.as_ref().filter(|_| black && lit(&best) < LIT) {
                picture.cells[cells.clone()].copy_from_slice(&before.cells[cells]);
                continue;
            }
            let source = reel.get(best)?;
            let gain = 1.0 / lit(&best).max(DARKEST);
            let from = &source.cells[cells.clone()];
            for (c, v) in picture.cells[cells].iter_mut().zip(from) {
                *c = v * gain;
            }
        }
        for _ in from..to {
            out.push(&picture)?;
        }
        before = Some(picture);
    }
    Ok(out)
}

/// Seconds of film over which a view's unsteadiness is taken.
const PIECE_S: f64 = 0.25;
/// Share of the pieces that may be steadier: while a target moves, rows change
/// without any flicker.
const STEADIER: f64 = 0.25;
/// Unsteadiness of the rows from which it can be taken for motion.
pub const LOOKS_LIKE_MOTION: f64 = 0.02;
/// Seconds over which light is averaged, at least and at most.
const AVERAGE_S: (f64, f64) = (0.1, 0.2);

/// Whether the light of a view flickers so that it can be taken for motion:
/// then the frames on either side that make up whole periods of it.
///
/// # Errors
/// When temporary files cannot be read.
pub fn unsteady(reel: &mut Reel, frame_s: f64) -> io::Result<Option<usize>> {
    let mut rows: Vec<Vec<f32>> = Vec::with_capacity(reel.len());
    for k in 0..reel.len() {
        rows.push(row_means(&reel.get(k)?));
    }
    let Some(height) = rows.first().map(Vec::len) else {
        return Ok(None);
    };
    let half = whole_periods(&rows, frame_s);
    let usual = usual(&rows, half, height);
    let piece = ((PIECE_S / frame_s).round() as usize).max(4);
    let off = |(now, mean): (&Vec<f32>, &Vec<f32>)| -> f64 {
        let each = now.iter().zip(mean);
        each.map(|(v, m)| f64::from(v / m.max(1e-3) - 1.0).powi(2))
            .sum()
    };
    let mut pieces: Vec<f64> = rows
        .chunks_exact(piece)
        .zip(usual.chunks_exact(piece))
        .map(|(r, u)| r.iter().zip(u).map(off).sum::<f64>())
        .collect();
    pieces.sort_by(f64::total_cmp);
    let steadier = pieces.get((pieces.len() as f64 * STEADIER) as usize);
    let depth = (steadier.copied().unwrap_or(0.0) / (piece * height) as f64).sqrt();
    Ok((depth > LOOKS_LIKE_MOTION).then_some(half))
}

/// Half the number of frames over which the mean light is smoothest.
fn whole_periods(rows: &[Vec<f32>], frame_s: f64) -> usize {
    let light: Vec<f64> = rows
        .iter()
        .map(|r| r.iter().map(|v| f64::from(*v)).sum::<f64>() / r.len().max(1) as f64)
        .collect();
    let at = |s: f64| ((s / frame_s / 2.0).round() as usize).max(1);
    let roughness = |half: usize| -> f64 {
        let len = 2 * half + 1;
        // From one mean over `len` frames to the next.
        light
            .windows(len + 1)
            .map(|w| ((w[len] - w[0]) / len as f64).powi(2))
            .sum()
    };
    (at(AVERAGE_S.0)..=at(AVERAGE_S.1))
        .min_by(|a, b| roughness(*a).total_cmp(&roughness(*b)))
        .unwrap_or(1)
}

fn row_means(thumb: &Thumb) -> Vec<f32> {
    let mean = |row: &[f32]| row.iter().sum::<f32>() / row.len() as f32;
    thumb.cells.chunks(thumb.width.max(1)).map(mean).collect()
}

/// The mean light of every row over the frames around.
fn usual(rows: &[Vec<f32>], half: usize, height: usize) -> Vec<Vec<f32>> {
    let mut sum = vec![0.0f64; height];
    let (mut from, mut to) = (0, 0);
    let mut out = Vec::with_capacity(rows.len());
    for k in 0..rows.len() {
        while to < (k + half + 1).min(rows.len()) {
            for (s, v) in sum.iter_mut().zip(&rows[to]) {
                *s += f64::from(*v);
            }
            to += 1;
        }
        while from + half < k {
            for (s, v) in sum.iter_mut().zip(&rows[from]) {
                *s -= f64::from(*v);
            }
            from += 1;
        }
        out.push(
            sum.iter()
                .map(|s| (s / (to - from) as f64) as f32)
                .collect(),
        );
    }
    out
}

/// The light of every row over the frames around in which it is lit.
fn lit(rows: &[Vec<f32>], half: usize, height: usize) -> Vec<Vec<f32>> {
    let near = |k: usize| &rows[k.saturating_sub(half)..(k + half + 1).min(rows.len())];
    let of = |k: usize, r: usize| lit_mean(near(k).iter().map(|row| f64::from(row[r]))) as f32;
    (0..rows.len())
        .map(|k| (0..height).map(|r| of(k, r)).collect())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_stays_as_bright_however_often_it_is_shown() {
        let mut reel = Reel::new(8, 6);
        for k in 0..192usize {
            // For a while two rows go black in every second frame, then two others.
            let dark = |row: usize| k.is_multiple_of(2) && (row + k / 24) % 6 < 2;
            let cells = (0..48).map(|i| if dark(i / 8) { 0.005 } else { 0.4 });
            reel.push(&Thumb {
                width: 8,
                height: 6,
                cells: cells.collect(),
            })
            .unwrap();
        }
        let updates: Vec<usize> = (0..=48).map(|u| 4 * u).collect();
        let mut even = even_light(&mut reel, 8, Some(&updates), true).unwrap();
        for k in 0..192 {
            let picture = even.get(k).unwrap();
            assert!(picture.cells.iter().all(|c| (c - 0.4).abs() < 1e-3), "{k}");
        }
    }

    #[test]
    fn a_picture_lit_in_bands_is_even_again() {
        let mut reel = Reel::new(8, 6);
        let content = |i: usize| 0.3 + 0.02 * ((i * 7) % 5) as f32;
        for k in 0..96usize {
            let cells = (0..48)
                .map(|i| {
                    // One row in four is black, another in the next frame.
                    let dark = (i / 8 + k) % 4 == 0;
                    content(i) * if dark { 0.02 } else { 1.0 }
                })
                .collect();
            reel.push(&Thumb {
                width: 8,
                height: 6,
                cells,
            })
            .unwrap();
        }
        let updates: Vec<usize> = (0..=24).map(|u| 4 * u).collect();
        let mut even = even_light(&mut reel, 8, Some(&updates), false).unwrap();
        assert_eq!(even.len(), 96);
        let first = even.get(40).unwrap();
        for k in 30..60 {
            let got = even.get(k).unwrap();
            for i in 0..48 {
                assert!((got.cells[i] / first.cells[i] - 1.0).abs() < 0.1, "{k} {i}");
                let shape = got.cells[i] / got.cells[i / 8 * 8];
                let want = content(i) / content(i / 8 * 8);
                assert!((shape - want).abs() < 0.01, "{k} {i}");
            }
        }
    }
}
