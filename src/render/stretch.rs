//! From seconds as shot to seconds of the file, and back.

use super::scene::Container;

/// How a file's time runs against the world's.
pub(crate) struct Stretch {
    /// Start as shot, start stored, stored seconds per second as shot.
    parts: Vec<(f64, f64, f64)>,
}

impl Stretch {
    /// A film of `fps` stored at `stored_fps`, but for the file's parts.
    pub(crate) fn new(file: &Container, fps: f64, stored_fps: f64) -> Self {
        let mut parts = vec![(0.0, 0.0, fps / stored_fps)];
        for s in &file.segments {
            let (shot, stored, slow) = parts[parts.len() - 1];
            // A part begins with a frame.
            let from = (s.from_s * fps).round() / fps;
            parts.push((from, stored + (from - shot) * slow, fps / s.fps));
        }
        Self { parts }
    }

    pub(crate) fn stored(&self, shot: f64) -> f64 {
        let after = self.parts.partition_point(|p| p.0 <= shot + 1e-9);
        let (from, stored, slow) = self.parts[after.max(1) - 1];
        stored + (shot - from) * slow
    }

    pub(crate) fn shot(&self, stored: f64) -> f64 {
        let after = self.parts.partition_point(|p| p.1 <= stored);
        let (shot, from, slow) = self.parts[after.max(1) - 1];
        shot + (stored - from) / slow
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::scene::Stored;

    #[test]
    fn a_slow_part_is_longer_and_what_follows_comes_later() {
        let segment = |from_s, fps| Stored { from_s, fps };
        let file = Container {
            segments: vec![segment(1.0, 30.0), segment(2.0, 240.0)],
            ..Container::default()
        };
        let stretch = Stretch::new(&file, 240.0, 240.0);
        for (shot, stored) in [(0.5, 0.5), (1.0, 1.0), (1.5, 5.0), (2.0, 9.0), (3.0, 10.0)] {
            assert!((stretch.stored(shot) - stored).abs() < 1e-12);
            assert!((stretch.shot(stored) - shot).abs() < 1e-12);
        }
    }
}
