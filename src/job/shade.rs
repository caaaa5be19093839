//! Rows of the focus area that are lit in one trial and dark in another: a band
//! of a switched backlight that hardly moves in the film.
//!
//! A band takes detail away as defocus does, but it takes the light too, and a
//! lens does neither to one row against the others. Trials of one side end on
//! the same subject, so their rows are set against each other.

use std::collections::BTreeMap;
use std::io;

use crate::screen::{Reel, Thumb};
use crate::store::schema::Side;
use crate::trial::{Bounds, Curve, Rules};

/// A row is dark in a trial that shows it with less than this share of the
/// light, against the rest of the area, that another trial has there. Derived:
/// half of the light is half of the picture's contrast, a quarter of its energy.
const DARK: f32 = 0.5;

/// Light of the rows of `area` (left, top, right, bottom of the screen), picture
/// by picture.
///
/// # Errors
/// When the temporary pictures cannot be read.
pub fn light_of_rows(pictures: &mut Reel, area: [f64; 4]) -> io::Result<Vec<f32>> {
    let mut out = Vec::new();
    for k in 0..pictures.len() {
        out.extend(rows(&pictures.get(k)?, area));
    }
    Ok(out)
}

/// Whether any row of the focus area is lit in one trial of a side and dark in
/// another, by what [`light_of_rows`] says of each sample of the curve; without
/// it nothing is told.
pub fn is_shaded(light: &[f32], curve: &Curve, bounds: &[Bounds], rules: &Rules) -> bool {
    let width = light.len() / curve.samples.len().max(1);
    let mut sides: BTreeMap<Option<Side>, Vec<&[f32]>> = BTreeMap::new();
    for b in bounds {
        let end = b.shown_onset_s() + rules.window_s;
        let over = b.over_s.unwrap_or(f64::MAX);
        let k = curve.at_or_after(end.min(over)).saturating_sub(1);
        if let Some(rows) = light.get(k * width..(k + 1) * width) {
            sides.entry(b.stimulus.side).or_default().push(rows);
        }
    }
    sides.values().any(|trials| differ(trials))
}

/// Light of the area's rows ÷ that of the area, each with its neighbours.
fn rows(picture: &Thumb, area: [f64; 4]) -> Vec<f32> {
    let cells = |from: f64, to: f64, n: usize| {
        let at = |v: f64| ((v * n as f64).round() as usize).min(n);
        at(from)..at(to)
    };
    let columns = cells(area[0], area[2], picture.width);
    let plain: Vec<f32> = cells(area[1], area[3], picture.height)
        .map(|y| {
            let row = &picture.cells[y * picture.width..][columns.clone()];
            row.iter().sum::<f32>()
        })
        .collect();
    let mean = plain.iter().sum::<f32>() / plain.len().max(1) as f32;
    let near = plain.windows(3).map(|w| w.iter().sum::<f32>() / 3.0);
    near.map(|v| v / mean.max(f32::MIN_POSITIVE)).collect()
}

fn differ(trials: &[&[f32]]) -> bool {
    let rows = trials.first().map_or(0, |t| t.len());
    (0..rows).any(|y| {
        let light = || trials.iter().map(|t| t[y]);
        let (low, high) = (
            light().fold(f32::MAX, f32::min),
            light().fold(0.0, f32::max),
        );
        low < DARK * high
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture(light: impl Fn(usize, usize) -> f32) -> Thumb {
        let (width, height) = (64, 48);
        let cells = (0..width * height).map(|i| light(i % width, i / width));
        Thumb {
            width,
            height,
            cells: cells.collect(),
        }
    }

    const AREA: [f64; 4] = [0.3, 0.3, 0.7, 0.7];

    #[test]
    fn a_band_is_told_from_exposure_and_from_a_soft_picture() {
        let texture =
            |x: usize, y: usize| 0.4 + 0.2 * (((x * 7 + y * 13) % 10) as f32 / 10.0 - 0.5);
        let plain = rows(&picture(texture), AREA);
        let dim = rows(&picture(|x, y| 0.3 * texture(x, y)), AREA);
        let soft = rows(&picture(|_, _| 0.4), AREA);
        let band =
            |x: usize, y: usize| texture(x, y) * if (20..28).contains(&y) { 0.2 } else { 1.0 };
        let band = rows(&picture(band), AREA);
        assert!(!differ(&[&plain, &dim, &soft]));
        assert!(differ(&[&plain, &band]));
        assert!(!differ(&[&band, &band]));
        assert!(!differ(&[&plain]) && !differ(&[]));
    }
}
