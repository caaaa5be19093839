//! Chance: one seed, one independent stream per use, so that a change in one
//! part of a scene leaves the others as they were.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What chance is used for.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Use {
    Near = 1,
    Far = 2,
    Desk = 3,
    Refresh = 4,
    Pauses = 5,
    Kit = 6,
    Noise = 7,
    Rows = 8,
    Jitter = 9,
    Lamp = 10,
    Backlight = 11,
    Drift = 12,
    Shake = 13,
    Drops = 14,
    Sound = 15,
    Surround = 16,
}

/// The stream of one use.
pub(crate) fn stream(seed: u64, what: Use) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(what as u64);
    rng
}

/// A standard normal number (Box and Muller 1958).
pub(crate) fn normal(rng: &mut impl Rng) -> f64 {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * rng.random::<f64>()).cos()
}
