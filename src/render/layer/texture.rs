//! Procedural textures: periodic pictures with zero mean and unit deviation.

use rand::{Rng, RngExt};
use rustfft::num_complex::Complex32;

use super::fft2::{Fft2, frequency};
use crate::render::rng::normal;
use crate::render::scene::Texture;

/// A `w`×`h` texture; `unit` is the screen's height in pixels × scale, so that
/// details keep their size on the screen whatever the canvas.
pub(super) fn make(
    kind: Texture,
    (w, h): (usize, usize),
    unit: f64,
    rng: &mut impl Rng,
) -> Vec<f32> {
    let mut out = match kind {
        Texture::Flat => return vec![0.0; w * h],
        Texture::Noise => noise((w, h), unit, rng),
        Texture::Leaves => leaves((w, h), unit, rng),
        Texture::Strokes => strokes((w, h), unit, rng),
    };
    normalise(&mut out);
    out
}

/// Takes the mean out and scales to unit deviation.
pub(super) fn normalise(values: &mut [f32]) {
    let n = values.len() as f64;
    let wide = || values.iter().map(|v| f64::from(*v));
    let mean = wide().sum::<f64>() / n;
    let var = wide().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    let scale = if var > 0.0 { 1.0 / var.sqrt() } else { 0.0 };
    for v in values {
        *v = ((f64::from(*v) - mean) * scale) as f32;
    }
}

/// Amplitude 1/f from 4 cycles per screen height up to the pixel grid (the
/// law of natural scenes: Field 1987, J. Opt. Soc. Am. A 4, 2379).
fn noise((w, h): (usize, usize), unit: f64, rng: &mut impl Rng) -> Vec<f32> {
    let fft = Fft2::new(w, h);
    let low = 4.0 / unit as f32;
    let mut spectrum = vec![Complex32::default(); w * h];
    for (i, column) in spectrum.chunks_exact_mut(h).enumerate() {
        let fx = frequency(i, w);
        for (j, value) in column.iter_mut().enumerate() {
            let f = fx.hypot(frequency(j, h));
            let draw = Complex32::new(normal(rng) as f32, normal(rng) as f32);
            if f > 0.0 {
                *value = draw / f.max(low);
            }
        }
    }
    let mut out = Vec::new();
    fft.inverse(&mut spectrum, &mut out);
    out.iter().map(|v| v.re).collect()
}

/// Overlapping discs, number ∝ radius⁻³: "dead leaves" (Lee, Mumford and
/// Huang 2001, Int. J. Comput. Vision 41, 35).
fn leaves((w, h): (usize, usize), unit: f64, rng: &mut impl Rng) -> Vec<f32> {
    let (small, big) = ((0.009 * unit).max(1.2), 0.11 * unit);
    let mut out = vec![0.5; w * h];
    let mut covered = 0.0;
    while covered < 5.0 * (w * h) as f64 {
        // Inverse of the cumulative of r⁻³ between `small` and `big`.
        let u = rng.random::<f64>();
        let r = (small.powi(-2) + u * (big.powi(-2) - small.powi(-2))).powf(-0.5);
        let tone = rng.random::<f32>();
        let mut place = |n: usize| rng.random::<f64>() * n as f64;
        let center = (place(w), place(h));
        blob(&mut out, (w, h), center, r, tone);
        covered += std::f64::consts::PI * r * r;
    }
    out
}

/// A disc with an edge one pixel soft, wrapped round the picture's sides.
fn blob(out: &mut [f32], (w, h): (usize, usize), (cx, cy): (f64, f64), r: f64, tone: f32) {
    let reach = (r + 1.0).ceil() as i64;
    for dy in -reach..=reach {
        let y = cy.floor() as i64 + dy;
        let row = y.rem_euclid(h as i64) as usize * w;
        for dx in -reach..=reach {
            let x = cx.floor() as i64 + dx;
            let distance = (x as f64 + 0.5 - cx).hypot(y as f64 + 0.5 - cy);
            let cover = (r + 0.5 - distance).clamp(0.0, 1.0) as f32;
            let at = row + x.rem_euclid(w as i64) as usize;
            out[at] += cover * (tone - out[at]);
        }
    }
}

/// Dark strokes in lines on a pale ground, like print.
fn strokes((w, h): (usize, usize), unit: f64, rng: &mut impl Rng) -> Vec<f32> {
    let pitch = (0.048 * unit).max(6.0);
    let lines = ((h as f64 / pitch).round() as usize).max(1);
    let pitch = h as f64 / lines as f64;
    let mut out = vec![1.0; w * h];
    for line in 0..lines {
        let middle = (line as f64 + 0.5) * pitch;
        let mut x = rng.random::<f64>() * pitch;
        while x < w as f64 {
            let glyph = pitch * (0.3 + 0.25 * rng.random::<f64>());
            for _ in 0..2 + (2.0 * rng.random::<f64>()) as usize {
                let mut end = || {
                    let dx = glyph * rng.random::<f64>();
                    (x + dx, middle + pitch * 0.56 * (rng.random::<f64>() - 0.5))
                };
                let (a, b) = (end(), end());
                stroke(&mut out, (w, h), a, b, (0.045 * pitch).max(0.5));
            }
            let word_ends = rng.random::<f64>() < 0.18;
            let gap = if word_ends { 0.55 } else { 0.14 };
            x += glyph + gap * pitch;
        }
    }
    out
}

fn stroke(out: &mut [f32], size: (usize, usize), a: (f64, f64), b: (f64, f64), r: f64) {
    let steps = ((a.0 - b.0).hypot(a.1 - b.1) / (0.5 * r)).ceil().max(1.0);
    for k in 0..=steps as usize {
        let s = k as f64 / steps;
        let p = (a.0 + s * (b.0 - a.0), a.1 + s * (b.1 - a.1));
        blob(out, size, p, r, 0.0);
    }
}
