//! When the film's frames are exposed and which pictures each one sees.

use rand::RngExt;

use super::frames::Picture;
use crate::render::rng::{self, Use};
use crate::render::scene::Scene;
use crate::render::schedule::{self, Update};

/// Stamps of the film's frames. A stamp is the middle of the exposure.
#[derive(Clone, Debug)]
pub(crate) struct Clock {
    /// Index in the camera's own count and stamp in s; the first is 0 at 0 s.
    pub frames: Vec<(usize, f64)>,
    pub fps: f64,
    pub exposure_s: f64,
    /// From the top row's exposure to the bottom row's, s.
    pub readout_s: f64,
}

impl Clock {
    pub(crate) fn new(scene: &Scene, duration_s: f64) -> Self {
        let fps = fps(scene);
        let count = (duration_s * fps).floor() as usize;
        let mut rng = rng::stream(scene.seed, Use::Jitter);
        let jitter = scene.container.jitter_ms / 1000.0;
        let mut drops = rng::stream(scene.seed, Use::Drops);
        let file = &scene.container;
        let mut lost = |k: usize, t: f64| {
            let drawn = file.drop_share > 0.0 && drops.random::<f64>() < file.drop_share;
            let gap = file.gaps_s.iter().any(|[a, b]| (*a..*b).contains(&t));
            file.dropped.contains(&k) || (k > 0 && (drawn || gap))
        };
        let stamp = |k: usize| {
            let mut early = 0.0;
            if k > 0 {
                early = jitter * (2.0 * rng.random::<f64>() - 1.0);
            }
            (k, k as f64 / fps + early)
        };
        let frames = (0..count.max(1)).map(stamp);
        // A feed is not filmed.
        let filmed_s = |ms: f64| if scene.film.feed { 0.0 } else { ms / 1000.0 };
        Self {
            frames: frames.filter(|(k, t)| !lost(*k, *t)).collect(),
            fps,
            exposure_s: filmed_s(scene.film.exposure_ms),
            readout_s: filmed_s(scene.film.readout_ms),
        }
    }

    /// Begin and end of the exposure of row `y` of `h` of the frame stamped
    /// `t`: the middle row is exposed at the stamp.
    pub(crate) fn open_row(&self, t: f64, y: usize, h: usize) -> (f64, f64) {
        self.open(t + self.readout_s * ((y as f64 + 0.5) / h as f64 - 0.5))
    }

    /// Begin and end of the exposure stamped `t`.
    pub(crate) fn open(&self, t: f64) -> (f64, f64) {
        (t - self.exposure_s / 2.0, t + self.exposure_s / 2.0)
    }
}

/// Rate of the film as shot.
fn fps(scene: &Scene) -> f64 {
    if scene.film.feed {
        return schedule::live_fps(scene);
    }
    scene.film.fps
}

/// Pictures seen during one exposure with their shares, which sum to 1 where
/// the screen's light is steady.
#[derive(PartialEq)]
pub(super) struct Mix(Vec<(usize, f32)>);

impl Mix {
    /// For a row of the screen that is refreshed `late_s` after the top row.
    pub(super) fn of(updates: &[Update], open: (f64, f64), late_s: f64) -> Self {
        Self::lit(updates, open, late_s, |_| 1.0)
    }

    /// The same, each share by the `light` the screen gives while it is seen
    /// (mean from begin to end, 1 = `screen.brightness`).
    pub(super) fn lit(
        updates: &[Update],
        (from, to): (f64, f64),
        late_s: f64,
        light: impl Fn((f64, f64)) -> f64,
    ) -> Self {
        let (from, to) = (from - late_s, to - late_s);
        // A hair's breadth, so that a frame stamped with an update shows it.
        let first = schedule::on_screen(updates, from);
        let mut parts = Vec::with_capacity(2);
        for (i, update) in updates.iter().enumerate().skip(first) {
            let begin = if i == first { from } else { update.shown_s };
            let end = updates.get(i + 1).map_or(to, |next| next.shown_s.min(to));
            if begin >= to && i > first {
                break;
            }
            let (share, end) = if to > from {
                ((end - begin) / (to - from), end)
            } else {
                (1.0, begin)
            };
            if share > 1e-6 {
                let light = light((begin + late_s, end + late_s));
                parts.push((i, (share * light) as f32));
            }
            if to <= from {
                break;
            }
        }
        if parts.is_empty() {
            parts.push((first, 1.0));
        }
        Self(parts)
    }

    /// The pictures themselves with their shares.
    pub(super) fn seen(&self, picture: impl Fn(usize) -> Picture) -> Vec<(Picture, f32)> {
        let parts = self.0.iter();
        parts.map(|(i, share)| (picture(*i), *share)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn updates() -> Vec<Update> {
        (0..4)
            .map(|k| Update {
                taken_s: f64::from(k) - 9.0,
                shown_s: f64::from(k),
            })
            .collect()
    }

    fn parts(from: f64, to: f64, late: f64) -> Vec<(usize, f32)> {
        Mix::of(&updates(), (from, to), late).0
    }

    #[test]
    fn an_exposure_within_a_refresh_sees_one_picture() {
        assert_eq!(parts(1.2, 1.7, 0.0), [(1, 1.0)]);
        assert_eq!(parts(1.0, 1.0, 0.0), [(1, 1.0)]);
        assert_eq!(parts(3.2, 9.0, 0.0), [(3, 1.0)]);
    }

    #[test]
    fn an_exposure_across_a_refresh_blends_by_time() {
        let got = parts(0.75, 1.75, 0.0);
        assert_eq!(got, [(0, 0.25), (1, 0.75)]);
        let got = parts(0.5, 2.5, 0.0);
        assert_eq!(got, [(0, 0.25), (1, 0.5), (2, 0.25)]);
    }

    #[test]
    fn a_row_refreshed_late_sees_the_picture_before() {
        assert_eq!(parts(1.1, 1.3, 0.2), [(0, 0.5), (1, 0.5)]);
    }

    #[test]
    fn frames_are_lost_by_chance_and_in_gaps() {
        let mut scene = Scene::default();
        scene.container.drop_share = 0.1;
        scene.container.gaps_s = vec![[2.0, 2.5]];
        let clock = Clock::new(&scene, 10.0);
        // 2280 frames outside the gap, three standard deviations of the binomial.
        let want = 2280.0 * 0.9;
        assert!((clock.frames.len() as f64 - want).abs() < 3.0 * (2280.0_f64 * 0.09).sqrt());
        assert!(!clock.frames.iter().any(|f| (2.0..2.5).contains(&f.1)));
        assert_eq!(clock.frames[0].0, 0);
    }

    #[test]
    fn dropped_frames_leave_gaps_and_jitter_keeps_the_order() {
        let mut scene = Scene::default();
        scene.container.dropped = vec![3, 4];
        scene.container.jitter_ms = 1.5;
        let clock = Clock::new(&scene, 1.0);
        assert_eq!(clock.frames.len(), 238);
        assert_eq!(clock.frames[0], (0, 0.0));
        assert_eq!(clock.frames[3].0, 5);
        assert!(clock.frames.windows(2).all(|w| w[1].1 > w[0].1));
        let near = |(k, t): &(usize, f64)| (t - *k as f64 / 240.0).abs() <= 1.5e-3;
        assert!(clock.frames.iter().all(near));
    }
}
