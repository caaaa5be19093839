//! Colour in a frame: graphics on the screen and the trigger light, all else
//! is grey.
//!
//! Colour is carried as display values and dimmed as luma is; the filming
//! camera's movement and blur are not applied to it.

use super::exposure::Mix;
use super::frames::{Picture, World};
use super::props::{Glow, ON};
use super::sensor::Samples;

/// Cb and Cr of a frame at half its width and height, −0.5..=0.5.
pub(crate) type Tint = [Vec<f32>; 2];

/// A frame's samples.
pub(crate) struct Frame {
    pub luma: Samples,
    /// `None` where all is grey.
    pub chroma: Option<Tint>,
}

/// The colour of the frame stamped `t`; the trigger light is as it is then.
pub(super) fn chroma(
    t: f64,
    world: &World<'_>,
    glow: Option<&Glow>,
    picture: &impl Fn(usize) -> Picture,
) -> Option<Tint> {
    let glow = glow.filter(|g| g.coloured());
    let seen = seen(t, world, picture);
    if glow.is_none() && seen.iter().all(|(p, _)| p.chroma.is_none()) {
        return None;
    }
    let film = &world.scene.film;
    let dim = |light: f64| light.powf(1.0 / film.gamma) as f32;
    let [w, h] = film.size.map(|n| n / 2);
    let warp = world.warp;
    let mut out = [vec![0.0; w * h], vec![0.0; w * h]];
    let screen = dim(world.scene.screen.brightness * film.gain);
    for (print, share) in &seen {
        let Some(planes) = &print.chroma else {
            continue;
        };
        for (plane, to) in planes.iter().zip(&mut out) {
            for (i, v) in plane.iter().enumerate() {
                let x = (warp.origin.0 + i % warp.size.0) / 2;
                let y = (warp.origin.1 + i / warp.size.0) / 2;
                to[y.min(h - 1) * w + x.min(w - 1)] += 0.25 * screen * share * warp.cover[i] * v;
            }
        }
    }
    if let Some(glow) = glow {
        glow.tint(&mut out, film.size[0], dim(f64::from(ON) * film.gain));
    }
    Some(out)
}

/// The pictures that the middle of the frame sees; none where all are grey.
fn seen(t: f64, world: &World<'_>, picture: &impl Fn(usize) -> Picture) -> Vec<(Picture, f32)> {
    if world.scene.overlays.is_empty() {
        return Vec::new();
    }
    let middle = world.scan_s() / 2.0;
    Mix::of(world.updates, world.clock.open(t), middle).seen(picture)
}
