//! Puts the frames together. Where nothing disturbs, only what has changed
//! since the frame before is worked out again; noise is new in every frame.

use std::sync::Arc;

use super::exposure::{Clock, Mix};
use super::props::Props;
use super::rough::Rough;
use super::sensor::{Samples, Sensor};
use super::tint::{self, Frame};
use super::warp::Warp;
use crate::geometry::{Quad, UprightPx};
use crate::render::layer::{Canvas, Print};
use crate::render::plan::Plan;
use crate::render::scene::Scene;
use crate::render::schedule::{self, Update};

/// A live-view picture as the film sees it: values of the warp's rectangle.
pub(crate) type Picture = Arc<Print>;

/// Rows of the screen that are told apart when it is scanned out.
pub(super) const BANDS: usize = 64;

/// What a frame is made from.
pub(crate) struct World<'a> {
    pub scene: &'a Scene,
    pub plan: &'a Plan,
    pub updates: &'a [Update],
    pub clock: &'a Clock,
    pub warp: &'a Warp,
}

/// Makes the film's frames one after the other.
pub(crate) struct FrameMaker<'a> {
    world: World<'a>,
    props: Props,
    sensor: Sensor,
    rough: Option<Rough>,
    mean: Vec<f32>,
    noise: Vec<f32>,
    shown: Vec<Mix>,
}

impl<'a> FrameMaker<'a> {
    pub(crate) fn new(world: World<'a>, quad: &Quad<UprightPx>, card: &Canvas) -> Self {
        let scene = world.scene;
        let props = Props::new(scene, quad, card, world.warp.loose);
        let sensor = Sensor::new(scene);
        let gain = scene.film.gain as f32;
        let rough = Rough::new(&world);
        let steady = rough.is_none();
        let base = props.lit.values.iter().filter(|_| steady);
        let (mean, noise) = base.map(|v| sensor.expose(v * gain)).unzip();
        Self {
            world,
            props,
            sensor,
            rough,
            mean,
            noise,
            shown: Vec::new(),
        }
    }

    /// First and last update that the frame stamped `t` may see.
    pub(crate) fn needs(&self, t: f64) -> (usize, usize) {
        let (from, to) = self.world.clock.open(t);
        let half = self.world.clock.readout_s / 2.0;
        let scan = self.world.scan_s();
        let updates = self.world.updates;
        let seen = |t: f64| schedule::on_screen(updates, t);
        (seen(from - half - scan), seen(to + half))
    }

    /// The frame stamped `t`; `picture` gives what an update shows.
    pub(crate) fn frame(
        &mut self,
        (index, t): (usize, f64),
        picture: impl Fn(usize) -> Picture + Sync,
    ) -> Frame {
        // The luma first: it brings the trigger light to this frame.
        let luma = self.luma((index, t), &picture);
        Frame {
            chroma: tint::chroma(t, &self.world, self.props.glow.as_ref(), &picture),
            luma,
        }
    }

    fn luma(
        &mut self,
        (index, t): (usize, f64),
        picture: impl Fn(usize) -> Picture + Sync,
    ) -> Samples {
        let changed = self.props.at(t, self.world.plan, self.world.clock);
        let (w, index) = (self.props.lit.w, index as u64);
        if let Some(rough) = &mut self.rough {
            let gain = rough.gain(t);
            let light = rough.light(t, &self.world, &self.props, picture);
            return self.sensor.shoot(light, w, gain, index);
        }
        let mixes = self.world.mixes(t);
        if mixes != self.shown {
            self.put_screen(&mixes, picture);
            self.shown = mixes;
        }
        for [x0, y0, w, h] in changed {
            for y in y0..y0 + h {
                for x in x0..x0 + w {
                    self.set(y * self.props.lit.w + x, self.props.light(x, y));
                }
            }
        }
        self.sensor.sample(&self.mean, &self.noise, w, index)
    }

    fn set(&mut self, at: usize, light: f32) {
        let gain = self.world.scene.film.gain as f32;
        (self.mean[at], self.noise[at]) = self.sensor.expose(light * gain);
    }

    fn put_screen(&mut self, mixes: &[Mix], picture: impl Fn(usize) -> Picture) {
        let warp = self.world.warp;
        let (w, h) = warp.size;
        let bands: Vec<Vec<(Picture, f32)>> = mixes.iter().map(|m| m.seen(&picture)).collect();
        let bright = self.world.scene.screen.brightness as f32;
        for y in 0..h {
            for x in 0..w {
                let i = y * w + x;
                let cover = warp.cover[i];
                if cover == 0.0 {
                    continue;
                }
                let band = (warp.row[i] * bands.len() as f32) as usize;
                let parts = &bands[band.min(bands.len() - 1)];
                let seen: f32 = parts.iter().map(|(p, share)| p.luma[i] * share).sum();
                let at = (warp.origin.1 + y) * self.props.lit.w + warp.origin.0 + x;
                let light = cover * bright * seen + (1.0 - cover) * self.props.lit.values[at];
                self.set(at, light);
            }
        }
    }
}

impl World<'_> {
    /// Time a refresh takes from top to bottom, s.
    pub(super) fn scan_s(&self) -> f64 {
        if self.scene.film.feed {
            return 0.0;
        }
        self.scene.screen.scan_out_ms / 1000.0
    }

    /// Pictures that the exposure stamped `t` sees, per band of rows.
    pub(super) fn mixes(&self, t: f64) -> Vec<Mix> {
        let scan = self.scan_s();
        let open = self.clock.open(t);
        if scan == 0.0 {
            return vec![Mix::of(self.updates, open, 0.0)];
        }
        let mix = |band| Mix::of(self.updates, open, late(scan, band));
        (0..BANDS).map(mix).collect()
    }
}

/// How late a band of rows is refreshed, s.
pub(super) fn late(scan_s: f64, band: usize) -> f64 {
    scan_s * (band as f64 + 0.5) / BANDS as f64
}
