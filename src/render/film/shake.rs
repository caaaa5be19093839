//! Where the filming camera points: tremor of a hand, knocks.

use rand::RngExt;

use crate::render::plan::Plan;
use crate::render::rng::{self, Use};
use crate::render::scene::{Bump, Scene};

/// Shift of the picture in the frame (px, x right, y down) and its roll (rad).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Pose {
    pub x: f64,
    pub y: f64,
    pub roll: f64,
}

/// One of the sinusoids that make a direction's tremor.
#[derive(Clone, Copy, Debug)]
struct Wave {
    omega: f64,
    phase: f64,
}

/// The camera's movement over a clip.
#[derive(Clone, Debug)]
pub(crate) struct Shake {
    /// For x, y and roll.
    waves: [Vec<Wave>; 3],
    size: [f64; 3],
    bump: Bump,
    /// When it is knocked, s.
    knocks: Vec<f64>,
}

/// Sinusoids per direction.
const WAVES: usize = 6;

impl Shake {
    /// `None` where the camera stands still.
    pub(crate) fn new(scene: &Scene, plan: &Plan) -> Option<Self> {
        let film = &scene.film;
        let tremor = &film.tremor;
        let bump = film.bump.clone();
        let still = tremor.px == 0.0 && tremor.roll_mrad == 0.0;
        if film.feed || (still && bump.px == [0.0; 2] && bump.stay_px == [0.0; 2]) {
            return None;
        }
        let mut rng = rng::stream(scene.seed, Use::Shake);
        let mut wave = |k: usize| Wave {
            // From a third of the frequency to nearly twice, none harmonic.
            omega: std::f64::consts::TAU
                * tremor.hz
                * (0.35 + 0.27 * (k as f64 + 0.5 * rng.random::<f64>())),
            phase: std::f64::consts::TAU * rng.random::<f64>(),
        };
        let waves = [0, 1, 2].map(|_| (0..WAVES).map(&mut wave).collect());
        Some(Self {
            waves,
            size: [tremor.px, tremor.px, tremor.roll_mrad / 1000.0],
            knocks: onsets(plan, &bump.trials)
                .map(|t| t + bump.at_ms / 1000.0)
                .collect(),
            bump,
        })
    }

    pub(crate) fn at(&self, t: f64) -> Pose {
        let hand = [0, 1, 2].map(|i| {
            let sum: f64 = self.waves[i]
                .iter()
                .map(|w| (w.omega * t + w.phase).sin())
                .sum();
            self.size[i] * sum * (2.0 / WAVES as f64).sqrt()
        });
        let knocked = [0, 1].map(|i| {
            let knocks = self.knocks.iter().filter(|k| **k <= t);
            knocks.map(|k| self.knock(i, t - k)).sum::<f64>()
        });
        Pose {
            x: hand[0] + knocked[0],
            y: hand[1] + knocked[1],
            roll: hand[2],
        }
    }

    /// Shift `since` seconds after a knock: a damped swing, and what stays.
    fn knock(&self, i: usize, since: f64) -> f64 {
        let fade = (-since * 1000.0 / self.bump.decay_ms).exp();
        let swing = (std::f64::consts::TAU * self.bump.hz * since).sin();
        self.bump.px[i] * fade * swing + self.bump.stay_px[i] * (1.0 - fade)
    }
}

/// Onsets of the trials listed, of all where none is.
pub(super) fn onsets<'a>(plan: &'a Plan, trials: &'a [usize]) -> impl Iterator<Item = f64> + 'a {
    let all = plan.events.iter().enumerate();
    all.filter(|(i, _)| trials.is_empty() || trials.contains(i))
        .map(|(_, e)| e.onset_s)
}

impl Pose {
    /// Where a point of the moved frame lies in the frame at rest.
    #[inline]
    pub(crate) fn undo(&self, (x, y): (f64, f64), (cx, cy): (f64, f64)) -> (f64, f64) {
        let (dx, dy) = (x - self.x - cx, y - self.y - cy);
        if self.roll == 0.0 {
            return (dx + cx, dy + cy);
        }
        let (sin, cos) = self.roll.sin_cos();
        (cos * dx + sin * dy + cx, cos * dy - sin * dx + cy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shake(change: impl Fn(&mut Scene)) -> Option<Shake> {
        let mut scene = Scene::default();
        change(&mut scene);
        let plan = Plan::new(&scene);
        Shake::new(&scene, &plan)
    }

    #[test]
    fn a_tremor_has_the_size_asked_for() {
        assert!(shake(|_| ()).is_none());
        let shake = shake(|s| s.film.tremor.px = 0.8).unwrap();
        let n = 40_000;
        let square = |v: f64| v * v;
        let sums = (0..n).map(|k| shake.at(f64::from(k) * 2e-3));
        let (x, y) = sums.fold((0.0, 0.0), |(x, y), p| (x + square(p.x), y + square(p.y)));
        for sum in [x, y] {
            let rms: f64 = (sum / f64::from(n)).sqrt();
            assert!((rms / 0.8 - 1.0).abs() < 0.03, "{rms}");
        }
    }

    /// A damped swing of 10 Hz and 100 ms: a quarter period after the knock it
    /// stands at A·e^(−0.25).
    #[test]
    fn a_knock_swings_dies_down_and_leaves_its_mark() {
        let shake = shake(|s| {
            s.film.bump.px = [3.0, 0.0];
            s.film.bump.stay_px = [0.0, 1.5];
            s.film.bump.hz = 10.0;
            s.film.bump.decay_ms = 100.0;
            s.film.bump.trials = vec![1];
        })
        .unwrap();
        let knock = shake.knocks[0];
        assert_eq!(shake.knocks.len(), 1);
        assert_eq!(shake.at(knock - 1e-6), Pose::default());
        let quarter = shake.at(knock + 0.025);
        assert!((quarter.x - 3.0 * (-0.25_f64).exp()).abs() < 1e-9);
        let after = shake.at(knock + 3.0);
        assert!(after.x.abs() < 1e-9 && (after.y - 1.5).abs() < 1e-9);
    }

    #[test]
    fn a_pose_is_undone() {
        let pose = Pose {
            x: 2.0,
            y: -1.0,
            roll: 0.1,
        };
        // The middle of the frame at rest is seen shifted, and turned about
        // itself it stays.
        let (x, y) = pose.undo((52.0, 39.0), (50.0, 40.0));
        assert!((x - 50.0).abs() < 1e-12 && (y - 40.0).abs() < 1e-12);
        // 10 px right of it is seen turned clockwise (y down).
        let (sin, cos) = 0.1_f64.sin_cos();
        let seen = (52.0 + 10.0 * cos, 39.0 + 10.0 * sin);
        let (x, y) = pose.undo(seen, (50.0, 40.0));
        assert!((x - 60.0).abs() < 1e-9 && (y - 40.0).abs() < 1e-9);
    }
}
