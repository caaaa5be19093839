//! What does not change: desk and bezel, and where the screen lies.

use super::framing::Placed;
use crate::geometry::{Homography, Point, Quad, UprightPx, whole_screen};
use crate::render::layer::{Canvas, drawn, noise};
use crate::render::rng::{self, Use};
use crate::render::scene::{Bright, Outline, Scene, Stimulus};

/// Luminance of the bezel and of the desk, linear.
const BEZEL: f32 = 0.012;
const DESK: (f64, f64) = (0.10, 0.22);

/// The screen's corners as the frame shows them.
pub(crate) fn seen_corners(scene: &Scene) -> Quad<UprightPx> {
    if scene.film.feed {
        return corners(scene);
    }
    Placed::of(scene).quad(&corners(scene))
}

/// The screen's corners in the upright frame before it is framed (the whole
/// frame for a feed).
pub(crate) fn corners(scene: &Scene) -> Quad<UprightPx> {
    let [w, h] = scene.film.size.map(|n| n as f64);
    if scene.film.feed {
        return Quad::rect(0.0, 0.0, w, h);
    }
    match scene.screen.corners {
        Some(c) => Quad::new(c.map(|p| Point::new(p[0], p[1]))),
        None => turned(w, h),
    }
}

/// A 4:3 screen, two thirds of the frame's height, slightly turned.
fn turned(w: f64, h: f64) -> Quad<UprightPx> {
    let height = (0.68 * h).min(0.6 * w);
    let (dx, dy) = (height * 2.0 / 3.0, height / 2.0);
    let (cx, cy) = (0.53 * w, 0.5 * h);
    let tilt = 0.012 * height;
    Quad::new([
        Point::new(cx - dx + 0.4 * tilt, cy - dy - tilt),
        Point::new(cx + dx - 0.7 * tilt, cy - dy + tilt),
        Point::new(cx + dx + 0.6 * tilt, cy + dy + 0.6 * tilt),
        Point::new(cx - dx - 0.5 * tilt, cy + dy - 0.8 * tilt),
    ])
}

/// Desk and bezel, linear luminance.
pub(super) fn desk(scene: &Scene, quad: &Quad<UprightPx>) -> Canvas {
    let [w, h] = scene.film.size;
    let mut rng = rng::stream(scene.look(), Use::Desk);
    let mut base = noise((w, h), h as f64, DESK, &mut rng);
    if scene.film.feed {
        return base;
    }
    let Some(map) = Homography::between(quad, &whole_screen()) else {
        return base;
    };
    let px = scene.screen.bezel_px * Placed::of(scene).zoom;
    let (mx, my) = (px / quad.width(), px / quad.height());
    let radius = 0.7;
    for (y, row) in base.values.chunks_exact_mut(w).enumerate() {
        for (x, v) in row.iter_mut().enumerate() {
            let p = map.apply(Point::new(x as f64 + 0.5, y as f64 + 0.5));
            // Distance outside the screen in bezel widths, corners rounded.
            let dx = ((p.x - 0.5).abs() - 0.5).max(0.0) / mx.max(1e-9);
            let dy = ((p.y - 0.5).abs() - 0.5).max(0.0) / my.max(1e-9);
            let (ax, ay) = ((dx - 1.0 + radius).max(0.0), (dy - 1.0 + radius).max(0.0));
            let outside = (ax.hypot(ay) - radius) * px;
            let inside = (0.5 - outside).clamp(0.0, 1.0) as f32;
            *v += inside * (BEZEL - *v);
        }
    }
    for bright in &scene.brights {
        put(&mut base, bright);
    }
    surround(&mut base, scene);
    base
}

/// Lays a textured surface around the trigger light.
fn surround(base: &mut Canvas, scene: &Scene) {
    let placed = Placed::of(scene);
    let reach = placed.zoom * scene.light.surround_px;
    if scene.stimulus != Stimulus::Light || reach < 1.0 {
        return;
    }
    let side = (2.0 * reach).round() as usize;
    let unit = scene.film.size[1] as f64;
    let mut rng = rng::stream(scene.look(), Use::Surround);
    let face = drawn(&scene.light.surround, (side, side), unit, &mut rng);
    let middle = placed.point(scene.light.center);
    let corner = middle.map(|c| (c - reach).round() as i64);
    let within = 0..side as i64;
    for (at, v) in base.values.iter_mut().enumerate() {
        let i = (at % base.w) as i64 - corner[0];
        let j = (at / base.w) as i64 - corner[1];
        if within.contains(&i) && within.contains(&j) {
            *v = face.values[j as usize * side + i as usize];
        }
    }
}

/// Draws a bright thing, its edges one pixel soft.
fn put(base: &mut Canvas, bright: &Bright) {
    let w = base.w;
    let [x0, y0, x1, y1] = bright.area;
    let (cx, cy) = (f64::midpoint(x0, x1), f64::midpoint(y0, y1));
    let (rx, ry) = ((x1 - x0) / 2.0, (y1 - y0) / 2.0);
    // How far inside a place lies, px; less than 0 outside.
    let depth = |x: f64, y: f64| {
        let (dx, dy) = ((x - cx).abs(), (y - cy).abs());
        match bright.shape {
            Outline::Window => (rx - dx).min(ry - dy),
            Outline::Lamp => rx.min(ry) * (1.0 - (dx / rx.max(1e-9)).hypot(dy / ry.max(1e-9))),
        }
    };
    for (i, v) in base.values.iter_mut().enumerate() {
        let d = depth((i % w) as f64 + 0.5, (i / w) as f64 + 0.5);
        let share = |d: f64| (d + 0.5).clamp(0.0, 1.0) as f32;
        *v += share(d + bright.rim_px) * (BEZEL - *v) * f32::from(u8::from(bright.rim_px > 0.0));
        *v += share(d) * (bright.light as f32 - *v);
    }
}
