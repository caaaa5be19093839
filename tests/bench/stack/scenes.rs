//! The stack as subject: hits, overshoot, hunting, soft and lost, at several
//! rates and under light that disturbs.

use std::path::PathBuf;

use focuslag::render::Scene;
use focuslag::render::scene::{Outcome, Stack, Stimulus, Trial};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::discs::Optics;
use crate::played::Case;

/// Which photographs, and by what chance.
pub struct Request {
    pub folder: PathBuf,
    pub marker: String,
    /// Position in best focus; else where the gradient is largest.
    pub focus: Option<f64>,
    /// Positions at the two ends that are used.
    pub ends: [f64; 2],
    pub seed: u64,
}

/// Corners of the screen, film px: the photographs are shown about as large
/// as they are.
const CORNERS: [[f64; 2]; 4] = [[121.0, 42.0], [519.0, 38.0], [523.0, 439.0], [118.0, 442.0]];

/// Trials of a clip.
const TRIALS: usize = 14;

type Change = fn(&mut Scene);

/// Rates, and what disturbs.
const KINDS: [(&str, Change); 9] = [
    ("240-60", |_| ()),
    ("120-60", |s| s.film.fps = 120.0),
    ("480-120", |s| {
        s.film.fps = 480.0;
        s.screen.refresh_hz = 120.0;
    }),
    ("live30-240-60", |s| s.live_view.fps = Some(30.0)),
    ("glare", |s| {
        s.glare.level = 0.15;
        s.glare.soft = 0.3;
        s.glare.area = [0.1, 0.1, 0.7, 0.6];
    }),
    ("mains", |s| {
        s.lamp.hz = 100.0;
        s.lamp.depth = 0.15;
    }),
    ("switched", |s| {
        s.screen.pwm.hz = 230.0;
        s.screen.pwm.depth = 0.5;
    }),
    ("noisy", |s| {
        s.film.read_noise = 0.008;
        s.film.full_well = 900.0;
    }),
    ("shaking", |s| {
        s.film.tremor.px = 1.5;
        s.film.tremor.hz = 5.0;
    }),
];

/// All cases of a seed.
pub fn cases(request: &Request, optics: &Optics) -> Vec<Case> {
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    KINDS
        .iter()
        .enumerate()
        .map(|(i, (name, change))| {
            // From either side of focus in turn.
            let mut scene = scene(request, optics, request.ends[i % 2], &mut rng);
            change(&mut scene);
            Case {
                name: (*name).to_owned(),
                scene,
            }
        })
        .collect()
}

fn scene(request: &Request, optics: &Optics, end: f64, rng: &mut ChaCha8Rng) -> Scene {
    let focus = request.focus.unwrap_or(optics.focus);
    let way = (end - focus) * rng.random_range(0.5..0.8);
    // What a lens may run past focus without leaving the photographs.
    let room = (request.ends[0] - focus)
        .abs()
        .min((request.ends[1] - focus).abs());
    let mut s = Scene {
        seed: rng.random_range(1..1_000_000),
        stimulus: Stimulus::Light,
        stack: Stack {
            folder: Some(request.folder.display().to_string()),
            marker: request.marker.clone(),
            focus,
            start: (focus + way).round(),
            px_per_unit: optics.px_per_unit(),
            ..Stack::default()
        },
        ..Scene::default()
    };
    s.light.on_ms = 2000.0;
    s.film.size = [640, 480];
    s.screen.corners = Some(CORNERS);
    s.light.center = [60.0, 60.0];
    s.light.radius = 14.0;
    s.trials = (0..TRIALS).map(|k| trial(k, optics, room, rng)).collect();
    s
}

/// Half of them plain hits, the others one of each kind.
fn trial(k: usize, optics: &Optics, room: f64, rng: &mut ChaCha8Rng) -> Trial {
    let px = |px: f64| (px / optics.px_per_unit()).min(room * 0.9);
    let base = Trial {
        delay_ms: Some(rng.random_range(40.0..250.0)),
        drive_ms: Some(rng.random_range(90.0..600.0)),
        ..Trial::default()
    };
    let outcome = |outcome| Trial {
        outcome,
        ..base.clone()
    };
    match k {
        1 | 8 => Trial {
            overshoot_permille: Some(px(rng.random_range(3.0..8.0))),
            ..base
        },
        3 | 10 => Trial {
            hunts: Some(rng.random_range(1..4)),
            hunt_permille: Some(px(rng.random_range(4.0..8.0))),
            ..base
        },
        5 => Trial {
            residual_permille: Some(px(rng.random_range(2.0..4.0))),
            ..outcome(Outcome::Soft)
        },
        7 => outcome(Outcome::NeverMoved),
        9 => Trial {
            hunt_permille: Some(px(6.0)),
            ..outcome(Outcome::HuntedOn)
        },
        12 => Trial {
            leave_permille: Some(px(8.0)),
            stay_ms: Some(450.0),
            ..outcome(Outcome::DidNotStay)
        },
        _ => base,
    }
}
