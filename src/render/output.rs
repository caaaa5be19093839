//! From frames to the file: stamps, metadata, rotation.

use std::path::Path;

use super::RenderError;
use super::film::{Frame, Samples, Tint};
use super::scene::Scene;
use super::sound::Track;
use super::stretch::Stretch;
use crate::clip::{EncodeSpec, Encoder, Planes};

/// Writes the frames of one clip.
pub(crate) struct Output {
    encoder: Encoder,
    stretch: Stretch,
    track: Option<Track>,
    first_stamp_s: f64,
    upright: (usize, usize),
    /// Quarter turns a player applies.
    quarters: u8,
    grey8: Vec<u8>,
    grey10: Vec<u16>,
    depth: u8,
    full_range: bool,
    last: i64,
}

fn grey_or<'a, T>(own: &'a [T], grey: &'a [T]) -> &'a [T] {
    if own.is_empty() { grey } else { own }
}

impl Output {
    pub(crate) fn create(
        scene: &Scene,
        path: &Path,
        fps: f64,
        track: Option<Track>,
    ) -> Result<Self, RenderError> {
        let file = &scene.container;
        let quarters = (file.rotation / 90) as u8;
        let upright = (scene.film.size[0], scene.film.size[1]);
        let (w, h) = upright;
        let stored = if quarters % 2 == 1 { (h, w) } else { upright };
        let stored_fps = file.stored_fps.unwrap_or(fps);
        let tag = || ("com.android.capture.fps".to_owned(), format!("{fps:.6}"));
        let spec = EncodeSpec {
            codec: file.codec,
            size: stored,
            depth: file.depth,
            full_range: file.full_range,
            quality: file.quality,
            // Bits are paid for by the second as shot.
            kilobits: file.bit_rate_kbps.map(|rate| rate * stored_fps / fps),
            preset: file.preset.clone(),
            keyint: file.keyint,
            b_frames: file.b_frames,
            nominal_fps: stored_fps,
            quarter_turns: quarters,
            sound_rate: track.as_ref().map(|_| super::sound::RATE),
            metadata: file.capture_tag.then(tag).into_iter().collect(),
        };
        let count = w * h / 4;
        let mut encoder = Encoder::create(path, &spec)?;
        if let Some(track) = &track {
            encoder.delay_sound(track.first(file.first_stamp_s));
        }
        Ok(Self {
            encoder,
            stretch: Stretch::new(file, fps, stored_fps),
            track,
            first_stamp_s: file.first_stamp_s,
            upright,
            quarters,
            grey8: vec![128; count],
            grey10: vec![512; count],
            depth: file.depth,
            full_range: file.full_range,
            last: -1,
        })
    }

    /// Adds the frame that was shot at `t`, s.
    pub(crate) fn push(&mut self, t: f64, frame: Frame) -> Result<(), RenderError> {
        let ticks = self.encoder.ticks_per_second() as f64;
        let stored = self.stretch.stored(t);
        let stamp = ((stored + self.first_stamp_s) * ticks).round() as i64;
        let stamp = stamp.max(self.last + 1);
        self.last = stamp;
        let chroma = self.chroma(frame.chroma);
        match frame.luma {
            Samples::Eight(luma) => {
                let luma = turn(luma, self.upright, self.quarters);
                let own: [Vec<u8>; 2] = chroma.map(|p| p.iter().map(|v| *v as u8).collect());
                let [cb, cr] = [0, 1].map(|i| grey_or(&own[i], &self.grey8));
                let luma = &luma;
                self.encoder.push(Planes::Eight { luma, cb, cr }, stamp)?;
            }
            Samples::Sixteen(luma) => {
                let luma = turn(luma, self.upright, self.quarters);
                let [cb, cr] = [0, 1].map(|i| grey_or(&chroma[i], &self.grey10));
                let luma = &luma;
                self.encoder.push(Planes::Sixteen { luma, cb, cr }, stamp)?;
            }
        }
        // The sound up to there.
        if let Some(track) = &mut self.track {
            let samples = track.until(stored, &self.stretch);
            self.encoder.push_sound(&samples)?;
        }
        Ok(())
    }

    /// Samples of Cb and Cr as stored; empty where all is grey.
    fn chroma(&self, tint: Option<Tint>) -> [Vec<u16>; 2] {
        let Some(tint) = tint else {
            return [Vec::new(), Vec::new()];
        };
        let (middle, span) = match (self.depth, self.full_range) {
            (8, false) => (128.0, 224.0),
            (8, true) => (128.0, 255.0),
            (_, false) => (512.0, 896.0),
            (_, true) => (512.0, 1023.0),
        };
        let half = (self.upright.0 / 2, self.upright.1 / 2);
        tint.map(|plane| {
            let sample = |v: &f32| (middle + span * v).round().clamp(0.0, 2.0 * middle - 1.0);
            let samples = plane.iter().map(|v| sample(v) as u16).collect();
            turn(samples, half, self.quarters)
        })
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
    (0..w * h).map(|i| value(i % w, i / w)).collect()
}
