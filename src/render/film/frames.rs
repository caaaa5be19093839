//! Puts the frames together. Only what has changed since the frame before is
//! worked out again; noise is new in every frame.

use std::sync::Arc;

use super::direct::Direct;
use super::exposure::{Clock, Mix};
use super::scenery;
use super::sensor::{Samples, Sensor};
use super::warp::Warp;
use crate::geometry::{Quad, UprightPx};
use crate::render::layer::Canvas;
use crate::render::plan::Plan;
use crate::render::scene::{Scene, Stimulus};
use crate::render::schedule::Update;

/// A live-view picture as the film sees it: values of the warp's rectangle.
pub(crate) type Picture = Arc<Vec<f32>>;

/// Rows of the screen that are told apart when it is scanned out.
const BANDS: usize = 64;

/// Makes the film's frames one after the other.
pub(crate) struct FrameMaker<'a> {
    scene: &'a Scene,
    plan: &'a Plan,
    updates: &'a [Update],
    clock: &'a Clock,
    warp: &'a Warp,
    base: Canvas,
    sensor: Sensor,
    direct: Option<Direct>,
    mean: Vec<f32>,
    noise: Vec<f32>,
    shown: Vec<Mix>,
    placed: Option<[[f64; 2]; 2]>,
    lit: Option<f32>,
}

impl<'a> FrameMaker<'a> {
    pub(crate) fn new(
        scene: &'a Scene,
        plan: &'a Plan,
        (updates, clock, warp): (&'a [Update], &'a Clock, &'a Warp),
        quad: &Quad<UprightPx>,
        card: &Canvas,
    ) -> Self {
        let base = scenery::desk(scene, quad);
        let sensor = Sensor::new(scene);
        let gain = scene.film.gain as f32;
        let (mean, noise) = base.values.iter().map(|v| sensor.expose(v * gain)).unzip();
        Self {
            scene,
            plan,
            updates,
            clock,
            warp,
            direct: Direct::new(scene, card, quad.width() / quad.height()),
            base,
            sensor,
            mean,
            noise,
            shown: Vec::new(),
            placed: None,
            lit: None,
        }
    }

    /// Pictures that the exposure stamped `t` sees, per band of rows.
    pub(crate) fn mixes(&self, t: f64) -> Vec<Mix> {
        let scan = self.scene.screen.scan_out_ms / 1000.0;
        let open = self.clock.open(t);
        if scan == 0.0 || self.scene.film.feed {
            return vec![Mix::of(self.updates, open, 0.0)];
        }
        (0..BANDS)
            .map(|b| Mix::of(self.updates, open, scan * (b as f64 + 0.5) / BANDS as f64))
            .collect()
    }

    /// The frame stamped `t`; `picture` gives what an update shows.
    pub(crate) fn frame(
        &mut self,
        (index, t): (usize, f64),
        mixes: Vec<Mix>,
        picture: impl Fn(usize) -> Picture,
    ) -> Samples {
        if mixes != self.shown {
            self.put_screen(&mixes, picture);
            self.shown = mixes;
        }
        self.put_direct(t);
        self.put_light(t);
        self.sensor
            .sample(&self.mean, &self.noise, self.base.w, index as u64)
    }

    fn set(&mut self, at: usize, light: f32) {
        let gain = self.scene.film.gain as f32;
        (self.mean[at], self.noise[at]) = self.sensor.expose(light * gain);
    }

    fn put_screen(&mut self, mixes: &[Mix], picture: impl Fn(usize) -> Picture) {
        let (w, h) = self.warp.size;
        let bands: Vec<Vec<(Picture, f32)>> = mixes
            .iter()
            .map(|m| {
                m.parts
                    .iter()
                    .map(|(i, share)| (picture(*i), *share))
                    .collect()
            })
            .collect();
        let bright = self.scene.screen.brightness as f32;
        for y in 0..h {
            for x in 0..w {
                let i = y * w + x;
                let cover = self.warp.cover[i];
                if cover == 0.0 {
                    continue;
                }
                let band = (self.warp.row[i] * bands.len() as f32) as usize;
                let parts = &bands[band.min(bands.len() - 1)];
                let seen: f32 = parts.iter().map(|(p, share)| p[i] * share).sum();
                let at = (self.warp.origin.1 + y) * self.base.w + self.warp.origin.0 + x;
                let light = cover * bright * seen + (1.0 - cover) * self.base.values[at];
                self.set(at, light);
            }
        }
    }

    fn put_direct(&mut self, t: f64) {
        let Some(direct) = &self.direct else { return };
        let open = self.clock.open(t);
        let now = [self.plan.place(open.0), self.plan.place(open.1)];
        if self.placed == Some(now) {
            return;
        }
        self.placed = Some(now);
        let view = direct.expose(self.plan, open);
        let (origin, size) = (direct.origin, direct.size);
        for (j, row) in view.chunks_exact(size.0).enumerate() {
            let start = (origin.1 + j) * self.base.w + origin.0;
            for (i, v) in row.iter().enumerate() {
                self.set(start + i, *v);
            }
        }
    }

    /// The trigger light: a disc, dark grey when off.
    fn put_light(&mut self, t: f64) {
        if self.scene.stimulus != Stimulus::Light {
            return;
        }
        let share = self.lit_share(t);
        if self.lit == Some(share) {
            return;
        }
        self.lit = Some(share);
        let light = OFF + share * (ON - OFF);
        let [cx, cy] = self.scene.light.center;
        let r = self.scene.light.radius;
        let range = |c: f64, n: usize| {
            let clip = |v: f64| v.clamp(0.0, n as f64) as usize;
            clip((c - r - 1.0).floor())..clip((c + r + 1.0).ceil())
        };
        for y in range(cy, self.base.h) {
            for x in range(cx, self.base.w) {
                let distance = (x as f64 + 0.5 - cx).hypot(y as f64 + 0.5 - cy);
                let inside = (r + 0.5 - distance).clamp(0.0, 1.0) as f32;
                let at = y * self.base.w + x;
                let behind = self.base.values[at];
                self.set(at, behind + inside * (light - behind));
            }
        }
    }

    /// Share of the exposure during which the light is on.
    fn lit_share(&self, t: f64) -> f32 {
        let (from, to) = self.clock.open(t);
        if to <= from {
            return if self.plan.light_on(t) { 1.0 } else { 0.0 };
        }
        let lit = self.plan.lit.iter();
        let on: f64 = lit.map(|(a, b)| (b.min(to) - a.max(from)).max(0.0)).sum();
        (on / (to - from)) as f32
    }
}

/// Luminance of the trigger light, linear.
const OFF: f32 = 0.03;
const ON: f32 = 0.95;
