//! Frames under light and cameras that are not steady: every row is exposed
//! at its own time, so every pixel is worked out in every frame.

use rayon::prelude::*;

use super::blur::Lapse;
use super::drift::Gain;
use super::exposure::Mix;
use super::frames::{BANDS, Picture, World, late};
use super::glare::Gleam;
use super::grid::{Mesh, Strengths};
use super::moved::Moved;
use super::props::Props;
use super::waves::{Backlight, Sine};
use crate::geometry::Point;

/// What disturbs the filming.
pub(super) struct Rough {
    lamp: Sine,
    backlight: Backlight,
    gain: Gain,
    lapse: Option<Lapse>,
    mesh: Option<Mesh>,
    moved: Option<Moved>,
    light: Vec<f32>,
    base_gain: f64,
}

/// Pictures that a row sees, worked out for each band of the screen's rows
/// when it is first met.
pub(super) struct Row<'a, P: Fn(usize) -> Picture> {
    world: &'a World<'a>,
    backlight: &'a Backlight,
    picture: &'a P,
    open: (f64, f64),
    bands: Vec<Option<Vec<(Picture, f32)>>>,
}

impl<P: Fn(usize) -> Picture> Row<'_, P> {
    /// What is seen at row `v` of the screen (0 top ..= 1 bottom).
    pub(super) fn at(&mut self, v: f32) -> &[(Picture, f32)] {
        let last = self.bands.len() - 1;
        let band = ((v * self.bands.len() as f32) as usize).min(last);
        self.bands[band].get_or_insert_with(|| {
            let late_s = late(self.world.scan_s(), band);
            let late_s = if last == 0 { 0.0 } else { late_s };
            let shone = |part| self.backlight.mean(part);
            Mix::lit(self.world.updates, self.open, late_s, shone).seen(self.picture)
        })
    }
}

/// Pixels over which perspective is taken as even for the screen's pixels.
pub(super) const STRIDE: usize = 16;

/// What lies over the screen's light in a frame.
pub(super) struct Over<'a> {
    pub gleam: Option<Gleam>,
    pub mesh: Option<&'a Mesh>,
    /// Disc diameter of the filming camera's own blur, px.
    pub blur_px: f64,
    pub lamp: f32,
    pub bright: f32,
}

impl Over<'_> {
    /// What the film leaves of the screen's own pixels around `at` (in the
    /// frame at rest).
    pub(super) fn strengths(&self, at: (f64, f64)) -> Option<Strengths> {
        self.mesh.map(|m| m.strengths(at, self.blur_px))
    }

    /// The screen's light at a place of it (fractions), of what its picture
    /// gives off there.
    pub(super) fn light(&self, seen: f32, at: (f64, f64), strengths: Option<&Strengths>) -> f32 {
        let (u, v) = at;
        let mut light = self.bright * seen;
        if let (Some(mesh), Some(strengths)) = (self.mesh, strengths) {
            light *= mesh.gain(u, v, strengths);
        }
        if let Some(gleam) = &self.gleam {
            light += self.lamp * gleam.light(u, v);
        }
        light
    }

    fn plain(&self) -> bool {
        self.gleam.is_none() && self.mesh.is_none()
    }
}

impl Rough {
    /// `None` where nothing disturbs.
    pub(super) fn new(world: &World<'_>) -> Option<Self> {
        let (scene, plan) = (world.scene, world.plan);
        let backlight = Backlight::new(scene);
        let gain = Gain::new(&scene.film.drift, scene, plan, 0);
        let lapse = Lapse::new(scene, plan);
        let mesh = Mesh::new(scene, &world.warp.to_screen);
        let moved = Moved::new(scene, plan);
        let on = scene.film.readout_ms > 0.0
            || scene.lamp.depth > 0.0
            || scene.glare.level > 0.0
            || backlight.varies()
            || gain.varies()
            || lapse.is_some()
            || mesh.is_some()
            || moved.is_some();
        (on && !scene.film.feed).then(|| Self {
            lamp: Sine::lamp(scene),
            backlight,
            gain,
            lapse,
            mesh,
            moved,
            light: vec![0.0; scene.film.size[0] * scene.film.size[1]],
            base_gain: scene.film.gain,
        })
    }

    /// Linear gain of the frame stamped `t`.
    pub(super) fn gain(&self, t: f64) -> f32 {
        (self.base_gain * self.gain.at(t)) as f32
    }

    /// Linear luminance of the frame stamped `t`, row-major.
    pub(super) fn light(
        &mut self,
        t: f64,
        world: &World<'_>,
        props: &Props,
        picture: impl Fn(usize) -> Picture + Sync,
    ) -> &[f32] {
        let mut light = std::mem::take(&mut self.light);
        let (w, h) = (props.lit.w, props.lit.h);
        let blur_px = self.lapse.as_ref().map_or(0.0, |l| l.px(t));
        let (this, picture) = (&*self, &picture);
        let rows = light.par_chunks_exact_mut(w).enumerate();
        rows.for_each(|(y, row)| {
            let open = world.clock.open_row(t, y, h);
            let over = Over {
                gleam: Gleam::at(&world.scene.glare, t),
                mesh: this.mesh.as_ref(),
                blur_px,
                lamp: this.lamp.mean(open) as f32,
                bright: world.scene.screen.brightness as f32,
            };
            let mut seen = Row {
                world,
                backlight: &this.backlight,
                picture,
                open,
                bands: vec![None; if world.scan_s() > 0.0 { BANDS } else { 1 }],
            };
            match &this.moved {
                Some(moved) => moved.row(row, y, open, &mut seen, &over, (world, props)),
                None => still(row, y, &mut seen, &over, (world, props)),
            }
        });
        if let (Some(lapse), true) = (&mut self.lapse, blur_px > 0.0) {
            lapse.blur(&mut light, blur_px);
        }
        self.light = light;
        &self.light
    }
}

/// A row seen by a camera that stands still.
fn still<P: Fn(usize) -> Picture>(
    row: &mut [f32],
    y: usize,
    seen: &mut Row<'_, P>,
    over: &Over<'_>,
    (world, props): (&World<'_>, &Props),
) {
    let width = props.lit.w;
    let base = &props.lit.values[y * width..(y + 1) * width];
    for (o, v) in row.iter_mut().zip(base) {
        *o = over.lamp * v;
    }
    let warp = world.warp;
    let (w, h) = warp.size;
    if (warp.origin.1..warp.origin.1 + h).contains(&y) {
        let start = (y - warp.origin.1) * w;
        let mut strengths = None;
        for (x, o) in row[warp.origin.0..].iter_mut().take(w).enumerate() {
            let i = start + x;
            let cover = warp.cover[i];
            if cover == 0.0 {
                continue;
            }
            let parts = seen.at(warp.row[i]).iter();
            let light: f32 = parts.map(|(p, share)| p.luma[i] * share).sum();
            let light = if over.plain() {
                over.bright * light
            } else {
                let at = ((warp.origin.0 + x) as f64 + 0.5, y as f64 + 0.5);
                let p = warp.to_screen.apply(Point::new(at.0, at.1));
                if i.is_multiple_of(STRIDE) || strengths.is_none() {
                    strengths = over.strengths(at);
                }
                over.light(light, (p.x, p.y), strengths.as_ref())
            };
            *o = cover * light + (1.0 - cover) * *o;
        }
    }
    if let Some(glow) = &props.glow {
        let [x0, _, w, _] = glow.rect;
        for (x, o) in row.iter_mut().enumerate().skip(x0).take(w) {
            *o += glow.value(x, y);
        }
    }
}
