//! What is the same for all frames of an area: its window, and which places of
//! the spectrum belong to which band.

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner};

use super::{BANDS, Grain};
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx, whole_screen};
use crate::screen::Region;
use crate::sharpness::across::Axis;

/// Lower end of the first band, cycles per screen height. A blur of 50 ‰, the
/// largest a rig may ask for, leaves half of the energy there.
const LOWEST: f64 = 10.0;
/// Upper end of the last band. A blur of 1 ‰ takes a seventh of the energy there.
pub(super) const HIGHEST: f64 = 250.0;
/// Periods that the lowest usable frequency has within the area: below, the
/// window's own width (two periods to either side) hides what is blur.
const FEWEST_PERIODS: f64 = 3.0;
/// Largest frequency, cycles per film pixel: the film's own transfer and its
/// chroma filters leave little above. Fitted on the independent clips, where
/// 0.26 doubles the errors at 3 ‰ and 0.47 changes nothing.
pub(super) const FINEST: f64 = 0.4;
/// Of a moving target count frequencies whose part along its way is at most this
/// share of that across: a smear then takes a tenth of what it takes on the whole.
const ACROSS: f64 = 0.25;
/// Largest side of the area in cells; more film pixels than that are averaged.
/// Twice the highest frequency over the usual area, with room.
pub(super) const MOST_CELLS: usize = 256;
/// Width over which a mask fades in, of the screen: sharp edges of a mask would
/// spread over all frequencies.
const FADE: f64 = 0.03;

/// Everything that is the same for all frames.
pub(super) struct Plan {
    pub region: Region,
    pub cell: usize,
    pub size: (usize, usize),
    pub window: Vec<f32>,
    pub window_sum: f32,
    pub padded: (usize, usize),
    pub rows: Arc<dyn RealToComplex<f32>>,
    pub column: Arc<dyn Fft<f32>>,
    /// Columns of the spectrum that hold any used frequency.
    pub columns: usize,
    pub bins: Vec<Bin>,
    pub frequencies: [f64; BANDS],
}

/// One frequency of the spectrum.
pub(super) struct Bin {
    pub index: usize,
    pub band: usize,
    pub weight: f32,
}

impl Plan {
    pub fn new(
        region: Region,
        area: [f64; 4],
        masks: &[[f64; 4]],
        to_picture: &Homography<ScreenFrac, StoredPx>,
        grain: &Grain,
    ) -> Option<Self> {
        let Grain { height_px, way, .. } = *grain;
        let cell = region.width.max(region.height).div_ceil(grain.most_cells);
        let cell = cell.max(1);
        let size = (region.width / cell, region.height / cell);
        let window = window(&region, cell, size, area, masks, to_picture)?;
        let padded = (even(smooth(size.0)), smooth(size.1));
        // By Parseval the bands of a picture then add up to its variance.
        let energy = window.iter().map(|w| w * w).sum::<f32>() * (padded.0 * padded.1) as f32;
        let lowest = lowest(area);
        // Cells of several pixels show nothing finer than they are.
        let finest = grain.finest / cell as f64;
        let mut bins = Vec::new();
        let (mut weights, mut squares) = ([0.0; BANDS], [0.0; BANDS]);
        let mut columns = 0;
        for x in 0..=padded.0 / 2 {
            for y in 0..padded.1 {
                let f = frequency((x, y), padded, cell);
                let cph = f * height_px;
                let Some(band) = band(cph)
                    .filter(|_| f <= finest && cph >= lowest && counts(way, (x, y), padded))
                else {
                    continue;
                };
                let weight = if x == 0 || 2 * x == padded.0 {
                    1.0
                } else {
                    2.0
                };
                bins.push(Bin {
                    index: x * padded.1 + y,
                    band,
                    weight: weight / energy / kept((x, y), padded, cell),
                });
                weights[band] += f64::from(weight);
                squares[band] += f64::from(weight) * cph * cph;
                columns = columns.max(x + 1);
            }
        }
        let mut frequencies = [0.0; BANDS];
        for (f, (s, w)) in frequencies.iter_mut().zip(squares.iter().zip(weights)) {
            if w > 0.0 {
                *f = (s / w).sqrt();
            }
        }
        (columns > 0).then(|| Self {
            window_sum: window.iter().sum(),
            rows: RealFftPlanner::new().plan_fft_forward(padded.0),
            column: FftPlanner::new().plan_fft_forward(padded.1),
            region,
            cell,
            size,
            window,
            padded,
            columns,
            bins,
            frequencies,
        })
    }
}

/// Whether a place of the spectrum counts for a target that goes on moving along
/// `way`: its smear takes what changes along it and keeps what changes across.
fn counts(way: Option<Axis>, at: (usize, usize), padded: (usize, usize)) -> bool {
    let along_rows = frequency((at.0, 0), padded, 1);
    let along_columns = frequency((0, at.1), padded, 1);
    match way {
        None => true,
        Some(Axis::Rows) => along_rows <= ACROSS * along_columns,
        Some(Axis::Columns) => along_columns <= ACROSS * along_rows,
    }
}

/// Lowest frequency that an area tells, cycles per screen height.
fn lowest(area: [f64; 4]) -> f64 {
    let side = (area[2] - area[0]).min(area[3] - area[1]);
    (FEWEST_PERIODS / side).max(LOWEST)
}

/// The band of a frequency, cycles per screen height; all bands are as wide,
/// as a ratio.
fn band(cph: f64) -> Option<usize> {
    let place = (cph / LOWEST).ln() / (HIGHEST / LOWEST).ln() * BANDS as f64;
    (place >= 0.0 && place < BANDS as f64).then_some(place as usize)
}

/// Cycles per film pixel at a place of the spectrum.
fn frequency(at: (usize, usize), padded: (usize, usize), cell: usize) -> f64 {
    let y = at.1.min(padded.1 - at.1) as f64 / padded.1 as f64;
    (at.0 as f64 / padded.0 as f64).hypot(y) / cell as f64
}

/// A Hann window laid over the area on the screen, nought outside it and under
/// masks. `None` where nothing is left.
fn window(
    region: &Region,
    cell: usize,
    size: (usize, usize),
    area: [f64; 4],
    masks: &[[f64; 4]],
    to_picture: &Homography<ScreenFrac, StoredPx>,
) -> Option<Vec<f32>> {
    let placed: Quad<StoredPx> = to_picture.apply_quad(&whole_screen());
    let back: Homography<StoredPx, ScreenFrac> = Homography::between(&placed, &whole_screen())?;
    let mut out = Vec::with_capacity(size.0 * size.1);
    for y in 0..size.1 {
        for x in 0..size.0 {
            let place = |from: usize, k: usize| from as f64 + (k as f64 + 0.5) * cell as f64;
            let p = back.apply(Point::new(place(region.x0, x), place(region.y0, y)));
            let open: f64 = masks.iter().map(|m| beside(m, p.x, p.y)).product();
            let along = hann((p.x - area[0]) / (area[2] - area[0]));
            let down = hann((p.y - area[1]) / (area[3] - area[1]));
            out.push((along * down * open) as f32);
        }
    }
    (out.iter().sum::<f32>() > 0.0).then_some(out)
}

/// The Hann window at a share of its length.
fn hann(share: f64) -> f64 {
    if (0.0..=1.0).contains(&share) {
        (std::f64::consts::PI * share).sin().powi(2)
    } else {
        0.0
    }
}

/// 0 under a mask, rising to 1 within [`FADE`] beside it.
fn beside(mask: &[f64; 4], x: f64, y: f64) -> f64 {
    let out = |low: f64, v: f64, high: f64| (low - v).max(v - high).max(0.0);
    let away = out(mask[0], x, mask[2]).hypot(out(mask[1], y, mask[3]));
    let share = (away / FADE).min(1.0);
    share * share * (3.0 - 2.0 * share)
}

/// The next length whose only prime factors are 2, 3 and 5.
fn smooth(n: usize) -> usize {
    let is_smooth = |mut k: usize| {
        for p in [2, 3, 5] {
            while k.is_multiple_of(p) {
                k /= p;
            }
        }
        k == 1
    };
    (n.max(1)..).find(|k| is_smooth(*k)).unwrap_or(n)
}

fn even(n: usize) -> usize {
    (n..)
        .find(|k| k.is_multiple_of(2) && smooth(*k) == *k)
        .unwrap_or(n)
}

/// The energy that averaging film pixels to cells leaves at a place of the
/// spectrum: the square of a box's transfer, along and across.
fn kept(at: (usize, usize), padded: (usize, usize), cell: usize) -> f32 {
    let box_of = |f: f64| {
        let (wide, narrow) = (
            std::f64::consts::PI * f * cell as f64,
            std::f64::consts::PI * f,
        );
        if narrow < 1e-9 {
            return 1.0;
        }
        wide.sin() / (cell as f64 * narrow.sin())
    };
    let across = box_of(frequency((at.0, 0), padded, cell));
    let along = box_of(frequency((0, at.1), padded, cell));
    (across * along).powi(2) as f32
}
