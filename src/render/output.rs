//! From frames to the file: stamps, metadata, rotation.

use std::path::Path;

use super::RenderError;
use super::film::Samples;
use super::scene::Scene;
use crate::clip::{EncodeSpec, Encoder, Planes};

/// Writes the frames of one clip.
pub(crate) struct Output {
    encoder: Encoder,
    /// Stored seconds per second as shot.
    stretch: f64,
    first_stamp_s: f64,
    upright: (usize, usize),
    /// Quarter turns a player applies.
    quarters: u8,
    chroma8: Vec<u8>,
    chroma10: Vec<u16>,
    last: i64,
}

impl Output {
    pub(crate) fn create(scene: &Scene, path: &Path, fps: f64) -> Result<Self, RenderError> {
        let file = &scene.container;
        let quarters = (file.rotation / 90) as u8;
        let upright = (scene.film.size[0], scene.film.size[1]);
        let stored = if quarters % 2 == 1 {
            (upright.1, upright.0)
        } else {
            upright
        };
        let stored_fps = file.stored_fps.unwrap_or(fps);
        let metadata = if file.capture_tag {
            vec![("com.android.capture.fps".to_owned(), format!("{fps:.6}"))]
        } else {
            Vec::new()
        };
        let spec = EncodeSpec {
            codec: file.codec,
            size: stored,
            depth: file.depth,
            full_range: file.full_range,
            quality: file.quality,
            preset: file.preset.clone(),
            keyint: file.keyint,
            b_frames: file.b_frames,
            nominal_fps: stored_fps,
            quarter_turns: quarters,
            metadata,
        };
        let count = upright.0 * upright.1 / 4;
        Ok(Self {
            encoder: Encoder::create(path, &spec)?,
            stretch: fps / stored_fps,
            first_stamp_s: file.first_stamp_s,
            upright,
            quarters,
            chroma8: vec![128; count],
            chroma10: vec![512; count],
            last: -1,
        })
    }

    /// Adds the frame that was shot at `t`, s.
    pub(crate) fn push(&mut self, t: f64, samples: Samples) -> Result<(), RenderError> {
        let ticks = self.encoder.ticks_per_second() as f64;
        let stamp = ((t * self.stretch + self.first_stamp_s) * ticks).round() as i64;
        let stamp = stamp.max(self.last + 1);
        self.last = stamp;
        match samples {
            Samples::Eight(luma) => {
                let luma = turn(luma, self.upright, self.quarters);
                let (cb, cr) = (&self.chroma8[..], &self.chroma8[..]);
                self.encoder.push(
                    Planes::Eight {
                        luma: &luma,
                        cb,
                        cr,
                    },
                    stamp,
                )?;
            }
            Samples::Sixteen(luma) => {
                let luma = turn(luma, self.upright, self.quarters);
                let (cb, cr) = (&self.chroma10[..], &self.chroma10[..]);
                self.encoder.push(
                    Planes::Sixteen {
                        luma: &luma,
                        cb,
                        cr,
                    },
                    stamp,
                )?;
            }
        }
        Ok(())
    }

    pub(crate) fn finish(self) -> Result<(), RenderError> {
        Ok(self.encoder.finish()?)
    }
}

/// The stored picture that `quarters` turns clockwise make upright again.
pub(crate) fn turn<T: Copy>(upright: Vec<T>, (w, h): (usize, usize), quarters: u8) -> Vec<T> {
    let at = |x: usize, y: usize| upright[y * w + x];
    match quarters % 4 {
        0 => upright,
        // Stored (x, y) is seen at upright (w − 1 − y, x) after one turn.
        1 => collect((h, w), |x, y| at(w - 1 - y, x)),
        2 => collect((w, h), |x, y| at(w - 1 - x, h - 1 - y)),
        _ => collect((h, w), |x, y| at(y, h - 1 - x)),
    }
}

fn collect<T>((w, h): (usize, usize), value: impl Fn(usize, usize) -> T) -> Vec<T> {
    let mut out = Vec::with_capacity(w * h);
    for y in 0..h {
        out.extend((0..w).map(|x| value(x, y)));
    }
    out
}
