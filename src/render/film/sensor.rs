//! Tone curve, noise and levels of the filming camera.
//!
//! Code value c(L) = ((L + a)^(1/γ) − a^(1/γ)) ÷ ((1 + a)^(1/γ) − a^(1/γ)) for
//! linear luminance L, a = 0.01 (a finite slope at black). Noise: read noise
//! and shot noise √(L ÷ full well), carried to code values by the slope of c.

use rand::RngExt;

use crate::render::rng::{self, Use, normal};
use crate::render::scene::Scene;

/// Lifts the tone curve off its infinite slope at black.
const TOE: f64 = 0.01;
/// Steps of the look-up table over 0..=`HEADROOM` of linear luminance.
const STEPS: usize = 1 << 14;
const HEADROOM: f64 = 1.25;
/// Normal numbers kept for noise.
const NORMALS: usize = 1 << 18;

/// One luma plane as the encoder takes it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Samples {
    Eight(Vec<u8>),
    Sixteen(Vec<u16>),
}

/// From linear luminance to noisy samples.
pub(crate) struct Sensor {
    /// Code value (in samples) and noise (in samples) per step.
    table: Vec<(f32, f32)>,
    normals: Vec<f32>,
    depth: u8,
    seed: u64,
}

/// Black and white in samples.
pub(crate) fn levels(depth: u8, full_range: bool) -> (f32, f32) {
    match (depth, full_range) {
        (8, false) => (16.0, 235.0),
        (8, true) => (0.0, 255.0),
        (_, false) => (64.0, 940.0),
        (_, true) => (0.0, 1023.0),
    }
}

impl Sensor {
    pub(crate) fn new(scene: &Scene) -> Self {
        let film = &scene.film;
        let (black, white) = levels(scene.container.depth, scene.container.full_range);
        let span = f64::from(white - black);
        let power = 1.0 / film.gamma;
        let zero = TOE.powf(power);
        let scale = 1.0 / ((1.0 + TOE).powf(power) - zero);
        let table = (0..STEPS)
            .map(|i| {
                let light = i as f64 / (STEPS - 1) as f64 * HEADROOM;
                let code = ((light + TOE).powf(power) - zero) * scale;
                let slope = power * (light + TOE).powf(power - 1.0) * scale;
                let mut variance = film.read_noise.powi(2);
                if film.full_well > 0.0 {
                    variance += light / film.full_well;
                }
                let (mean, noise) = (span * code, slope * variance.sqrt());
                ((f64::from(black) + mean) as f32, (span * noise) as f32)
            })
            .collect();
        let mut rng = rng::stream(scene.seed, Use::Noise);
        Self {
            table,
            normals: (0..NORMALS).map(|_| normal(&mut rng) as f32).collect(),
            depth: scene.container.depth,
            seed: scene.seed,
        }
    }

    /// Mean sample and its noise for a linear luminance.
    #[inline]
    pub(crate) fn expose(&self, light: f32) -> (f32, f32) {
        let step = light * ((STEPS - 1) as f32 / HEADROOM as f32) + 0.5;
        self.table[(step.max(0.0) as usize).min(STEPS - 1)]
    }

    /// Draws the samples of one frame; `mean` and `noise` have rows of `w`.
    pub(crate) fn sample(&self, mean: &[f32], noise: &[f32], w: usize, frame: u64) -> Samples {
        self.draw(w, mean.len(), frame, |y, normals, put| {
            let row = y * w..(y + 1) * w;
            let rows = mean[row.clone()].iter().zip(&noise[row]);
            for ((mean, noise), normal) in rows.zip(normals) {
                put(mean + noise * normal + 0.5);
            }
        })
    }

    /// Exposes linear luminances (rows of `w`) with a gain and draws the samples.
    pub(crate) fn shoot(&self, light: &[f32], w: usize, gain: f32, frame: u64) -> Samples {
        self.draw(w, light.len(), frame, |y, normals, put| {
            for (v, normal) in light[y * w..(y + 1) * w].iter().zip(normals) {
                let (mean, noise) = self.expose(v * gain);
                put(mean + noise * normal + 0.5);
            }
        })
    }

    /// Collects what `row` puts, row by row, each with its own noise.
    fn draw(
        &self,
        w: usize,
        count: usize,
        frame: u64,
        row: impl Fn(usize, &[f32], &mut dyn FnMut(f32)),
    ) -> Samples {
        let own = frame.wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let mut rng = rng::stream(self.seed ^ own, Use::Rows);
        let mut normals = || {
            let start = rng.random_range(0..NORMALS - w);
            &self.normals[start..start + w]
        };
        // A float turns into an integer by cutting and saturates at the ends.
        let (mut eight, mut sixteen) = (Vec::new(), Vec::new());
        for y in 0..count / w {
            match self.depth {
                8 => row(y, normals(), &mut |v| eight.push(v as u8)),
                _ => row(y, normals(), &mut |v| sixteen.push((v as u16).min(1023))),
            }
        }
        match self.depth {
            8 => Samples::Eight(eight),
            _ => Samples::Sixteen(sixteen),
        }
    }
}
