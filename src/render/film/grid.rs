//! The screen's own pixels as the film sees them.
//!
//! A pixel's lit part is a window of `fill` of its width: a Fourier series in
//! the screen's pixels, u: 1 + 2·Σ sinc(k·fill)·cos(2πk·u). Each term is what
//! the film's pixel (a box) and its optics leave of it; then it is sampled at
//! the pixel's middle, which folds what is too fine for the film: moiré.

use std::f64::consts::{PI, TAU};

use crate::geometry::{Homography, Point, ScreenFrac, UprightPx};
use crate::render::layer::DiscTable;
use crate::render::scene::{Grid, Scene};

/// Terms of the series.
const TERMS: usize = 3;

/// What is left of the terms across and down.
pub(super) type Strengths = [[f32; TERMS]; 2];

/// The grid as seen by one film.
pub(super) struct Mesh {
    pixels: [f64; 2],
    /// What the lit part leaves of each term, twice.
    lit: [f64; TERMS],
    sigma: f64,
    map: Homography<UprightPx, ScreenFrac>,
    disc: DiscTable,
}

impl Mesh {
    /// `None` where the screen has no pixels of its own.
    pub(super) fn new(scene: &Scene, map: &Homography<UprightPx, ScreenFrac>) -> Option<Self> {
        let Grid {
            pixels,
            fill,
            film_blur_px,
        } = scene.screen.grid.clone();
        (pixels != [0, 0] && !scene.film.feed).then(|| Self {
            pixels: pixels.map(|n| n as f64),
            lit: std::array::from_fn(|k| 2.0 * sinc((k as f64 + 1.0) * fill)),
            sigma: film_blur_px,
            map: *map,
            disc: DiscTable::new(400.0),
        })
    }

    /// Strength of the terms across and down at a place of the frame while
    /// the filming camera blurs by a disc of `blur` px.
    pub(super) fn strengths(&self, (x, y): (f64, f64), blur: f64) -> Strengths {
        let at = |x: f64, y: f64| self.map.apply(Point::new(x, y));
        let (right, left) = (at(x + 0.5, y), at(x - 0.5, y));
        let (below, above) = (at(x, y + 0.5), at(x, y - 0.5));
        let slope = [
            [right.x - left.x, below.x - above.x],
            [right.y - left.y, below.y - above.y],
        ];
        [0, 1].map(|axis| {
            let mut out = [0.0; TERMS];
            for (k, o) in out.iter_mut().enumerate() {
                let n = k as f64 + 1.0;
                let [fx, fy] = slope[axis].map(|s| s * self.pixels[axis] * n);
                let f = fx.hypot(fy);
                let optics = (-2.0 * (PI * self.sigma * f).powi(2)).exp();
                let disc = f64::from(self.disc.at((PI * blur * f) as f32));
                *o = (self.lit[k] * sinc(fx) * sinc(fy) * optics * disc) as f32;
            }
            out
        })
    }

    /// Factor on the screen's light at a place of it (fractions).
    pub(super) fn gain(&self, u: f64, v: f64, strengths: &Strengths) -> f32 {
        let side = |axis: usize, at: f64| {
            let pixel = at * self.pixels[axis] - 0.5;
            let c = ((TAU * (pixel - pixel.floor())) as f32).cos();
            // cos 2x and cos 3x by cos x (Abramowitz and Stegun 22.3.15).
            let cosines: [f32; TERMS] = [c, 2.0 * c * c - 1.0, (4.0 * c * c - 3.0) * c];
            let terms = strengths[axis].iter().zip(cosines);
            terms.map(|(s, c)| s * c).sum::<f32>()
        };
        (1.0 + side(0, u)).max(0.0) * (1.0 + side(1, v)).max(0.0)
    }
}

/// sin(πx) ÷ (πx).
pub(super) fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 {
        return 1.0;
    }
    (PI * x).sin() / (PI * x)
}
