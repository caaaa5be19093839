//! The target seen directly by the filming camera: always sharp, not late,
//! smeared by the film's own exposure.

use super::framing::Placed;
use crate::render::layer::Canvas;
use crate::render::plan::Plan;
use crate::render::scene::Scene;

/// The direct view in its rectangle of the frame.
pub(super) struct Direct {
    /// Left and top, film px.
    pub origin: (usize, usize),
    /// Width and height, px.
    pub size: (usize, usize),
    card: Canvas,
    /// Film px per fraction of the screen's width and height.
    scale: [f64; 2],
    /// Place (fractions of the screen) seen at the rectangle's left and top.
    start: [f64; 2],
}

/// Luminance of the wall behind, linear.
const WALL: f32 = 0.075;
/// Most points of an exposure that are averaged.
const MOST: usize = 12;

impl Direct {
    /// `None` where the scene has no direct view.
    pub(super) fn new(scene: &Scene, card: &Canvas, aspect: f64) -> Option<Self> {
        let [x0, y0, x1, y1] = Placed::of(scene).rect(scene.film.direct_view?);
        let [w, h] = scene.film.size;
        let clip = |v: f64, n: usize| v.round().clamp(0.0, n as f64) as usize;
        let origin = (clip(x0, w), clip(y0, h));
        let size = (
            clip(x1, w).saturating_sub(origin.0),
            clip(y1, h).saturating_sub(origin.1),
        );
        if size.0 == 0 || size.1 == 0 {
            return None;
        }
        let near = &scene.near;
        let span = |i: usize| {
            let (a, b, room) = (near.rest[i], near.away[i], 0.55 * near.size[i]);
            (a.min(b) - room, a.max(b) + room)
        };
        let (across, down) = (span(0), span(1));
        // One scale for both directions: `aspect` is screen width ÷ height.
        let per_height = (size.0 as f64 / ((across.1 - across.0) * aspect))
            .min(size.1 as f64 / (down.1 - down.0));
        let scale = [per_height * aspect, per_height];
        let middle = [(across.0 + across.1) / 2.0, (down.0 + down.1) / 2.0];
        let room = [size.0 as f64, size.1 as f64];
        let start = [0, 1].map(|i| middle[i] - room[i] / scale[i] / 2.0);
        let shape = [0, 1].map(|i| (near.size[i] * scale[i]).round().max(2.0) as usize);
        Some(Self {
            origin,
            size,
            card: shrink(card, shape[0], shape[1]),
            scale,
            start,
        })
    }

    /// Linear luminance of the rectangle, row-major; `open` is the exposure of
    /// each of its rows.
    pub(super) fn expose(&self, plan: &Plan, open: impl Fn(usize) -> (f64, f64)) -> Vec<f32> {
        let mut out = vec![0.0; self.size.0 * self.size.1];
        for (j, row) in out.chunks_exact_mut(self.size.0).enumerate() {
            self.expose_row(plan, j, open(j), row);
        }
        out
    }

    fn expose_row(&self, plan: &Plan, j: usize, (from, to): (f64, f64), out: &mut [f32]) {
        let place = |t: f64| {
            let p = plan.place(t);
            [0, 1].map(|i| (p[i] - self.start[i]) * self.scale[i])
        };
        let (a, b) = (place(from), place(to));
        let way = (a[0] - b[0]).hypot(a[1] - b[1]);
        let points = (2.0 * way).ceil().clamp(1.0, MOST as f64) as usize;
        for k in 0..points {
            let s = (k as f64 + 0.5) / points as f64;
            self.add(place(from + s * (to - from)), j, 1.0 / points as f32, out);
        }
    }

    /// Adds row `j` of the view with the card's centre at `center`, film px.
    fn add(&self, center: [f64; 2], j: usize, share: f32, row: &mut [f32]) {
        let (w, h) = (self.card.w, self.card.h);
        let left = center[0] - w as f64 / 2.0;
        let top = center[1] - h as f64 / 2.0;
        let value = |x: i64, y: i64| {
            let inside = (0..w as i64).contains(&x) && (0..h as i64).contains(&y);
            if !inside {
                return WALL;
            }
            self.card.values[y as usize * w + x as usize]
        };
        let y = j as f64 - top;
        let (iy, fy) = (y.floor() as i64, (y - y.floor()) as f32);
        for (i, o) in row.iter_mut().enumerate() {
            let x = i as f64 - left;
            let (ix, fx) = (x.floor() as i64, (x - x.floor()) as f32);
            let upper = value(ix, iy) * (1.0 - fx) + value(ix + 1, iy) * fx;
            let lower = value(ix, iy + 1) * (1.0 - fx) + value(ix + 1, iy + 1) * fx;
            *o += share * (upper * (1.0 - fy) + lower * fy);
        }
    }
}

/// Averages a picture down to `w`×`h`.
fn shrink(from: &Canvas, w: usize, h: usize) -> Canvas {
    let edges = |i: usize, n: usize, of: usize| {
        let low = i * of / n;
        (low, ((i + 1) * of / n).max(low + 1).min(of))
    };
    let mut values = Vec::with_capacity(w * h);
    for y in 0..h {
        let (y0, y1) = edges(y, h, from.h);
        for x in 0..w {
            let (x0, x1) = edges(x, w, from.w);
            let rows = from.values.chunks_exact(from.w).take(y1).skip(y0);
            let sum: f32 = rows.flat_map(|r| &r[x0..x1]).sum();
            values.push(sum / ((x1 - x0) * (y1 - y0)) as f32);
        }
    }
    Canvas { w, h, values }
}
