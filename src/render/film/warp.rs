//! Puts a live-view picture on the screen's quadrilateral in the film frame
//! (cubic convolution, Keys 1981, IEEE Trans. ASSP 29, 1153, a = −1/2).
//!
//! Picture and film should have about the same pixel density there: nothing is
//! averaged when the picture is much finer than the film.

use crate::geometry::{Homography, Point, Quad, ScreenFrac, UprightPx, whole_screen};
use crate::render::layer::Print;

/// Where a film pixel takes its value from.
#[derive(Clone, Copy, Debug, Default)]
struct Tap {
    /// Index of the top-left of 4×4 taps in the padded picture.
    at: u32,
    fx: f32,
    fy: f32,
}

/// The map from picture to film.
pub(crate) struct Warp {
    /// Left and top of the rectangle that holds the screen, film px.
    pub origin: (usize, usize),
    /// Its width and height, px.
    pub size: (usize, usize),
    /// How much of each of its pixels is screen, 0..=1.
    pub cover: Vec<f32>,
    /// Row of the screen seen by each of its pixels, 0 top ..= 1 bottom.
    pub row: Vec<f32>,
    /// From the frame at rest to the screen.
    pub to_screen: Homography<UprightPx, ScreenFrac>,
    /// Pictures are kept as they are: the film moves over them.
    pub loose: bool,
    taps: Vec<Tap>,
    /// Width and height of the pictures, px.
    pub picture: (usize, usize),
}

/// Rows and columns repeated around the picture, px.
const PAD: usize = 3;

impl Warp {
    /// `None` where the corners are no quadrilateral or lie off the frame.
    pub(crate) fn new(
        quad: &Quad<UprightPx>,
        film: (usize, usize),
        picture: (usize, usize),
    ) -> Option<Self> {
        let to_screen = Homography::between(quad, &whole_screen())?;
        let [x0, y0, x1, y1] = quad.bounds();
        let clip = |v: f64, n: usize| v.clamp(0.0, n as f64) as usize;
        let origin = (clip(x0.floor(), film.0), clip(y0.floor(), film.1));
        let end = (clip(x1.ceil(), film.0), clip(y1.ceil(), film.1));
        let size = (end.0 - origin.0, end.1 - origin.1);
        let mut out = Self {
            origin,
            size,
            cover: Vec::new(),
            row: Vec::new(),
            to_screen,
            loose: false,
            taps: Vec::new(),
            picture,
        };
        let (w, h) = picture;
        let stride = w + 2 * PAD;
        for y in origin.1..end.1 {
            for x in origin.0..end.0 {
                let at =
                    |dx: f64, dy: f64| to_screen.apply(Point::new(x as f64 + dx, y as f64 + dy));
                let p = at(0.5, 0.5);
                let (u, v) = (p.x.clamp(0.0, 1.0), p.y.clamp(0.0, 1.0));
                let (px, py) = (u * w as f64 - 0.5, v * h as f64 - 0.5);
                let (ix, iy) = (px.floor(), py.floor());
                let column = (ix as i64 + PAD as i64 - 1) as usize;
                let line = (iy as i64 + PAD as i64 - 1) as usize;
                out.taps.push(Tap {
                    at: (line * stride + column) as u32,
                    fx: (px - ix) as f32,
                    fy: (py - iy) as f32,
                });
                out.row.push(v as f32);
                out.cover.push(cover(at));
            }
        }
        (size.0 > 0 && size.1 > 0).then_some(out)
    }

    /// A print as seen in the rectangle, row-major; its luma as it is where
    /// the film moves.
    pub(crate) fn project(&self, print: Print) -> Print {
        let (breath, larger) = (print.breath, self.larger(print.breath));
        let taps = larger.as_ref().unwrap_or(&self.taps);
        Print {
            luma: match self.loose {
                true => print.luma,
                false => self.take(&print.luma, taps),
            },
            chroma: (print.chroma).map(|planes| planes.map(|p| self.take(&p, taps))),
            breath,
        }
    }

    /// Where values come from in a picture that is shown larger by a share;
    /// `None` where it is not.
    fn larger(&self, breath: f32) -> Option<Vec<Tap>> {
        let (w, h) = self.picture;
        let stride = w + 2 * PAD;
        let taps = self.taps.iter().map(|tap| {
            let (x, y) = (tap.at as usize % stride, tap.at as usize / stride);
            let back = |at: usize, rest: f32, n: usize| {
                let place = at as f32 + rest - (PAD as f32 - 1.0);
                smaller(place, n, breath) + (PAD as f32 - 1.0)
            };
            let (x, y) = (back(x, tap.fx, w), back(y, tap.fy, h));
            Tap {
                at: (y as usize * stride + x as usize) as u32,
                fx: x.fract(),
                fy: y.fract(),
            }
        });
        (breath > 0.0).then(|| taps.collect())
    }

    /// The picture as seen in the rectangle, row-major.
    fn take(&self, picture: &[f32], taps: &[Tap]) -> Vec<f32> {
        let (w, h) = self.picture;
        let stride = w + 2 * PAD;
        let padded = pad(picture, w, h);
        let value = |(tap, cover): (&Tap, &f32)| {
            if *cover == 0.0 {
                return 0.0;
            }
            let (wx, wy) = (weights(tap.fx), weights(tap.fy));
            let mut sum = 0.0;
            for (j, wy) in wy.iter().enumerate() {
                let start = tap.at as usize + j * stride;
                let r = &padded[start..start + 4];
                sum += wy * (wx[0] * r[0] + wx[1] * r[1] + wx[2] * r[2] + wx[3] * r[3]);
            }
            sum
        };
        taps.iter().zip(&self.cover).map(value).collect()
    }
}

/// Where in a picture of `n` pixels a place comes from, once the picture is
/// shown larger by a share.
pub(super) fn smaller(place: f32, n: usize, breath: f32) -> f32 {
    let middle = (n as f32 - 1.0) / 2.0;
    middle + (place - middle) / (1.0 + breath)
}

/// Share of a pixel that lies on the screen, from 4×4 points.
fn cover(at: impl Fn(f64, f64) -> Point<ScreenFrac>) -> f32 {
    let mut inside = 0;
    for j in 0..4 {
        for i in 0..4 {
            let p = at(0.125 + 0.25 * f64::from(i), 0.125 + 0.25 * f64::from(j));
            inside += i32::from((0.0..1.0).contains(&p.x) && (0.0..1.0).contains(&p.y));
        }
    }
    inside as f32 / 16.0
}

fn pad(picture: &[f32], w: usize, h: usize) -> Vec<f32> {
    let mut out = Vec::with_capacity((w + 2 * PAD) * (h + 2 * PAD));
    for y in 0..h + 2 * PAD {
        let line = y.saturating_sub(PAD).min(h - 1);
        let row = &picture[line * w..(line + 1) * w];
        out.extend(std::iter::repeat_n(row[0], PAD));
        out.extend_from_slice(row);
        out.extend(std::iter::repeat_n(row[w - 1], PAD));
    }
    out
}

#[inline]
fn weights(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [
        -0.5 * t3 + t2 - 0.5 * t,
        1.5 * t3 - 2.5 * t2 + 1.0,
        -1.5 * t3 + 2.0 * t2 + 0.5 * t,
        0.5 * t3 - 0.5 * t2,
    ]
}
