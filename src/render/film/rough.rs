//! Frames under light and cameras that are not steady: every row is exposed
//! at its own time, so every pixel is worked out in every frame.

use super::exposure::Mix;
use super::frames::{BANDS, Picture, World, late};
use super::props::Props;
use super::waves::{Backlight, Sine};

/// What disturbs the filming.
pub(super) struct Rough {
    lamp: Sine,
    backlight: Backlight,
    light: Vec<f32>,
    gain: f32,
}

/// Pictures seen by a row, for each band of the screen's rows.
type Bands = Vec<Option<Vec<(Picture, f32)>>>;

impl Rough {
    /// `None` where nothing disturbs.
    pub(super) fn new(world: &World<'_>) -> Option<Self> {
        let scene = world.scene;
        let backlight = Backlight::new(scene);
        let on = scene.film.readout_ms > 0.0 || scene.lamp.depth > 0.0 || backlight.varies();
        (on && !scene.film.feed).then(|| Self {
            lamp: Sine::lamp(scene),
            backlight,
            light: vec![0.0; scene.film.size[0] * scene.film.size[1]],
            gain: scene.film.gain as f32,
        })
    }

    /// Linear gain of the frame stamped `t`.
    pub(super) fn gain(&self, _t: f64) -> f32 {
        self.gain
    }

    /// Linear luminance of the frame stamped `t`, row-major.
    pub(super) fn light(
        &mut self,
        t: f64,
        world: &World<'_>,
        props: &Props,
        picture: impl Fn(usize) -> Picture,
    ) -> &[f32] {
        let mut light = std::mem::take(&mut self.light);
        let (w, h) = (props.lit.w, props.lit.h);
        for (y, row) in light.chunks_exact_mut(w).enumerate() {
            let open = world.clock.open_row(t, y, h);
            let lamp = self.lamp.mean(open) as f32;
            let base = &props.lit.values[y * w..(y + 1) * w];
            for (o, v) in row.iter_mut().zip(base) {
                *o = lamp * v;
            }
            self.put_screen(row, y, open, world, &picture);
            put_glow(row, y, props);
        }
        self.light = light;
        &self.light
    }

    fn put_screen(
        &self,
        row: &mut [f32],
        y: usize,
        open: (f64, f64),
        world: &World<'_>,
        picture: &impl Fn(usize) -> Picture,
    ) {
        let warp = world.warp;
        let (w, h) = warp.size;
        if y < warp.origin.1 || y >= warp.origin.1 + h {
            return;
        }
        let bright = world.scene.screen.brightness as f32;
        let mut bands: Bands = vec![None; if world.scan_s() > 0.0 { BANDS } else { 1 }];
        let start = (y - warp.origin.1) * w;
        for (x, o) in row[warp.origin.0..].iter_mut().take(w).enumerate() {
            let i = start + x;
            let cover = warp.cover[i];
            if cover == 0.0 {
                continue;
            }
            let band = (warp.row[i] * bands.len() as f32) as usize;
            let band = band.min(bands.len() - 1);
            let parts = bands[band].get_or_insert_with(|| {
                let late = late(world.scan_s(), band);
                let shone = |part| self.backlight.mean(part);
                Mix::lit(world.updates, open, late, shone).seen(picture)
            });
            let seen: f32 = parts.iter().map(|(p, share)| p.luma[i] * share).sum();
            *o = cover * bright * seen + (1.0 - cover) * *o;
        }
    }
}

fn put_glow(row: &mut [f32], y: usize, props: &Props) {
    let Some(glow) = &props.glow else { return };
    let [x0, _, w, _] = glow.rect;
    for (x, o) in row.iter_mut().enumerate().skip(x0).take(w) {
        *o += glow.value(x, y);
    }
}
