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
//! brighter as it blurs, and the disc's law fails by more than a quarter. Energies are
//! divided by the mean light squared: exposure cancels.
//!
//! Two frames that show the same picture differ by noise alone. The energy
//! that they have in common (their cross spectrum) is the picture's without
//! the noise's; it is read beside the energy of each frame.
//!
//! Failures: an area of too few film pixels ([`MeterError`]).

mod plan;

use std::sync::Arc;

use rustfft::num_complex::Complex;

use super::across::Axis;
use super::meter::{FEWEST_PIXELS, MeterError};
use crate::clip::{LumaFrame, light};
use crate::geometry::{Homography, ScreenFrac, StoredPx};
use crate::screen::Region;
use plan::Plan;

/// Number of bands.
pub const BANDS: usize = 24;
/// Height at which a picture's bands end where its pixels do, px: of the highest
/// band the frequency in cycles per height, by that in cycles per pixel.
pub const EVEN_PX: f64 = plan::HIGHEST / plan::FINEST;

/// How finely an area is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grain {
    /// Height of the screen, px of the picture.
    pub height_px: f64,
    /// The way along which the subject goes on moving; bands then count what
    /// changes across it.
    pub way: Option<Axis>,
    /// Largest side in cells; more pixels than that are averaged.
    pub most_cells: usize,
    /// Largest frequency, cycles per pixel.
    pub finest: f64,
}

impl Grain {
    /// That of a film whose screen is so high.
    pub fn film(height_px: f64, way: Option<Axis>) -> Self {
        Self {
            height_px,
            way,
            most_cells: plan::MOST_CELLS,
            finest: plan::FINEST,
        }
    }

    /// That of a photograph, whose every pixel counts, `scale` times as large as
    /// the one that it is held against.
    pub fn photograph(scale: f64) -> Self {
        Self {
            height_px: EVEN_PX * scale,
            way: None,
            most_cells: usize::MAX,
            finest: plan::FINEST / scale,
        }
    }
}

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

impl BandMeter {
    /// A meter for `area` (fractions of the screen) less `masks`, on a screen
    /// that `to_picture` places in a stored picture of `size` px.
    ///
    /// # Errors
    /// [`MeterError`] where the area holds too few pixels for a single band.
    pub fn new(
        area: [f64; 4],
        masks: &[[f64; 4]],
        to_picture: &Homography<ScreenFrac, StoredPx>,
        size: (usize, usize),
        grain: &Grain,
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
        let plan = Plan::new(region, area, masks, to_picture, grain).ok_or(too_small)?;
        Ok(Self::of(Arc::new(plan)))
    }

    /// Another meter for the same area that has read nothing yet.
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

#[cfg(test)]
mod tests;
