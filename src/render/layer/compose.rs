//! Makes the live view's pictures.
//!
//! out = blur(α·T) + (1 − blur(α))·blur(B), T the card, α its matte, B the
//! background. Both products with α are real, so one complex transform carries
//! them; two blurs of B, of two pictures, share another.

use std::path::Path;

use rustfft::num_complex::Complex32;

use super::disc::DiscTable;
use super::fft2::{Fft2, frequency, good_size};
use super::surface::{Canvas, surface};
use crate::render::RenderError;
use crate::render::rng::{self, Use};
use crate::render::scene::Scene;

/// What a live-view picture depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct State {
    /// Disc diameters in ‰ of the picture's height: card, background.
    pub blur: [f64; 2],
    /// Centre of the card, fractions of the picture.
    pub center: [f64; 2],
    /// How far it moves during the exposure, fractions of the picture.
    pub moved: [f64; 2],
    /// Of a focal stack: which photograph.
    pub shot: Option<usize>,
}

/// The largest values a clip will ask for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stage {
    /// Width and height of the picture, px.
    pub size: (usize, usize),
    /// Largest disc diameters, ‰.
    pub blur: [f64; 2],
    /// Largest way during an exposure, px.
    pub moved: f64,
}

/// A layer's spectrum and where it lies.
struct Spectrum {
    fft: Fft2,
    values: Vec<Complex32>,
    pad: usize,
}

/// Makes live-view pictures.
pub(crate) struct Composer {
    size: (usize, usize),
    near: Spectrum,
    far: Spectrum,
    table: DiscTable,
    /// The card without blur, for the direct view.
    pub card: Canvas,
}

/// Room left around a layer beyond the blur, px.
const MARGIN: usize = 4;
/// Room is made for at least this much blur (‰) and way (screen heights), so
/// that a layer looks the same in all clips that stay below.
const USUAL_PERMILLE: f64 = 80.0;
const USUAL_MOVE: f64 = 0.06;
/// Standard deviation of the pre-filter that keeps edges band-limited, px.
const PREFILTER: f32 = 0.55;

impl Composer {
    pub(crate) fn new(scene: &Scene, dir: &Path, stage: &Stage) -> Result<Self, RenderError> {
        let (w, h) = stage.size;
        let unit = h as f64;
        let reach =
            |permille: f64| (permille.max(USUAL_PERMILLE) * unit / 2000.0).ceil() as usize + MARGIN;
        let far_pad = reach(stage.blur[1]);
        let (fw, fh) = (good_size(w + 2 * far_pad), good_size(h + 2 * far_pad));
        let mut rng = rng::stream(scene.look(), Use::Far);
        let source = (dir, &scene.origin, "far.image");
        let back = surface(&scene.far, (fw, fh), unit, source, &mut rng)?;
        let moved = stage.moved.max(USUAL_MOVE * unit);
        let near_pad = reach(stage.blur[0]) + (moved / 2.0).ceil() as usize;
        let card = [scene.near.size[0] * w as f64, scene.near.size[1] * unit];
        let inner = card.map(|n| n.ceil() as usize + 1);
        let [nw, nh] = inner.map(|n| good_size(n + 2 * near_pad));
        let mut rng = rng::stream(scene.look(), Use::Near);
        let source = (dir, &scene.origin, "near.image");
        let face = surface(&scene.near.layer(), (nw, nh), unit, source, &mut rng)?;
        let packed = matte(&face, card);
        let back = back.values.iter().map(|v| (*v).into()).collect();
        let widest = stage.blur.iter().fold(0.0_f64, |a, b| a.max(*b)) * unit / 1000.0;
        Ok(Self {
            size: stage.size,
            near: spectrum(packed, (nw, nh), near_pad),
            far: spectrum(back, (fw, fh), far_pad),
            table: DiscTable::new(widest * std::f64::consts::PI * 0.75 + 1.0),
            card: crop(&face, card),
        })
    }

    /// Pictures of two states, linear luminance, row-major.
    pub(crate) fn pair(&self, states: [&State; 2]) -> [Vec<f32>; 2] {
        let backs = self.backgrounds(states.map(|s| s.blur[1]));
        let (w, _) = self.size;
        let (fw, pad) = (self.far.fft.w, self.far.pad);
        let mut buffers = (Vec::new(), Vec::new());
        [0, 1].map(|i| {
            let mut out = Vec::with_capacity(self.size.0 * self.size.1);
            for row in backs.chunks_exact(fw).skip(pad).take(self.size.1) {
                let part = &row[pad..pad + w];
                out.extend(part.iter().map(|v| if i == 0 { v.re } else { v.im }));
            }
            self.put_card(states[i], &mut out, &mut buffers);
            out
        })
    }

    /// The background with two blurs: in the real and in the imaginary part.
    fn backgrounds(&self, permille: [f64; 2]) -> Vec<Complex32> {
        let (fw, fh) = (self.far.fft.w, self.far.fft.h);
        let scale = permille.map(|p| self.slope(p));
        let mut work = self.far.values.clone();
        let fy: Vec<f32> = (0..fh).map(|j| frequency(j, fh)).collect();
        for (i, column) in work.chunks_exact_mut(fh).enumerate() {
            let fx = frequency(i, fw);
            for (value, fy) in column.iter_mut().zip(&fy) {
                let f = (fx * fx + fy * fy).sqrt();
                let both = scale.map(|s| self.table.at(s * f));
                *value *= Complex32::new(both[0], both[1]);
            }
        }
        let mut out = Vec::new();
        self.far.fft.inverse(&mut work, &mut out);
        out
    }

    fn put_card(
        &self,
        state: &State,
        out: &mut [f32],
        (work, card): &mut (Vec<Complex32>, Vec<Complex32>),
    ) {
        let (nw, nh) = (self.near.fft.w, self.near.fft.h);
        let (w, h) = self.size;
        let corner = [
            state.center[0] * w as f64 - nw as f64 / 2.0,
            state.center[1] * h as f64 - nh as f64 / 2.0,
        ];
        let whole = corner.map(f64::floor);
        let outside = |i: usize, n: usize, room: usize| {
            whole[i] >= room as f64 || whole[i] + (n as f64) < 0.0
        };
        if outside(0, nw, w) || outside(1, nh, h) {
            return;
        }
        let rest = [corner[0] - whole[0], corner[1] - whole[1]];
        let moved = [state.moved[0] * w as f64, state.moved[1] * h as f64];
        work.clone_from(&self.near.values);
        self.filter(work, state.blur[0], rest, moved);
        self.near.fft.inverse(work, card);
        for (j, row) in card.chunks_exact(nw).enumerate() {
            let y = whole[1] as i64 + j as i64;
            if !(0..h as i64).contains(&y) {
                continue;
            }
            let x0 = whole[0] as i64;
            let from = (-x0).clamp(0, nw as i64) as usize;
            let to = (w as i64 - x0).clamp(0, nw as i64) as usize;
            if from >= to {
                continue;
            }
            let start = y as usize * w + (x0 + from as i64) as usize;
            for (o, v) in out[start..].iter_mut().zip(&row[from..to]) {
                *o = v.re + (1.0 - v.im) * *o;
            }
        }
    }

    /// Disc, motion blur and sub-pixel shift of the card.
    fn filter(&self, work: &mut [Complex32], permille: f64, shift: [f64; 2], moved: [f64; 2]) {
        let (nw, nh) = (self.near.fft.w, self.near.fft.h);
        let slope = self.slope(permille);
        let moving = moved[0].hypot(moved[1]) > 0.01;
        let down = phases(nh, shift[1]);
        let columns = work.chunks_exact_mut(nh).zip(phases(nw, shift[0]));
        for (i, (column, across)) in columns.enumerate() {
            let fx = frequency(i, nw);
            for (j, (value, down)) in column.iter_mut().zip(&down).enumerate() {
                let fy = frequency(j, nh);
                let mut gain = self.table.at(slope * (fx * fx + fy * fy).sqrt());
                if moving {
                    gain *= sinc(fx * moved[0] as f32 + fy * moved[1] as f32);
                }
                *value *= across * down * gain;
            }
        }
    }

    /// π × diameter in px.
    fn slope(&self, permille: f64) -> f32 {
        (std::f64::consts::PI * permille * self.size.1 as f64 / 1000.0) as f32
    }
}

/// sin(πx)/(πx): a uniform exposure during a straight move.
fn sinc(x: f32) -> f32 {
    let angle = std::f32::consts::PI * x;
    if angle.abs() < 1e-3 {
        return 1.0;
    }
    angle.sin() / angle
}

/// Phase factors of a shift; the bin at half the sampling rate stays real.
fn phases(n: usize, shift: f64) -> Vec<Complex32> {
    let phase = |i| {
        let angle = -std::f64::consts::TAU * f64::from(frequency(i, n)) * shift;
        let imaginary = if 2 * i == n { 0.0 } else { angle.sin() };
        Complex32::new(angle.cos() as f32, imaginary as f32)
    };
    (0..n).map(phase).collect()
}

/// α·T + i·α for a card of `card` px in the middle of its canvas.
fn matte(face: &Canvas, card: [f64; 2]) -> Vec<Complex32> {
    let cover = |i: usize, n: usize, size: f64| {
        let (low, high) = ((n as f64 - size) / 2.0, (n as f64 + size) / 2.0);
        ((i as f64 + 1.0).min(high) - (i as f64).max(low)).clamp(0.0, 1.0) as f32
    };
    let across: Vec<f32> = (0..face.w).map(|x| cover(x, face.w, card[0])).collect();
    let mut out = Vec::with_capacity(face.values.len());
    for (y, row) in face.values.chunks_exact(face.w).enumerate() {
        let down = cover(y, face.h, card[1]);
        out.extend(row.iter().zip(&across).map(|(v, a)| {
            let alpha = a * down;
            Complex32::new(alpha * v, alpha)
        }));
    }
    out
}

fn spectrum(data: Vec<Complex32>, (w, h): (usize, usize), pad: usize) -> Spectrum {
    let fft = Fft2::new(w, h);
    let mut values = fft.forward(data);
    let factor = -2.0 * (std::f32::consts::PI * PREFILTER).powi(2);
    for (i, column) in values.chunks_exact_mut(h).enumerate() {
        let fx = frequency(i, w);
        for (j, value) in column.iter_mut().enumerate() {
            let fy = frequency(j, h);
            *value *= (factor * (fx * fx + fy * fy)).exp();
        }
    }
    Spectrum { fft, values, pad }
}

fn crop(face: &Canvas, card: [f64; 2]) -> Canvas {
    let (w, h) = (card[0].round() as usize, card[1].round() as usize);
    let (x0, y0) = ((face.w - w) / 2, (face.h - h) / 2);
    let rows = face.values.chunks_exact(face.w).skip(y0).take(h);
    Canvas {
        w,
        h,
        values: rows.flat_map(|r| r[x0..x0 + w].iter().copied()).collect(),
    }
}
