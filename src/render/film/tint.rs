//! Colour in a frame: graphics on the screen only, all else is grey.
//!
//! Colour is carried as display values and dimmed as luma is; the filming
//! camera's movement and blur are not applied to it.

use super::exposure::Mix;
use super::frames::{Picture, World};
use super::sensor::Samples;

/// Cb and Cr of a frame at half its width and height, −0.5..=0.5.
pub(crate) type Tint = [Vec<f32>; 2];

/// A frame's samples.
pub(crate) struct Frame {
    pub luma: Samples,
    /// `None` where all is grey.
    pub chroma: Option<Tint>,
}

/// The colour of the frame stamped `t`.
pub(super) fn chroma(
    t: f64,
    world: &World<'_>,
    picture: &impl Fn(usize) -> Picture,
) -> Option<Tint> {
    if world.scene.overlays.is_empty() {
        return None;
    }
    let middle = world.scan_s() / 2.0;
    let mix = Mix::of(world.updates, world.clock.open(t), middle);
    let seen = mix.seen(picture);
    if seen.iter().all(|(p, _)| p.chroma.is_none()) {
        return None;
    }
    let film = &world.scene.film;
    let light = world.scene.screen.brightness * film.gain;
    let dim = light.powf(1.0 / film.gamma) as f32;
    let [w, h] = film.size.map(|n| n / 2);
    let warp = world.warp;
    let mut out = [vec![0.0; w * h], vec![0.0; w * h]];
    for (print, share) in &seen {
        let Some(planes) = &print.chroma else {
            continue;
        };
        for (plane, to) in planes.iter().zip(&mut out) {
            for (i, v) in plane.iter().enumerate() {
                let (x, y) = (
                    (warp.origin.0 + i % warp.size.0) / 2,
                    (warp.origin.1 + i / warp.size.0) / 2,
                );
                to[y.min(h - 1) * w + x.min(w - 1)] += 0.25 * dim * share * warp.cover[i] * v;
            }
        }
    }
    Some(out)
}
