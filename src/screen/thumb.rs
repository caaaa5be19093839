//! A small picture of an area: cell means on a coarse grid, for motion.
//!
//! Each cell averages some ten film pixels, so noise and the defocus of
//! fine detail matter little; what moves stays visible.

use super::region::slide;
use crate::clip::LumaFrame;
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx};

/// A grid of `width` × `height` cell means, luma 0..=1, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Thumb {
    /// Cells a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Means.
    pub cells: Vec<f32>,
}

/// One sampled row of the picture: which samples feed which cells.
#[derive(Clone, Debug)]
struct Line {
    y: usize,
    x0: usize,
    step: usize,
    cells: Vec<u16>,
}

/// Which pixels of the stored picture feed which cell.
#[derive(Clone, Debug)]
pub struct ThumbMap {
    width: usize,
    height: usize,
    lines: Vec<Line>,
    weight: Vec<f32>,
    /// Left, top, width and height of what is sampled, px.
    bounds: [usize; 4],
}

const NO_CELL: u16 = u16::MAX;
/// Samples wanted along each side of a cell.
const SAMPLES: f64 = 3.0;

impl ThumbMap {
    /// A grid of `width` × `height` cells over `area` of a picture of `size` px.
    /// `None` where the area is degenerate or holds no pixel.
    pub fn new(
        area: &Quad<StoredPx>,
        size: (usize, usize),
        width: usize,
        height: usize,
    ) -> Option<Self> {
        let unit: Quad<ScreenFrac> = Quad::rect(0.0, 0.0, width as f64, height as f64);
        let to_cell = Homography::between(area, &unit)?;
        let [left, top, right, bottom] = area.bounds();
        let x0 = left.floor().clamp(0.0, size.0 as f64) as usize;
        let x1 = right.ceil().clamp(0.0, size.0 as f64) as usize;
        let y0 = top.floor().clamp(0.0, size.1 as f64) as usize;
        let y1 = bottom.ceil().clamp(0.0, size.1 as f64) as usize;
        let step = |px: f64, cells: usize| ((px / cells as f64 / SAMPLES) as usize).max(1);
        let (sx, sy) = (step(right - left, width), step(bottom - top, height));
        let mut weight = vec![0.0f32; width * height];
        let mut lines = Vec::new();
        for y in (y0..y1).step_by(sy) {
            let cells: Vec<u16> = (x0..x1)
                .step_by(sx)
                .map(|x| {
                    let p = to_cell.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
                    let inside =
                        p.x >= 0.0 && p.y >= 0.0 && p.x < width as f64 && p.y < height as f64;
                    if !inside {
                        return NO_CELL;
                    }
                    let cell = p.y as usize * width + p.x as usize;
                    weight[cell] += 1.0;
                    cell as u16
                })
                .collect();
            lines.push(Line {
                y,
                x0,
                step: sx,
                cells,
            });
        }
        if weight.iter().all(|w| *w == 0.0) {
            return None;
        }
        Some(Self {
            width,
            height,
            lines,
            weight,
            bounds: [x0, y0, x1 - x0, y1 - y0],
        })
    }

    /// The cell means of one frame.
    pub fn of(&self, frame: &LumaFrame<'_>, row: &mut Vec<f32>) -> Thumb {
        self.of_moved(frame, [0.0; 2], row)
    }

    /// The same with the area moved by (x, y) px, as far as the picture
    /// reaches. Fractions of a pixel are interpolated: a cell averages many
    /// pixels, and motion is read to a hundredth of a cell.
    pub fn of_moved(&self, frame: &LumaFrame<'_>, moved: [f32; 2], row: &mut Vec<f32>) -> Thumb {
        let [left, top, width, height] = self.bounds;
        let whole = moved.map(f32::floor);
        let part = [moved[0] - whole[0], moved[1] - whole[1]];
        let shift = whole.map(|v| v as i16);
        let extra = part.map(|p| usize::from(p > 0.0));
        let (x0, _) = slide(left, width + extra[0], shift[0], frame.size.0);
        let (y0, _) = slide(top, height + extra[1], shift[1], frame.size.1);
        let mut sums = vec![0.0f32; self.width * self.height];
        let mut corner = Vec::new();
        for line in &self.lines {
            row.resize(line.cells.len(), 0.0);
            let (y, x) = (y0 + line.y - top, x0 + line.x0 - left);
            frame.every(y, x, line.step, row);
            if part != [0.0; 2] {
                blend(frame, (x, y), line.step, part, row, &mut corner);
            }
            for (cell, v) in line.cells.iter().zip(row.iter()) {
                if *cell != NO_CELL {
                    sums[*cell as usize] += v;
                }
            }
        }
        for (s, w) in sums.iter_mut().zip(&self.weight) {
            *s = if *w > 0.0 { *s / w } else { 0.0 };
        }
        Thumb {
            width: self.width,
            height: self.height,
            cells: sums,
        }
    }
}

/// Interpolates samples `row`, read from (x, y) on, towards their right and
/// lower neighbours by shares `fx` and `fy` of a pixel.
fn blend(
    frame: &LumaFrame<'_>,
    (x, y): (usize, usize),
    step: usize,
    [fx, fy]: [f32; 2],
    row: &mut [f32],
    corner: &mut Vec<f32>,
) {
    row.iter_mut().for_each(|v| *v *= (1.0 - fx) * (1.0 - fy));
    corner.resize(row.len(), 0.0);
    let corners = [
        (1, 0, fx * (1.0 - fy)),
        (0, 1, (1.0 - fx) * fy),
        (1, 1, fx * fy),
    ];
    for (dx, dy, share) in corners.into_iter().filter(|c| c.2 > 0.0) {
        frame.every(y + dy, x + dx, step, corner);
        for (v, c) in row.iter_mut().zip(corner.iter()) {
            *v += share * c;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::Depth;
    use crate::units::StoredTime;

    fn frame(samples: &[u8], width: usize) -> LumaFrame<'_> {
        LumaFrame {
            time: StoredTime(0.0),
            size: (width, samples.len() / width),
            samples: Depth::Eight(samples),
            stride: width,
            levels: (0.0, 255.0),
            key: false,
            chroma: None,
        }
    }

    #[test]
    fn a_map_that_follows_by_whole_pixels_sees_what_it_saw() {
        let (w, h) = (64usize, 48usize);
        let picture = |dx: usize, dy: usize| -> Vec<u8> {
            let at = |i: usize| (i % w + 40 - dx, i / w + 40 - dy);
            let value = |(x, y): (usize, usize)| ((x * 37 + y * 91 + x * y) % 200) as u8;
            (0..w * h).map(|i| value(at(i))).collect()
        };
        let map = ThumbMap::new(&Quad::rect(10.2, 8.0, 50.7, 40.0), (w, h), 8, 6).unwrap();
        let mut row = Vec::new();
        let still = map.of(&frame(&picture(0, 0), w), &mut row);
        let followed = map.of_moved(&frame(&picture(3, 5), w), [3.0, 5.0], &mut row);
        assert_eq!(still, followed);
        // At the picture's rim the map stays inside.
        let _ = map.of_moved(&frame(&picture(0, 0), w), [500.0, -500.5], &mut row);
    }

    /// On an even slope interpolation is exact.
    #[test]
    fn fractions_of_a_pixel_are_interpolated() {
        let (w, h) = (64usize, 48usize);
        let slope: Vec<u8> = (0..w * h).map(|i| (2 * (i % w) + (i / w)) as u8).collect();
        let map = ThumbMap::new(&Quad::rect(10.0, 8.0, 42.0, 32.0), (w, h), 8, 6).unwrap();
        let mut row = Vec::new();
        let still = map.of(&frame(&slope, w), &mut row);
        let moved = map.of_moved(&frame(&slope, w), [3.5, -2.25], &mut row);
        for (a, b) in still.cells.iter().zip(&moved.cells) {
            assert!((b - a - (2.0 * 3.5 - 2.25) / 255.0).abs() < 1e-5);
        }
    }
}
