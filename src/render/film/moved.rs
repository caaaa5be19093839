//! Rows seen by a camera that moves: everything is sampled where it then
//! lies, the screen from the camera's own picture, so that nothing is
//! sampled twice.

use super::frames::{Picture, World};
use super::props::{Glow, Props};
use super::rough::{Over, Row, STRIDE};
use super::sample::Kernel;
use super::shake::{Pose, Shake};
use super::warp::smaller;
use crate::geometry::Point;
use crate::render::plan::Plan;
use crate::render::scene::Scene;

/// A moving camera.
pub(super) struct Moved {
    shake: Shake,
    kernel: Kernel,
    middle: (f64, f64),
}

/// Most moments of an exposure that are averaged.
const MOST: f64 = 4.0;

impl Moved {
    /// `None` where the camera stands still.
    pub(super) fn new(scene: &Scene, plan: &Plan) -> Option<Self> {
        let [w, h] = scene.film.size.map(|n| n as f64 / 2.0);
        Some(Self {
            shake: Shake::new(scene, plan)?,
            kernel: Kernel::new(),
            middle: (w, h),
        })
    }

    /// Fills row `y`, exposed during `open`.
    pub(super) fn row<P: Fn(usize) -> Picture>(
        &self,
        row: &mut [f32],
        y: usize,
        (from, to): (f64, f64),
        seen: &mut Row<'_, P>,
        over: &Over<'_>,
        at: (&World<'_>, &Props),
    ) {
        let (a, b) = (self.shake.at(from), self.shake.at(to));
        let turned = (a.roll - b.roll).abs() * self.middle.0;
        let way = (a.x - b.x).hypot(a.y - b.y) + turned;
        let moments = (way / 0.25).ceil().clamp(1.0, MOST);
        row.fill(0.0);
        for k in 0..moments as usize {
            let s = (k as f64 + 0.5) / moments;
            let pose = self.shake.at(from + s * (to - from));
            let share = (1.0 / moments) as f32;
            self.add(row, y, (pose, share), seen, over, at);
        }
    }

    fn add<P: Fn(usize) -> Picture>(
        &self,
        row: &mut [f32],
        y: usize,
        (pose, share): (Pose, f32),
        seen: &mut Row<'_, P>,
        over: &Over<'_>,
        (world, props): (&World<'_>, &Props),
    ) {
        let warp = world.warp;
        let (pw, ph) = warp.picture;
        let lit = &props.lit;
        let mut strengths = None;
        for (x, o) in row.iter_mut().enumerate() {
            let rest = |dx: f64, dy: f64| {
                let p = (x as f64 + 0.5 + dx, y as f64 + 0.5 + dy);
                pose.undo(p, self.middle)
            };
            let at = rest(0.0, 0.0);
            let place = |(x, y): (f64, f64)| warp.to_screen.apply(Point::new(x, y));
            let p = place(at);
            let covered = match edge(p.x, pw).min(edge(p.y, ph)) {
                d if d >= 2.0 => 1.0,
                d if d <= -2.0 => 0.0,
                _ => {
                    let (right, below) = (place(rest(1.0, 0.0)), place(rest(0.0, 1.0)));
                    let per_px = |a: f64, b: f64, c: f64| (b - a).hypot(c - a).max(1e-12);
                    side(p.x, per_px(p.x, right.x, below.x))
                        * side(p.y, per_px(p.y, right.y, below.y))
                }
            };
            let mut light = 0.0;
            if covered < 1.0 {
                let (x, y) = (at.0 - 0.5, at.1 - 0.5);
                let value = self.kernel.value(&lit.values, (lit.w, lit.h), x, y);
                light = (1.0 - covered) * over.lamp * value.max(0.0);
                light += props.glow.as_ref().map_or(0.0, |g| glow(g, at));
            }
            if covered > 0.0 {
                if x.is_multiple_of(STRIDE) || strengths.is_none() {
                    strengths = over.strengths(at);
                }
                let (u, v) = (p.x.clamp(0.0, 1.0), p.y.clamp(0.0, 1.0));
                let (px, py) = (u * pw as f64 - 0.5, v * ph as f64 - 0.5);
                let parts = seen.at(v as f32).iter();
                let given: f32 = parts
                    .map(|(p, share)| {
                        let x = smaller(px as f32, pw, p.breath);
                        let y = smaller(py as f32, ph, p.breath);
                        share * self.kernel.value(&p.luma, (pw, ph), x.into(), y.into())
                    })
                    .sum();
                light += covered * over.light(given.max(0.0), (u, v), strengths.as_ref());
            }
            *o += share * light;
        }
    }
}

/// How far inside the screen a fraction of it lies, picture px.
fn edge(u: f64, n: usize) -> f64 {
    u.min(1.0 - u) * n as f64
}

/// Share of a pixel that lies inside the two edges of a direction; `per_px`
/// is how much of the screen a pixel spans.
fn side(u: f64, per_px: f64) -> f32 {
    (0.5 + u.min(1.0 - u) / per_px).clamp(0.0, 1.0) as f32
}

/// The trigger light between pixels.
fn glow(glow: &Glow, (x, y): (f64, f64)) -> f32 {
    let [x0, y0, w, h] = glow.rect.map(|n| n as f64);
    let (x, y) = (x - 0.5, y - 0.5);
    if x < x0 - 1.0 || y < y0 - 1.0 || x > x0 + w || y > y0 + h {
        return 0.0;
    }
    let (ix, iy) = (x.floor(), y.floor());
    let (fx, fy) = ((x - ix) as f32, (y - iy) as f32);
    let value = |dx: f64, dy: f64| {
        let (x, y) = (ix + dx, iy + dy);
        if x < 0.0 || y < 0.0 {
            0.0
        } else {
            glow.value(x as usize, y as usize)
        }
    };
    let upper = value(0.0, 0.0) * (1.0 - fx) + value(1.0, 0.0) * fx;
    let lower = value(0.0, 1.0) * (1.0 - fx) + value(1.0, 1.0) * fx;
    upper * (1.0 - fy) + lower * fy
}
