//! A small picture, and where another shows the same.
//!
//! Two pictures show the same target where the normalised cross-correlation of
//! their brightness comes near 1 (Lewis 1995, Fast normalized cross-correlation,
//! Vision Interface; from memory). It is looked for over small moves and over
//! scale, because a lens that focuses elsewhere shows the target larger or smaller.

use crate::clip::LumaFrame;

/// Height of a small picture, px.
const HIGH: usize = 96;
/// Farthest move that is looked for, share of the picture's height.
const FARTHEST: f64 = 0.1;
/// Scales that are looked for, each 4.5 % from the next: to a quarter larger or
/// smaller, more than any lens breathes.
const SCALES: [f64; 11] = [
    1.0, 0.955, 1.045, 0.915, 1.09, 0.875, 1.14, 0.84, 1.19, 0.8, 1.25,
];
/// Smallest side of what is compared, px of the small picture.
const LEAST_SIDE: f64 = 40.0;
/// Likeness at which no other place is tried.
const PLAIN: f64 = 0.9;
/// Moves tried first, px of the small picture.
const NEAR: i32 = 2;
/// Step by which the scale is then made finer: half a cell at the edge of what is
/// compared.
const FINE: f64 = 0.011;
/// Most such steps: half way to the next scale, and one more.
const MOST_STEPS: usize = 3;

/// A picture reduced to 96 px of height.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Thumb {
    width: usize,
    cells: Vec<f32>,
}

/// How a picture lies against another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Placed {
    /// Correlation there, -1..=1.
    pub likeness: f64,
    /// Size of what is shown, against the other.
    pub scale: f64,
    /// Move to the right and down, share of the picture's height.
    pub shift: (f64, f64),
}

impl Placed {
    /// Where nothing has moved.
    pub const STILL: Self = Self {
        likeness: 1.0,
        scale: 1.0,
        shift: (0.0, 0.0),
    };

    /// The more alike of two, this one where they are equal.
    fn or(self, other: Self) -> Self {
        if other.likeness > self.likeness {
            other
        } else {
            self
        }
    }
}

impl Thumb {
    /// Reduces a picture: means over cells.
    pub fn of(frame: &LumaFrame<'_>) -> Self {
        let (w, h) = frame.size;
        let width = ((HIGH * w) as f64 / h.max(1) as f64).round().max(1.0) as usize;
        let mut sums = vec![(0.0f32, 0u32); width * HIGH];
        let mut line = vec![0.0; w];
        for y in 0..h {
            frame.row(y, 0, &mut line);
            let row = &mut sums[y * HIGH / h * width..][..width];
            for (x, v) in line.iter().enumerate() {
                let cell = &mut row[x * width / w];
                *cell = (cell.0 + v, cell.1 + 1);
            }
        }
        Self {
            width,
            cells: sums.iter().map(|(s, n)| s / (*n).max(1) as f32).collect(),
        }
    }

    /// Where `other` shows what this one shows around `area` (left, top, right,
    /// bottom; fractions of the picture).
    pub fn found_in(&self, other: &Self, area: [f64; 4]) -> Placed {
        let part = self.around(area);
        let far = (FARTHEST * HIGH as f64) as i32;
        let mut found = self.best(other, &part, &SCALES[..1], (0, 0), NEAR);
        if found.likeness < PLAIN {
            found = found.or(self.best(other, &part, &SCALES, (0, 0), far));
        }
        for _ in 0..MOST_STEPS {
            let by = |share: f64| (share * HIGH as f64).round() as i32;
            let around = (by(found.shift.0), by(found.shift.1));
            let scales = [found.scale * (1.0 - FINE), found.scale * (1.0 + FINE)];
            let finer = found.or(self.best(other, &part, &scales, around, 1));
            if finer == found {
                break;
            }
            found = finer;
        }
        found
    }

    /// Centre and half sides of what is compared, px.
    fn around(&self, area: [f64; 4]) -> [f64; 4] {
        let (w, h) = (self.width as f64, HIGH as f64);
        let half = |low: f64, high: f64, side: f64| {
            ((high - low) * side / 2.0)
                .max(LEAST_SIDE / 2.0)
                .min(side / 2.0)
        };
        let (a, b) = (half(area[0], area[2], w), half(area[1], area[3], h));
        let middle = |low: f64, high: f64, side: f64, half: f64| {
            (f64::midpoint(low, high) * side).clamp(half, side - half)
        };
        [
            middle(area[0], area[2], w, a),
            middle(area[1], area[3], h, b),
            a,
            b,
        ]
    }

    /// The best place at some scales, at most `far` px from a move.
    fn best(
        &self,
        other: &Self,
        part: &[f64; 4],
        scales: &[f64],
        around: (i32, i32),
        far: i32,
    ) -> Placed {
        let mut best = Placed {
            likeness: -1.0,
            ..Placed::STILL
        };
        for scale in scales {
            let patch = self.patch(part, *scale);
            for dy in around.1 - far..=around.1 + far {
                for dx in around.0 - far..=around.0 + far {
                    let likeness = patch.likeness(other, (dx, dy)).unwrap_or(-1.0);
                    if likeness > best.likeness {
                        let share = |d: i32| f64::from(d) / HIGH as f64;
                        best = Placed {
                            likeness,
                            scale: *scale,
                            shift: (share(dx), share(dy)),
                        };
                    }
                }
            }
        }
        best
    }

    /// The part at a scale, its mean taken off.
    fn patch(&self, [cx, cy, a, b]: &[f64; 4], scale: f64) -> Patch {
        let (wide, high) = ((2.0 * a * scale) as usize, (2.0 * b * scale) as usize);
        let (left, top) = (cx - wide as f64 / 2.0, cy - high as f64 / 2.0);
        let mut cells = Vec::with_capacity(wide * high);
        for y in 0..high {
            for x in 0..wide {
                let at = |k: usize, from: f64, middle: f64| {
                    middle + (from + k as f64 + 0.5 - middle) / scale - 0.5
                };
                cells.push(self.between(at(x, left, *cx), at(y, top, *cy)));
            }
        }
        let mean = cells.iter().sum::<f32>() / cells.len().max(1) as f32;
        cells.iter_mut().for_each(|c| *c -= mean);
        Patch {
            at: (left.round() as i32, top.round() as i32),
            wide,
            high,
            cells,
        }
    }

    /// The brightness between four cells.
    fn between(&self, x: f64, y: f64) -> f32 {
        let cell = |x: f64, y: f64| {
            let column = x.clamp(0.0, (self.width - 1) as f64) as usize;
            let row = y.clamp(0.0, (HIGH - 1) as f64) as usize;
            self.cells[row * self.width + column]
        };
        let (fx, fy) = ((x - x.floor()) as f32, (y - y.floor()) as f32);
        let row = |y: f64| cell(x.floor(), y) * (1.0 - fx) + cell(x.floor() + 1.0, y) * fx;
        row(y.floor()) * (1.0 - fy) + row(y.floor() + 1.0) * fy
    }
}

/// A part of a small picture, mean nought.
struct Patch {
    at: (i32, i32),
    wide: usize,
    high: usize,
    cells: Vec<f32>,
}

impl Patch {
    /// Correlation with what lies under it after a move; `None` where it would
    /// leave the picture, or either is flat.
    fn likeness(&self, other: &Thumb, by: (i32, i32)) -> Option<f64> {
        let x0 = usize::try_from(self.at.0 + by.0).ok()?;
        let y0 = usize::try_from(self.at.1 + by.1).ok()?;
        if x0 + self.wide > other.width || y0 + self.high > HIGH {
            return None;
        }
        let (mut sum, mut squares, mut both, mut own) = (0.0f64, 0.0f64, 0.0f64, 0.0f64);
        for y in 0..self.high {
            let there = &other.cells[(y0 + y) * other.width + x0..][..self.wide];
            for (p, v) in self.cells[y * self.wide..].iter().zip(there) {
                let (p, v) = (f64::from(*p), f64::from(*v));
                sum += v;
                squares += v * v;
                both += p * v;
                own += p * p;
            }
        }
        let spread = squares - sum * sum / self.cells.len().max(1) as f64;
        let size = (own * spread.max(0.0)).sqrt();
        (size > 1e-9).then(|| both / size)
    }
}
