//! Setups of a session: clips of one camera, filmed from a stand that is put
//! up again between them.

use focuslag::render::Scene;
use focuslag::render::scene::{Outcome, Stimulus, Texture, Trial};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::held::framing;

/// A clip to be filmed.
pub struct Clip {
    pub name: String,
    pub scene: Scene,
}

/// One camera with its clips and those focused by hand.
pub struct Setup {
    pub name: String,
    pub clips: Vec<Clip>,
    /// One for light, near and far for a swing.
    pub by_hand: Vec<Clip>,
}

/// Two setups with one rig; the second reacts [`LATER_MS`] later.
pub struct Session {
    pub name: String,
    pub stimulus: Stimulus,
    pub setups: Vec<Setup>,
}

/// What the setups differ by.
pub const LATER_MS: f64 = 45.0;
pub const WINDOW_MS: f64 = 1200.0;
const HOLD_MS: f64 = 200.0;
/// Trials of a clip unless asked otherwise.
pub const TRIALS: usize = 10;
/// Film and screen, px.
const FRAME: [usize; 2] = [600, 460];
const SCREEN: [f64; 2] = [448.0, 336.0];
/// Where a trigger light is, px.
const LIGHT: [f64; 2] = [36.0, 36.0];

/// Draws a session of clips of `count` trials, framed alike unless `again`.
pub fn session(stimulus: Stimulus, seed: u64, count: usize, again: bool) -> Session {
    let kind = if stimulus == Stimulus::Light {
        "light"
    } else {
        "swing"
    };
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut base = base(stimulus, &mut rng);
    base.look_seed = Some(rng.random_range(1..1_000_000));
    let name = format!(
        "{kind}-{}-{count}-{seed}",
        if again { "again" } else { "still" }
    );
    let setups = [("early", 0.0), ("late", LATER_MS)].map(|(setup, later)| {
        let clips = rng.random_range(3..=5);
        let clip = |what: String, trials: Vec<Trial>, rng: &mut ChaCha8Rng| {
            let mut scene = base.clone();
            scene.seed = rng.random_range(1..1_000_000);
            frame(&mut scene, again, rng);
            scene.trials = trials;
            Clip {
                name: format!("{setup}-{what}"),
                scene,
            }
        };
        let clips = (0..clips)
            .map(|k| {
                let trials = deal(stimulus, later, count, &mut rng);
                clip(format!("{}", k + 1), trials, &mut rng)
            })
            .collect();
        let hands: &[&str] = if stimulus == Stimulus::Light {
            &["light"]
        } else {
            &["near", "far"]
        };
        let by_hand = hands
            .iter()
            .map(|side| {
                let mut c = clip(format!("hand-{side}"), Vec::new(), &mut rng);
                rest(&mut c.scene, side);
                c
            })
            .collect();
        Setup {
            name: setup.to_owned(),
            clips,
            by_hand,
        }
    });
    Session {
        name,
        stimulus,
        setups: setups.into(),
    }
}

fn base(stimulus: Stimulus, rng: &mut impl Rng) -> Scene {
    let mut s = Scene {
        stimulus,
        // All clips of a session show one card before one background.
        look_seed: Some(rng.random_range(1..1_000_000)),
        window_ms: WINDOW_MS,
        hold_ms: HOLD_MS,
        ..Scene::default()
    };
    let textures = [Texture::Noise, Texture::Leaves, Texture::Strokes];
    s.near.texture = textures[rng.random_range(0..textures.len())];
    s.far.texture = textures[rng.random_range(0..textures.len())];
    s.near.contrast = rng.random_range(0.2..0.4);
    s.far.contrast = rng.random_range(0.2..0.4);
    s.near.mean = rng.random_range(0.25..0.5);
    s.far.mean = rng.random_range(0.2..0.45);
    s.optics.near_permille = rng.random_range(20.0..45.0);
    s.optics.far_permille = rng.random_range(20.0..45.0);
    s.live_view.lag_ms = rng.random_range(35.0..95.0);
    s.motion.move_ms = rng.random_range(250.0..400.0);
    let whole = WINDOW_MS + HOLD_MS + s.live_view.lag_ms;
    s.motion.pause_ms = whole + 160.0;
    s.motion.pause_jitter_ms = 60.0;
    s.motion.lead_ms = 500.0;
    s.light.on_ms = whole + 60.0;
    s.light.off_ms = 600.0;
    s.light.center = LIGHT;
    s.light.radius = 10.0;
    s.film.size = FRAME;
    s
}

fn frame(scene: &mut Scene, again: bool, rng: &mut impl Rng) {
    let middle = [FRAME[0] as f64 / 2.0 + 14.0, FRAME[1] as f64 / 2.0];
    scene.screen.corners = Some(if again {
        framing::again(middle, SCREEN, rng)
    } else {
        framing::put(middle, SCREEN, 0.015)
    });
}

/// A clip in best focus, in which nothing happens.
fn rest(scene: &mut Scene, side: &str) {
    let sharp = Trial {
        delay_ms: Some(-1500.0),
        drive_ms: Some(100.0),
        ..Trial::default()
    };
    let (lead, tail, trial) = match side {
        "far" => (
            1500.0,
            0.0,
            Trial {
                outcome: Outcome::NeverMoved,
                ..Trial::default()
            },
        ),
        "near" => (
            0.0,
            2000.0,
            Trial {
                delay_ms: Some(-300.0),
                ..sharp
            },
        ),
        _ => (400.0, 1200.0, sharp),
    };
    scene.motion.lead_ms = lead;
    scene.motion.tail_ms = Some(tail);
    scene.trials = vec![trial];
}

/// Two plain ones first; on a swing after a miss a plain one, which is void (its
/// subject was not displaced).
fn deal(stimulus: Stimulus, later_ms: f64, count: usize, rng: &mut impl Rng) -> Vec<Trial> {
    let mut out: Vec<Trial> = Vec::new();
    for i in 0..count {
        let mut trial = Trial {
            delay_ms: Some(rng.random_range(50.0..160.0) + later_ms),
            drive_ms: Some(rng.random_range(100.0..380.0)),
            ..Trial::default()
        };
        let missed = out.last().is_some_and(|t| t.outcome != Outcome::Hit);
        if i >= 2 && !(missed && stimulus == Stimulus::Swing) {
            colour(&mut trial, rng);
        }
        out.push(trial);
    }
    out
}

fn colour(trial: &mut Trial, rng: &mut impl Rng) {
    match rng.random_range(0..100) {
        0..30 => {}
        30..50 => trial.overshoot_permille = Some(rng.random_range(2.0..10.0)),
        50..65 => {
            trial.hunts = Some(rng.random_range(1..4));
            trial.hunt_permille = Some(rng.random_range(4.0..12.0));
            trial.drive_ms = Some(rng.random_range(90.0..220.0));
        }
        65..82 => {
            trial.outcome = Outcome::Soft;
            trial.residual_permille = Some(rng.random_range(7.0..16.0));
        }
        82..91 => trial.outcome = Outcome::NeverMoved,
        _ => {
            trial.outcome = Outcome::HuntedOn;
            trial.hunt_permille = Some(rng.random_range(10.0..16.0));
        }
    }
}

/// The rig that fits a clip.
pub fn rig(clip: &Clip) -> String {
    let corners = clip.scene.screen.corners.expect("corners");
    let stimulus = if clip.scene.stimulus == Stimulus::Light {
        let [x, y] = clip.scene.light.center;
        let r = clip.scene.light.radius * 0.7;
        format!(
            "kind = \"light\"\nregion = [{}, {}, {}, {}]\n",
            x - r,
            y - r,
            x + r,
            y + r
        )
    } else {
        "kind = \"swing\"\n".to_owned()
    };
    format!(
        "name = \"stand\"\n[screen]\ncorners = {corners:?}\n[stimulus]\n{stimulus}[trial]\nwindow_ms = {WINDOW_MS}\n"
    )
}
