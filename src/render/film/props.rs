//! What the filming camera sees beside the screen: desk, bezel, the target
//! seen directly, the trigger light. Linear luminance; only what has changed
//! is worked out again.

use super::direct::Direct;
use super::exposure::Clock;
use super::framing::Placed;
use super::scenery;
use crate::geometry::{Quad, UprightPx};
use crate::render::layer::{Canvas, Ink};
use crate::render::plan::Plan;
use crate::render::scene::{Scene, Stimulus};

/// A rectangle of the frame: left, top, width, height.
pub(super) type Rect = [usize; 4];

/// Everything beside the screen.
pub(super) struct Props {
    /// What a lamp lights.
    pub lit: Canvas,
    /// The trigger light.
    pub glow: Option<Glow>,
    direct: Option<Direct>,
    placed: Option<Vec<[[f64; 2]; 2]>>,
}

/// A disc that shines by itself, dark grey when off.
pub(super) struct Glow {
    pub rect: Rect,
    /// How much of each pixel it fills, 0..=1.
    inside: Vec<f32>,
    /// Luminance of each row.
    level: Vec<f32>,
    /// Share of the exposure it was on, of each row.
    on: Vec<f32>,
    ink: Ink,
}

/// Luminance of the trigger light, linear; on, that of a white one.
const OFF: f32 = 0.03;
pub(super) const ON: f32 = 0.95;

/// Standard deviation of what a moving camera's optics leave of hard edges, px.
const SOFT: f32 = 0.55;

/// Makes edges fine enough to be sampled at any fraction of a pixel.
fn soften(canvas: &mut Canvas) {
    let weight = |k: i64| (-((k * k) as f32) / (2.0 * SOFT * SOFT)).exp();
    let sum: f32 = (-2..=2).map(weight).sum();
    let (w, h) = (canvas.w as i64, canvas.h as i64);
    for (dx, dy) in [(1, 0), (0, 1)] {
        let from = canvas.values.clone();
        for (i, v) in canvas.values.iter_mut().enumerate() {
            let (x, y) = (i as i64 % w, i as i64 / w);
            let at = |k: i64| {
                let (x, y) = ((x + k * dx).clamp(0, w - 1), (y + k * dy).clamp(0, h - 1));
                from[(y * w + x) as usize]
            };
            *v = (-2..=2).map(|k| weight(k) * at(k)).sum::<f32>() / sum;
        }
    }
}

impl Props {
    pub(super) fn new(scene: &Scene, quad: &Quad<UprightPx>, card: &Canvas, moving: bool) -> Self {
        let mut lit = scenery::desk(scene, quad);
        if moving {
            soften(&mut lit);
        }
        let glow = (scene.stimulus == Stimulus::Light).then(|| Glow::new(scene, &mut lit));
        Self {
            lit,
            glow,
            direct: Direct::new(scene, card, quad.width() / quad.height()),
            placed: None,
        }
    }

    /// Brings everything to the frame stamped `t`; the rectangles that changed.
    pub(super) fn at(&mut self, t: f64, plan: &Plan, clock: &Clock) -> Vec<Rect> {
        let direct = self.put_direct(t, plan, clock);
        let h = self.lit.h;
        let glow = self.glow.as_mut().and_then(|g| g.at(t, plan, clock, h));
        direct.into_iter().chain(glow).collect()
    }

    /// Luminance of a pixel under steady light.
    pub(super) fn light(&self, x: usize, y: usize) -> f32 {
        let glow = self.glow.as_ref().map_or(0.0, |g| g.value(x, y));
        self.lit.values[y * self.lit.w + x] + glow
    }

    fn put_direct(&mut self, t: f64, plan: &Plan, clock: &Clock) -> Option<Rect> {
        let direct = self.direct.as_ref()?;
        let (origin, size) = (direct.origin, direct.size);
        let h = self.lit.h;
        let open = |j: usize| clock.open_row(t, origin.1 + j, h);
        let ends = [0, size.1 - 1].map(|j| {
            let (a, b) = open(j);
            [plan.place(a), plan.place(b)]
        });
        if self.placed.as_deref() == Some(&ends) {
            return None;
        }
        self.placed = Some(ends.to_vec());
        let view = direct.expose(plan, open);
        for (j, row) in view.chunks_exact(size.0).enumerate() {
            let start = (origin.1 + j) * self.lit.w + origin.0;
            self.lit.values[start..start + size.0].copy_from_slice(row);
        }
        Some([origin.0, origin.1, size.0, size.1])
    }
}

impl Glow {
    /// Takes what it hides out of the surroundings.
    fn new(scene: &Scene, behind: &mut Canvas) -> Self {
        let placed = Placed::of(scene);
        let [cx, cy] = placed.point(scene.light.center);
        let r = placed.zoom * scene.light.radius;
        let range = |c: f64, n: usize| {
            let clip = |v: f64| v.clamp(0.0, n as f64) as usize;
            (clip((c - r - 1.0).floor()), clip((c + r + 1.0).ceil()))
        };
        let ((x0, x1), (y0, y1)) = (range(cx, behind.w), range(cy, behind.h));
        let mut inside = Vec::with_capacity((x1 - x0) * (y1 - y0));
        for y in y0..y1 {
            for x in x0..x1 {
                let distance = (x as f64 + 0.5 - cx).hypot(y as f64 + 0.5 - cy);
                let share = (r + 0.5 - distance).clamp(0.0, 1.0) as f32;
                behind.values[y * behind.w + x] *= 1.0 - share;
                inside.push(share);
            }
        }
        Self {
            rect: [x0, y0, x1 - x0, y1 - y0],
            inside,
            level: vec![-1.0; y1 - y0],
            on: vec![0.0; y1 - y0],
            ink: Ink::new(scene.light.color),
        }
    }

    /// `Some` where the light has changed.
    fn at(&mut self, t: f64, plan: &Plan, clock: &Clock, h: usize) -> Option<Rect> {
        let mut changed = false;
        for (j, level) in self.level.iter_mut().enumerate() {
            let share = lit_share(plan, clock.open_row(t, self.rect[1] + j, h));
            let now = OFF + share * (ON * self.ink.luma - OFF);
            changed |= now != *level;
            *level = now;
            self.on[j] = share;
        }
        changed.then_some(self.rect)
    }

    /// Adds its Cb and Cr to planes of half the frame's width `w`.
    pub(super) fn tint(&self, planes: &mut [Vec<f32>; 2], w: usize, dim: f32) {
        let [x0, y0, wide, _] = self.rect;
        let half = w / 2;
        for (i, inside) in self.inside.iter().enumerate() {
            let (x, y) = (x0 + i % wide, y0 + i / wide);
            let share = 0.25 * dim * inside * self.on[i / wide];
            for (plane, c) in planes.iter_mut().zip(self.ink.chroma) {
                if let Some(v) = plane.get_mut(y / 2 * half + (x / 2).min(half - 1)) {
                    *v += share * c;
                }
            }
        }
    }

    /// Whether it shows a colour now.
    pub(super) fn coloured(&self) -> bool {
        self.ink.chroma != [0.0; 2] && self.on.iter().any(|s| *s > 0.0)
    }

    /// Its luminance at a pixel of the frame; 0 beside it.
    pub(super) fn value(&self, x: usize, y: usize) -> f32 {
        let [x0, y0, w, h] = self.rect;
        if x < x0 || y < y0 || x >= x0 + w || y >= y0 + h {
            return 0.0;
        }
        self.inside[(y - y0) * w + (x - x0)] * self.level[y - y0]
    }
}

/// Share of an exposure during which the light is on.
fn lit_share(plan: &Plan, (from, to): (f64, f64)) -> f32 {
    if to <= from {
        return if plan.light_on(from) { 1.0 } else { 0.0 };
    }
    let lit = plan.lit.iter();
    let on: f64 = lit.map(|(a, b)| (b.min(to) - a.max(from)).max(0.0)).sum();
    (on / (to - from)) as f32
}
