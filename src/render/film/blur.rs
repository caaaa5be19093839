//! The filming camera out of focus: the whole frame through a disc.

use rustfft::num_complex::Complex32;

use super::shake::onsets;
use crate::render::layer::{DiscTable, Fft2, frequency, good_size};
use crate::render::plan::Plan;
use crate::render::scene::{Refocus, Scene};

/// When the filming camera is out of focus, and by how much.
pub(super) struct Lapse {
    refocus: Refocus,
    begins: Vec<f64>,
    size: (usize, usize),
    pad: usize,
    fft: Fft2,
    disc: DiscTable,
    work: Vec<Complex32>,
}

/// Blurs below this are none, px.
const LEAST_PX: f64 = 0.02;

impl Lapse {
    /// `None` where it holds its focus.
    pub(super) fn new(scene: &Scene, plan: &Plan) -> Option<Self> {
        let refocus = scene.film.refocus.clone();
        if refocus.blur_px <= LEAST_PX || scene.film.feed {
            return None;
        }
        let [w, h] = scene.film.size;
        let pad = (refocus.blur_px / 2.0).ceil() as usize + 2;
        Some(Self {
            begins: onsets(plan, &refocus.trials)
                .map(|t| t + refocus.at_ms / 1000.0)
                .collect(),
            size: (w, h),
            pad,
            fft: Fft2::new(good_size(w + 2 * pad), good_size(h + 2 * pad)),
            disc: DiscTable::new(refocus.blur_px * std::f64::consts::PI * 0.75 + 1.0),
            work: Vec::new(),
            refocus,
        })
    }

    /// Disc diameter at `t`, px; 0 where it is in focus.
    pub(super) fn px(&self, t: f64) -> f64 {
        let span = self.refocus.for_ms / 1000.0;
        let worst = self.begins.iter().map(|b| shape((t - b) / span));
        let px = self.refocus.blur_px * worst.fold(0.0, f64::max);
        if px > LEAST_PX { px } else { 0.0 }
    }

    /// Blurs a frame by a disc of `px`; its sides go on as they end.
    pub(super) fn blur(&mut self, light: &mut [f32], px: f64) {
        let ((w, h), pad) = (self.size, self.pad as i64);
        let (fw, fh) = (self.fft.w, self.fft.h);
        let inside = |i: usize, n: usize| (i as i64 - pad).clamp(0, n as i64 - 1) as usize;
        let mut data = Vec::with_capacity(fw * fh);
        for y in 0..fh {
            let row = &light[inside(y, h) * w..][..w];
            data.extend((0..fw).map(|x| Complex32::from(row[inside(x, w)])));
        }
        let mut spectrum = self.fft.forward(data);
        let slope = (std::f64::consts::PI * px) as f32;
        for (i, column) in spectrum.chunks_exact_mut(fh).enumerate() {
            let fx = frequency(i, fw);
            for (j, v) in column.iter_mut().enumerate() {
                *v *= self.disc.at(slope * fx.hypot(frequency(j, fh)));
            }
        }
        self.fft.inverse(&mut spectrum, &mut self.work);
        for (y, row) in light.chunks_exact_mut(w).enumerate() {
            let from = &self.work[(y + self.pad) * fw + self.pad..][..w];
            for (o, v) in row.iter_mut().zip(from) {
                *o = v.re;
            }
        }
    }
}

/// Out in a quarter of the time, half of it blurred, a quarter back.
fn shape(x: f64) -> f64 {
    let ramp = (4.0 * x.min(1.0 - x)).clamp(0.0, 1.0);
    (1.0 - (std::f64::consts::PI * ramp).cos()) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bright point becomes a disc: its light stays, its second moment is
    /// d²/16 per direction (a uniform disc of diameter d).
    #[test]
    fn a_point_becomes_a_disc() {
        let mut scene = Scene::default();
        scene.film.size = [96, 80];
        scene.film.refocus.blur_px = 9.0;
        let plan = Plan::new(&scene);
        let mut lapse = Lapse::new(&scene, &plan).unwrap();
        let mut light = vec![0.0; 96 * 80];
        light[40 * 96 + 48] = 1.0;
        lapse.blur(&mut light, 9.0);
        let (mut sum, mut moment) = (0.0, 0.0);
        for (i, v) in light.iter().enumerate() {
            let x = (i % 96) as f64 - 48.0;
            sum += f64::from(*v);
            moment += f64::from(*v) * x * x;
        }
        assert!((sum - 1.0).abs() < 1e-3, "{sum}");
        assert!((moment - 81.0 / 16.0).abs() < 0.1, "{moment}");
    }

    #[test]
    fn it_comes_and_goes() {
        assert_eq!((shape(-0.1), shape(0.5), shape(1.1)), (0.0, 1.0, 0.0));
        assert!((shape(0.125) - 0.5).abs() < 1e-12);
    }
}
