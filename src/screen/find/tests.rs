//! Drawn screens whose place is known, and things that are none.

mod held;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;

use crate::clip::{Depth, FrameSink, LumaFrame};
use crate::units::StoredTime;

const SIZE: (usize, usize) = (480, 320);

/// A drawn film of 40 frames; `light` gives the luma at a place of a frame.
fn film(light: impl Fn(f64, f64, usize) -> f64) -> Looks {
    let stamps: Vec<f64> = (0..40).map(|k| f64::from(k) / 120.0).collect();
    let look = Look {
        size: SIZE,
        wanted: wanted(&stamps, 20),
        half_frame_s: 0.5 / 120.0,
        all: false,
    };
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let mut glance = Glance::new(&look);
    for (k, t) in stamps.iter().enumerate() {
        let samples: Vec<u8> = (0..SIZE.0 * SIZE.1)
            .map(|i| {
                let (x, y) = ((i % SIZE.0) as f64 + 0.5, (i / SIZE.0) as f64 + 0.5);
                let noise: f64 = rng.random_range(-0.012..0.012);
                ((light(x, y, k) + noise).clamp(0.0, 1.0) * 255.0).round() as u8
            })
            .collect();
        glance.frame(&LumaFrame {
            time: StoredTime(*t),
            size: SIZE,
            samples: Depth::Eight(&samples),
            stride: SIZE.0,
            levels: (0.0, 255.0),
            key: false,
            chroma: None,
        });
    }
    glance.finish().unwrap()
}

/// How far a place lies inside a turned rectangle, px.
fn depth(x: f64, y: f64, [cx, cy, w, h]: [f64; 4], turn: f64) -> f64 {
    let (dx, dy) = (x - cx, y - cy);
    let u = dx * turn.cos() + dy * turn.sin();
    let v = dy * turn.cos() - dx * turn.sin();
    (w / 2.0 - u.abs()).min(h / 2.0 - v.abs())
}

fn share(depth: f64) -> f64 {
    (depth + 0.5).clamp(0.0, 1.0)
}

/// Desk, dark rim and a live picture, on which a card comes and goes.
fn screen(x: f64, y: f64, k: usize, at: [f64; 4], turn: f64, live: bool) -> f64 {
    let d = depth(x, y, at, turn);
    let desk = 0.3 + 0.05 * (0.9 * x).sin() * (0.7 * y).cos();
    let rim = desk + share(d + 12.0) * (0.06 - desk);
    let card = live && k >= 20 && (x - at[0]).abs() < 0.3 * at[2];
    let picture = if card { 0.7 } else { 0.45 } + 0.12 * (0.35 * x).sin() * (0.3 * y).cos();
    rim + share(d) * (picture - rim)
}

const AT: [f64; 4] = [240.3, 160.8, 260.0, 180.0];
const TURN: f64 = 0.05;
const UPRIGHT: Orientation = Orientation {
    quarter_turns: 0,
    mirrored: false,
    stored: SIZE,
};

fn truth() -> [[f64; 2]; 4] {
    let [cx, cy, w, h] = AT;
    [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)].map(|(a, b)| {
        let (u, v) = (a * w, b * h);
        let (c, s) = (TURN.cos(), TURN.sin());
        [cx + u * c - v * s, cy + u * s + v * c]
    })
}

#[test]
fn a_turned_screen_is_found_to_a_part_of_a_pixel() {
    let looks = film(|x, y, k| screen(x, y, k, AT, TURN, true));
    let found = find(&looks, UPRIGHT).unwrap();
    for (got, want) in found.corners.corners.iter().zip(truth()) {
        let off = (got.x - want[0]).hypot(got.y - want[1]);
        assert!(off < 0.5, "{found:?} {want:?}");
    }
    assert_eq!(found.sureness(), "sure");
}

#[test]
fn corners_are_those_of_the_upright_frame() {
    let looks = film(|x, y, k| screen(x, y, k, AT, TURN, true));
    for quarter_turns in 0..4 {
        for mirrored in [false, true] {
            let turned = Orientation {
                quarter_turns,
                mirrored,
                stored: SIZE,
            };
            let found = find(&looks, turned).unwrap().corners;
            assert!(found.is_clockwise(), "{turned:?}");
            let c = found.corners;
            assert!(c[0].x < c[1].x && c[0].y < c[3].y, "{turned:?} {c:?}");
        }
    }
}

#[test]
fn a_window_that_does_not_change_is_no_screen() {
    let looks = film(|x, y, k| screen(x, y, k, AT, TURN, false));
    let refused = find(&looks, UPRIGHT).unwrap_err();
    assert!(matches!(refused, Refusal::Still(_)), "{refused:?}");
    assert!(refused.words().contains("does not change"));
}

#[test]
fn of_two_screens_none_is_named() {
    let left = [125.0, 160.0, 190.0, 130.0];
    let right = [355.0, 160.0, 190.0, 130.0];
    let looks = film(|x, y, k| {
        let at = if x < 240.0 { left } else { right };
        screen(x, y, k, at, 0.02, true)
    });
    let refused = find(&looks, UPRIGHT).unwrap_err();
    assert!(matches!(refused, Refusal::Two(..)), "{refused:?}");
}

#[test]
fn a_small_screen_and_no_screen_are_told_apart() {
    let small = [240.0, 160.0, 120.0, 80.0];
    let looks = film(|x, y, k| screen(x, y, k, small, 0.02, true));
    let refused = find(&looks, UPRIGHT).unwrap_err();
    assert!(matches!(refused, Refusal::Small(_)), "{refused:?}");
    // A textured desk over which something moves.
    let looks = film(|x, y, k| {
        let card = (x - 8.0 * k as f64).abs() < 60.0 && (y - 160.0).abs() < 70.0;
        0.4 + 0.2 * (0.21 * x).sin() * (0.17 * y).cos() + if card { 0.3 } else { 0.0 }
    });
    assert!(matches!(find(&looks, UPRIGHT), Err(Refusal::None(_))));
}
