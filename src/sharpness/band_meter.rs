//! Energy by spatial frequency inside the autofocus area, frame by frame.
//!
//! In: luma frames (0..=1) and the area on the screen. Out: [`BandReading`] per
//! frame. The area is seen through a Hann window that is laid on the screen,
//! not on the film, so that clips framed differently look at the same part of
//! it in the same way. Frequencies are cycles per screen height for the same
//! reason.
//!
//! Defocus spreads light, not the code values that stand for it, so samples are
//! read as light. In code values a dark picture with bright detail grows
//! brighter as it blurs, and the disc's law fails by a third. Energies are
//! divided by the mean light squared: exposure cancels.
//!
//! Two frames that show the same picture differ by noise alone. The energy
//! that they have in common (their cross spectrum) is the picture's without
//! the noise's; it is read beside the energy of each frame.
//!
//! Failures: an area of too few film pixels ([`MeterError`]).

use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::across::Axis;
use super::meter::{FEWEST_PIXELS, MeterError};
use crate::clip::LumaFrame;
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx, whole_screen};
use crate::screen::Region;

/// Number of bands.
pub const BANDS: usize = 24;
/// Lower end of the first band, cycles per screen height. A blur of 50 ‰, the
/// largest a rig may ask for, leaves a third of the energy there.
const LOWEST: f64 = 10.0;
/// Upper end of the last band. A blur of 1 ‰ takes a seventh of the energy there.
const HIGHEST: f64 = 250.0;
/// Periods that the lowest usable frequency has within the area: below, the
/// window's own width (two periods to either side) hides what is blur.
const FEWEST_PERIODS: f64 = 3.0;
/// Largest frequency, cycles per film pixel: the film's own transfer and its
/// chroma filters leave little above. Fitted on the independent clips, where
/// 0.26 doubles the errors at 3 ‰ and 0.47 changes nothing.
const FINEST: f64 = 0.4;
/// Of a moving target count frequencies whose part along its way is at most this
/// share of that across: a smear then takes a tenth of what it takes on the whole.
const ACROSS: f64 = 0.25;
/// Largest side of the area in cells; more film pixels than that are averaged.
/// Twice the highest frequency over the usual area, with room.
const MOST_CELLS: usize = 256;
/// Width over which a mask fades in, of the screen: sharp edges of a mask would
/// spread over all frequencies.
const FADE: f64 = 0.03;

/// What one frame's area says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandReading {
    /// Energy by band, ÷ mean light².
    pub own: [f32; BANDS],
    /// Energy in common with the frame before, ÷ the means of both; `None`
    /// for the first frame, and where the area has moved in between.
    pub common: Option<[f32; BANDS]>,
}

/// Reads one area, frame after frame.
pub struct BandMeter {
    plan: Arc<Plan>,
    cells: Vec<f32>,
    line: Vec<f32>,
    real: Vec<f32>,
    half: Vec<Complex<f32>>,
    columns: Vec<Complex<f32>>,
    before: Option<(Vec<Complex<f32>>, f32)>,
    values: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

/// Everything that is the same for all frames.
struct Plan {
    region: Region,
    cell: usize,
    size: (usize, usize),
    window: Vec<f32>,
    window_sum: f32,
    padded: (usize, usize),
    rows: Arc<dyn RealToComplex<f32>>,
    column: Arc<dyn Fft<f32>>,
    /// Columns of the spectrum that hold any used frequency.
    columns: usize,
    bins: Vec<Bin>,
    frequencies: [f64; BANDS],
}

/// One frequency of the spectrum.
struct Bin {
    index: usize,
    band: usize,
    weight: f32,
}

impl BandMeter {
    /// A meter for `area` (fractions of the screen) less `masks`, on a screen
    /// that `to_picture` places in a stored picture of `size` px and that is
    /// `height_px` film pixels high.
    ///
    /// # Errors
    /// [`MeterError`] where the area holds too few pixels for a single band.
    pub fn new(
        area: [f64; 4],
        masks: &[[f64; 4]],
        to_picture: &Homography<ScreenFrac, StoredPx>,
        size: (usize, usize),
        height_px: f64,
        way: Option<Axis>,
    ) -> Result<Self, MeterError> {
        let region = Region::on_screen(area, masks, to_picture, size);
        let too_small = MeterError {
            pixels: region.count(),
            width: region.width,
            height: region.height,
        };
        if region.count() < FEWEST_PIXELS {
            return Err(too_small);
        }
        let plan = Plan::new(region, area, masks, to_picture, (height_px, way)).ok_or(too_small)?;
        Ok(Self::of(Arc::new(plan)))
    }

    /// Another meter for the same area that has read nothing yet.
    #[must_use]
    pub fn fresh(&self) -> Self {
        Self::of(Arc::clone(&self.plan))
    }

    fn of(plan: Arc<Plan>) -> Self {
        let (w, h) = plan.padded;
        let zero = Complex::new(0.0, 0.0);
        Self {
            cells: vec![0.0; plan.size.0 * plan.size.1],
            line: vec![0.0; plan.region.width],
            real: vec![0.0; w],
            half: vec![zero; w / 2 + 1],
            columns: vec![zero; plan.columns * h],
            before: None,
            values: Vec::with_capacity(plan.bins.len()),
            scratch: vec![zero; plan.column.get_inplace_scratch_len()],
            plan,
        }
    }

    /// Mean frequency of every band, cycles per screen height; 0 for bands
    /// that this area and film do not tell.
    #[must_use]
    pub fn frequencies(&self) -> [f64; BANDS] {
        self.plan.frequencies
    }

    /// Reads one frame with the area moved by (x, y) px; `compare`: whether it
    /// may be set against the frame before. Frames come in order.
    pub fn read(&mut self, frame: &LumaFrame<'_>, shift: (i16, i16), compare: bool) -> BandReading {
        let mean = self.gather(frame, shift).max(1e-3);
        self.transform(mean);
        let plan = &self.plan;
        let grid = &self.columns;
        self.values.clear();
        self.values.extend(plan.bins.iter().map(|b| grid[b.index]));
        let mut own = [0.0; BANDS];
        for (bin, v) in plan.bins.iter().zip(&self.values) {
            own[bin.band] += bin.weight * v.norm_sqr();
        }
        let common = self.before.as_ref().filter(|_| compare).map(|(old, m)| {
            let mut out = [0.0; BANDS];
            for ((bin, v), o) in plan.bins.iter().zip(&self.values).zip(old) {
                out[bin.band] += bin.weight * (v.re * o.re + v.im * o.im);
            }
            out.map(|e| e / (mean * m))
        });
        let old = self.before.take().map(|b| b.0).unwrap_or_default();
        self.before = Some((std::mem::replace(&mut self.values, old), mean));
        BandReading {
            own: own.map(|e| e / (mean * mean)),
            common,
        }
    }

    /// Fills the cells; gives the windowed mean light.
    fn gather(&mut self, frame: &LumaFrame<'_>, shift: (i16, i16)) -> f32 {
        let plan = &self.plan;
        let ((x0, y0), _) = plan.region.moved(shift, frame.size);
        let ((w, h), n) = (plan.size, plan.cell);
        self.cells.fill(0.0);
        for y in 0..h * n {
            frame.row(y0 + y, x0, &mut self.line);
            for v in &mut self.line {
                *v = light(*v);
            }
            let cells = &mut self.cells[y / n * w..(y / n + 1) * w];
            if n == 1 {
                cells.copy_from_slice(&self.line[..w]);
                continue;
            }
            for (c, pixels) in cells.iter_mut().zip(self.line.chunks_exact(n)) {
                *c += pixels.iter().sum::<f32>();
            }
        }
        #[allow(clippy::cast_precision_loss)]
        let share = 1.0 / (n * n) as f32;
        let mut sum = 0.0;
        for (c, w) in self.cells.iter_mut().zip(&plan.window) {
            *c *= share;
            sum += *c * w;
        }
        sum / plan.window_sum
    }

    /// The spectrum of the windowed cells, column by column.
    fn transform(&mut self, mean: f32) {
        let plan = &self.plan;
        let ((w, h), (_, padded_h)) = (plan.size, plan.padded);
        self.columns.fill(Complex::new(0.0, 0.0));
        for y in 0..h {
            self.real.fill(0.0);
            let row = y * w..(y + 1) * w;
            let cells = self.cells[row.clone()].iter().zip(&plan.window[row]);
            for (r, (c, win)) in self.real.iter_mut().zip(cells) {
                *r = (c - mean) * win;
            }
            // Lengths are the plan's own, so this cannot fail.
            let _ = plan.rows.process(&mut self.real, &mut self.half);
            for (x, v) in self.half[..plan.columns].iter().enumerate() {
                self.columns[x * padded_h + y] = *v;
            }
        }
        plan.column
            .process_with_scratch(&mut self.columns, &mut self.scratch);
    }
}

impl Plan {
    fn new(
        region: Region,
        area: [f64; 4],
        masks: &[[f64; 4]],
        to_picture: &Homography<ScreenFrac, StoredPx>,
        (height_px, way): (f64, Option<Axis>),
    ) -> Option<Self> {
        let cell = region.width.max(region.height).div_ceil(MOST_CELLS).max(1);
        let size = (region.width / cell, region.height / cell);
        let window = window(&region, cell, size, area, masks, to_picture)?;
        let padded = (even(smooth(size.0)), smooth(size.1));
        // By Parseval the bands of a picture then add up to its variance.
        #[allow(clippy::cast_precision_loss)]
        let energy = window.iter().map(|w| w * w).sum::<f32>() * (padded.0 * padded.1) as f32;
        let lowest = lowest(area);
        let mut bins = Vec::new();
        let (mut weights, mut squares) = ([0.0; BANDS], [0.0; BANDS]);
        let mut columns = 0;
        for x in 0..=padded.0 / 2 {
            for y in 0..padded.1 {
                let f = frequency((x, y), padded, cell);
                let cph = f * height_px;
                let Some(band) = band(cph)
                    .filter(|_| f <= FINEST && cph >= lowest && counts(way, (x, y), padded))
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
                    weight: weight / energy,
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

/// A luma sample as light, white = 1: its square, near enough to the usual tone
/// curves (powers of 1.9 to 2.4).
fn light(luma: f32) -> f32 {
    let luma = luma.max(0.0);
    luma * luma
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
    #[allow(clippy::cast_precision_loss)]
    let place = (cph / LOWEST).ln() / (HIGHEST / LOWEST).ln() * BANDS as f64;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    (place >= 0.0 && place < BANDS as f64).then_some(place as usize)
}

/// Cycles per film pixel at a place of the spectrum.
#[allow(clippy::cast_precision_loss)]
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
            #[allow(clippy::cast_precision_loss)]
            let place = |from: usize, k: usize| from as f64 + (k as f64 + 0.5) * cell as f64;
            let p = back.apply(Point::new(place(region.x0, x), place(region.y0, y)));
            let open: f64 = masks.iter().map(|m| beside(m, p.x, p.y)).product();
            let along = hann((p.x - area[0]) / (area[2] - area[0]));
            let down = hann((p.y - area[1]) / (area[3] - area[1]));
            #[allow(clippy::cast_possible_truncation)]
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

#[cfg(test)]
mod tests;
