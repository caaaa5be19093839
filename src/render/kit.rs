//! Draws trials from a kit's habits.

use rand::RngExt;

use super::rng::{self, Use, normal};
use super::scene::{Kit, Outcome, Scene, Spread, Trial};

/// Plain trials where a scene lists none.
const PLAIN: usize = 6;

/// The scene's trials: as listed, drawn, or a few plain ones.
pub(crate) fn trials(scene: &Scene) -> Vec<Trial> {
    match &scene.kit {
        Some(kit) => draw(kit, scene),
        None if scene.trials.is_empty() => vec![Trial::default(); PLAIN],
        None => scene.trials.clone(),
    }
}

fn draw(kit: &Kit, scene: &Scene) -> Vec<Trial> {
    let mut rng = rng::stream(scene.seed, Use::Kit);
    let mut log_normal = {
        let mut rng = rng::stream(scene.seed ^ 0x9e37_79b9, Use::Kit);
        move |s: Spread| s.median * (s.log_sd * normal(&mut rng)).exp()
    };
    (0..kit.count)
        .map(|i| {
            // Near first, then by turns.
            let far = if i % 2 == 1 { kit.far_factor } else { 1.0 };
            let (end, extra) = (rng.random::<f64>(), rng.random::<f64>());
            let mut trial = Trial {
                outcome: outcome(kit, end),
                delay_ms: Some(log_normal(kit.delay_ms)),
                drive_ms: Some(far * log_normal(kit.drive_ms)),
                ..Trial::default()
            };
            let busy = !matches!(trial.outcome, Outcome::HuntedOn | Outcome::NeverMoved);
            let size = 0.6 + 0.8 * rng.random::<f64>();
            if busy && extra < kit.hunt {
                trial.hunts = Some(2 + (size * 2.5) as u32);
                trial.hunt_permille = Some(size * scene.lens.hunt_permille);
            } else if busy && extra < kit.hunt + kit.overshoot {
                trial.overshoot_permille = Some(size * OVERSHOOT);
            }
            trial
        })
        .collect()
}

/// Typical overshoot of a drawn trial, ‰ of blur.
const OVERSHOOT: f64 = 6.0;

fn outcome(kit: &Kit, draw: f64) -> Outcome {
    let mut left = draw;
    for (share, outcome) in [
        (kit.soft, Outcome::Soft),
        (kit.hunted_on, Outcome::HuntedOn),
        (kit.never_moved, Outcome::NeverMoved),
        (kit.did_not_stay, Outcome::DidNotStay),
    ] {
        if left < share {
            return outcome;
        }
        left -= share;
    }
    Outcome::Hit
}
