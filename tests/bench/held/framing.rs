//! The filming camera put up again between clips.

use rand::{Rng, RngExt};

/// Corners of a screen, film px: TL TR BR BL.
pub type Corners = [[f64; 2]; 4];

/// A screen `size` px large about `middle`, moved by 5 to 10 px along either
/// axis, turned by 1 to 2° and up to 5 % larger or smaller.
pub fn again(middle: [f64; 2], size: [f64; 2], rng: &mut impl Rng) -> Corners {
    let mut sign = || if rng.random() { 1.0 } else { -1.0 };
    let (sx, sy, st) = (sign(), sign(), sign());
    let moved = [
        middle[0] + sx * rng.random_range(5.0..10.0),
        middle[1] + sy * rng.random_range(5.0..10.0),
    ];
    let turn = st * rng.random_range(1.0_f64..2.0).to_radians();
    let zoom = rng.random_range(0.95..1.05);
    put(moved, size.map(|v| v * zoom), turn)
}

/// A screen about `middle`, turned clockwise by `turn`, radians.
pub fn put(middle: [f64; 2], size: [f64; 2], turn: f64) -> Corners {
    let (sin, cos) = turn.sin_cos();
    [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[x, y]| {
        let (x, y) = (x * size[0], y * size[1]);
        [middle[0] + x * cos - y * sin, middle[1] + x * sin + y * cos]
    })
}
