//! The scenes: each a kind of trouble, with chance from the seed.

use crate::played::Case;
use focuslag::render::Scene;
use focuslag::render::scene::{Outcome, Profile, Stimulus, Texture, Trial};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Which set a kept film was made from: one more for every change of it.
pub const SET: &str = "s2";

/// All cases of a seed.
pub fn cases(seed: u64) -> Vec<Case> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut out = Vec::new();
    let mut add =
        |name: &str, rng: &mut ChaCha8Rng, change: &dyn Fn(&mut Scene, &mut ChaCha8Rng)| {
            let mut scene = base(rng);
            change(&mut scene, rng);
            out.push(Case {
                name: name.to_owned(),
                scene,
            });
        };
    add("plain-240-60", &mut rng, &|_, _| ());
    add("plain-120-60", &mut rng, &|s, _| s.film.fps = 120.0);
    add("live30-240-60", &mut rng, &|s, _| {
        s.live_view.fps = Some(30.0)
    });
    add("screen30-240-30", &mut rng, &|s, _| {
        s.screen.refresh_hz = 30.0
    });
    add("screen120-240", &mut rng, &|s, _| {
        s.screen.refresh_hz = 120.0
    });
    add("overshoot", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.overshoot_permille = Some(r.random_range(6.0..16.0));
        }
    });
    add("hunting", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.hunts = Some(r.random_range(1..4));
        }
    });
    add("soft-lost", &mut rng, &|s, _| {
        let kinds = [
            Outcome::Hit,
            Outcome::Soft,
            Outcome::Hit,
            Outcome::Hit,
            Outcome::HuntedOn,
            Outcome::Hit,
            Outcome::NeverMoved,
            Outcome::Hit,
            Outcome::Hit,
            Outcome::DidNotStay,
            Outcome::Hit,
            Outcome::Relapse,
        ];
        s.trials = kinds
            .into_iter()
            .map(|k| Trial {
                outcome: k,
                ..Trial::default()
            })
            .collect();
    });
    add("early", &mut rng, &|s, _| {
        for (i, t) in s.trials.iter_mut().enumerate() {
            if i % 2 == 0 {
                t.delay_ms = Some(-250.0);
                t.drive_ms = Some(120.0);
            }
        }
        s.motion.move_ms = 500.0;
    });
    add("stop", &mut rng, &|s, _| {
        s.motion.profile = Profile::Stop;
        s.motion.bounce = 0.2;
    });
    add("dim-noisy", &mut rng, &|s, _| {
        s.film.read_noise = 0.012;
        s.film.full_well = 500.0;
        s.screen.brightness = 0.5;
    });
    add("noisy-120", &mut rng, &|s, _| {
        s.film.fps = 120.0;
        s.film.read_noise = 0.008;
        s.film.full_well = 900.0;
    });
    add("low-contrast", &mut rng, &|s, _| {
        s.near.contrast = 0.12;
        s.far.contrast = 0.12;
    });
    add("swap-textures", &mut rng, &|s, _| {
        s.near.texture = Texture::Strokes;
        s.far.texture = Texture::Noise;
    });
    add("direct-240-60", &mut rng, &|s, _| {
        s.film.direct_view = Some([16.0, 340.0, 228.0, 480.0]);
    });
    add("light-240-60", &mut rng, &|s, _| {
        s.stimulus = Stimulus::Light;
        s.light.on_ms = 2000.0;
    });
    add("feed-60", &mut rng, &|s, _| {
        s.film.feed = true;
        s.film.size = [640, 480];
    });
    add("shaking", &mut rng, &|s, r| {
        s.film.tremor.px = r.random_range(1.0..2.0);
        s.film.tremor.hz = r.random_range(2.0..8.0);
    });
    add("landing", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.landing_ms = Some(r.random_range(60.0..180.0));
        }
    });
    add("halting", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.halt_permille = Some(r.random_range(4.0..12.0));
            t.halt_ms = Some(r.random_range(60.0..200.0));
        }
    });
    add("small-overshoot", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.overshoot_permille = Some(r.random_range(2.0..8.0));
            t.swing_ms = Some(r.random_range(70.0..160.0));
        }
    });
    add("small-hunting", &mut rng, &|s, r| {
        for t in &mut s.trials {
            t.hunts = Some(r.random_range(1..5));
            t.hunt_permille = Some(r.random_range(2.0..8.0));
        }
    });
    add("ran-through", &mut rng, &|s, r| {
        for (i, t) in s.trials.iter_mut().enumerate().skip(2) {
            if i % 2 == 0 {
                t.outcome = Outcome::RanThrough;
                t.residual_permille = Some(r.random_range(7.0..14.0));
            }
        }
    });
    add("breathing", &mut rng, &|s, r| {
        s.optics.breathing = r.random_range(0.01..0.05);
    });
    add("phone-rate", &mut rng, &|s, r| {
        let [w, h] = s.film.size.map(|n| n as f64);
        let bits = r.random_range(0.08..0.14);
        s.container.bit_rate_kbps = Some(bits * w * h * s.film.fps / 1000.0);
    });
    add("small-light", &mut rng, &|s, r| {
        s.stimulus = Stimulus::Light;
        s.light.on_ms = 2000.0;
        s.light.center = [120.0, 80.0];
        s.light.radius = r.random_range(3.0..15.0);
        s.light.color = [1.0, 0.1, 0.05];
        s.light.surround_px = 45.0;
        s.light.surround.contrast = 0.4;
        s.lamp.depth = r.random_range(0.1..0.4);
    });
    add("bumped", &mut rng, &|s, r| {
        s.film.bump.px = [r.random_range(-10.0..10.0), r.random_range(3.0..8.0)];
        s.film.bump.hz = r.random_range(6.0..12.0);
        s.film.bump.stay_px = [r.random_range(-0.7..0.7), 0.3];
    });
    out
}

/// A scene of ordinary trials with textures and timing of its own.
fn base(rng: &mut ChaCha8Rng) -> Scene {
    let mut s = Scene {
        seed: rng.random_range(1..1_000_000),
        ..Scene::default()
    };
    let textures = [Texture::Noise, Texture::Leaves, Texture::Strokes];
    let pick = |r: &mut ChaCha8Rng| textures[r.random_range(0..textures.len())];
    s.near.texture = pick(rng);
    s.far.texture = pick(rng);
    s.near.scale = rng.random_range(0.8..1.4);
    s.far.scale = rng.random_range(0.8..1.4);
    s.near.contrast = rng.random_range(0.2..0.4);
    s.far.contrast = rng.random_range(0.2..0.4);
    s.near.mean = rng.random_range(0.25..0.5);
    s.far.mean = rng.random_range(0.2..0.45);
    s.motion.move_ms = rng.random_range(250.0..500.0);
    s.optics.near_permille = rng.random_range(20.0..45.0);
    s.optics.far_permille = rng.random_range(20.0..45.0);
    // Every other lens lands slowly.
    s.trials = (0..8)
        .map(|i| Trial {
            delay_ms: Some(rng.random_range(40.0..250.0)),
            drive_ms: Some(rng.random_range(90.0..600.0)),
            landing_ms: (i % 2 == 1).then(|| rng.random_range(60.0..180.0)),
            ..Trial::default()
        })
        .collect();
    s
}
