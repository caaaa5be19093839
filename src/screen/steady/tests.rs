//! Drawn screens whose place is known.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::*;
use crate::clip::{Depth, LumaFrame};
use crate::geometry::{Point, Quad, StoredPx};
use crate::units::StoredTime;

const SIZE: (usize, usize) = (480, 320);

/// A drawn frame: a lit, textured screen in a dark bezel on a grey desk.
#[derive(Clone, Copy)]
struct Drawn {
    /// Px right and down of where it belongs.
    at: (f64, f64),
    /// Luma of the live picture, and how much its texture varies it.
    light: f64,
    contrast: f64,
    /// Where the texture is in its course.
    phase: f64,
    /// Standard deviation of the film's blur, px.
    blur: f64,
    /// Seed of the noise.
    seed: u64,
}

const PLAIN: Drawn = Drawn {
    at: (0.0, 0.0),
    light: 0.55,
    contrast: 0.5,
    phase: 0.0,
    blur: 0.8,
    seed: 1,
};
const LEFT: f64 = 110.3;
const TOP: f64 = 70.7;
const RIGHT: f64 = 370.6;
const BOTTOM: f64 = 260.2;

/// The corners a person might have marked: near, not exact; turned by 0.6°.
fn quad() -> Quad<StoredPx> {
    Quad::new([
        Point::new(LEFT + 1.5, TOP - 2.0),
        Point::new(RIGHT + 1.0, TOP + 1.0),
        Point::new(RIGHT - 1.0, BOTTOM + 2.0),
        Point::new(LEFT - 2.0, BOTTOM - 1.0),
    ])
}

/// A soft step up at 0.
fn rise(x: f64, blur: f64) -> f64 {
    if x.abs() > 6.0 * blur {
        return f64::from(u8::from(x > 0.0));
    }
    0.5 * (1.0 + statrs::function::erf::erf(x / (blur * std::f64::consts::SQRT_2)))
}

fn draw(d: Drawn) -> Vec<u8> {
    let mut rng = ChaCha8Rng::seed_from_u64(d.seed);
    let tilt = 0.01;
    let mut out = Vec::with_capacity(SIZE.0 * SIZE.1);
    for y in 0..SIZE.1 {
        for x in 0..SIZE.0 {
            let (px, py) = (x as f64 + 0.5 - d.at.0, y as f64 + 0.5 - d.at.1);
            let (u, v) = (px + tilt * (py - 165.0), py - tilt * (px - 240.0));
            let inside = |m: f64| {
                rise(u - LEFT + m, d.blur)
                    * rise(RIGHT + m - u, d.blur)
                    * rise(v - TOP + m, d.blur)
                    * rise(BOTTOM + m - v, d.blur)
            };
            let wave = (0.31 * u + 0.17 * v + d.phase).sin() + (0.12 * u - 0.4 * v).cos();
            let live = d.light * (1.0 + 0.5 * d.contrast * wave);
            let (screen, bezel) = (inside(0.0), inside(26.0));
            // Light adds up before the tone curve.
            let light = screen * live.max(0.0).powi(2)
                + (1.0 - screen) * (bezel * 0.0009 + (1.0 - bezel) * 0.09);
            let noise: f64 = (0..4).map(|_| rng.random::<f64>() - 0.5).sum();
            let code = 16.0 + 219.0 * light.sqrt() + 2.0 * noise;
            out.push(code.round().clamp(0.0, 255.0) as u8);
        }
    }
    out
}

fn frame(samples: &[u8]) -> LumaFrame<'_> {
    LumaFrame {
        time: StoredTime(0.0),
        size: SIZE,
        samples: Depth::Eight(samples),
        stride: SIZE.0,
        levels: (16.0, 235.0),
        key: false,
        chroma: None,
    }
}

fn steady() -> Steady {
    Steady::new(&quad(), &frame(&draw(PLAIN))).unwrap()
}

fn off(p: &Place, at: (f64, f64)) -> f64 {
    (f64::from(p.moved[0]) - at.0).hypot(f64::from(p.moved[1]) - at.1)
}

/// A frame of a film in which the live picture changes all the time.
fn live(at: (f64, f64), k: u32) -> Vec<u8> {
    let t = f64::from(k);
    draw(Drawn {
        at,
        light: 0.5 + 0.2 * (0.3 * t).sin(),
        contrast: 0.3 + 0.2 * (0.7 * t).cos(),
        phase: 0.9 * t,
        seed: u64::from(k) + 7,
        ..PLAIN
    })
}

#[test]
fn the_screen_is_followed_to_a_fraction_of_a_pixel() {
    let steady = steady();
    let mut tracker = steady.tracker();
    for k in 0..40u32 {
        let t = f64::from(k);
        let at = (7.0 * (0.5 * t).sin(), 5.0 * (0.37 * t).sin());
        let p = tracker.place(&frame(&live(at, k)));
        assert_eq!(p.sight, Sight::Seen, "{k}");
        assert!(off(&p, at) < 0.35, "{k}: {p:?} for {at:?}");
        let rest = |m: f64, s: i16| (m - f64::from(s)).abs();
        assert!(rest(at.0, p.shift.0) < 1.0 && rest(at.1, p.shift.1) < 1.0);
    }
}

/// A switched backlight: a black band runs through the picture, and its rim
/// looks like the screen's upper or lower side.
#[test]
fn a_black_band_does_not_take_the_screen_along() {
    let steady = steady();
    let mut tracker = steady.tracker();
    for k in 0..120u32 {
        let mut film = live((0.0, 0.0), k);
        // 1.5 px a frame, downwards, over and over.
        let top = (f64::from(k) * 1.5 + TOP - 50.0) % (BOTTOM - TOP) + TOP - 70.0;
        for y in 0..SIZE.1 {
            if (top..top + 90.0).contains(&(y as f64)) {
                let row = &mut film[y * SIZE.0..(y + 1) * SIZE.0];
                row.iter_mut().for_each(|v| *v = (*v).min(22));
            }
        }
        let p = tracker.place(&frame(&film));
        assert!(off(&p, (0.0, 0.0)) < 1.7, "{k}: {p:?}");
    }
}

#[test]
fn nothing_moves_while_the_camera_stands_still() {
    let steady = steady();
    let mut tracker = steady.tracker();
    for k in 0..60 {
        let p = tracker.place(&frame(&live((0.0, 0.0), k)));
        assert_eq!((p.shift, p.stepped, p.sight), ((0, 0), false, Sight::Seen));
    }
}

#[test]
fn a_place_does_not_depend_on_what_came_before() {
    let steady = steady();
    let at = (11.4, -8.3);
    let film = live(at, 3);
    let fresh = steady.tracker().place(&frame(&film));
    let mut used = steady.tracker();
    for k in 0..12u32 {
        let t = f64::from(k) / 12.0;
        used.place(&frame(&live((at.0 * t, at.1 * t), k)));
    }
    let followed = used.place(&frame(&film));
    assert!(off(&fresh, at) < 0.35, "{fresh:?}");
    let before = (f64::from(followed.moved[0]), f64::from(followed.moved[1]));
    assert!(off(&fresh, before) < 0.1, "{fresh:?} {followed:?}");
    assert_eq!(fresh.shift, followed.shift);
}

#[test]
fn a_screen_out_of_reach_is_lost_and_found_again() {
    let steady = steady();
    let mut tracker = steady.tracker();
    let mut sights = Vec::new();
    for (k, at) in [
        (0.0, 0.0),
        (260.0, 0.0),
        (0.0, 150.0),
        (-420.0, 9.0),
        (2.0, 1.0),
    ]
    .into_iter()
    .enumerate()
    {
        let p = tracker.place(&frame(&live(at, k as u32)));
        sights.push(p.sight);
        if at == (2.0, 1.0) {
            assert!(off(&p, at) < 0.25, "{p:?}");
        }
    }
    use Sight::{Lost, Seen};
    assert_eq!(sights, [Seen, Lost, Lost, Lost, Seen]);
}

#[test]
fn a_dark_live_picture_is_no_loss() {
    let steady = steady();
    let mut tracker = steady.tracker();
    let at = (4.0, -3.0);
    let seen = tracker.place(&frame(&live(at, 1)));
    let night = draw(Drawn {
        at,
        light: 0.02,
        ..PLAIN
    });
    let dark = tracker.place(&frame(&night));
    assert_eq!(dark.sight, Sight::Dark);
    assert_eq!((dark.moved, dark.shift), (seen.moved, seen.shift));
    assert!(!dark.stepped);
}

#[test]
fn without_edges_there_is_nothing_to_follow() {
    let night = draw(Drawn {
        light: 0.02,
        ..PLAIN
    });
    assert_eq!(
        Steady::new(&quad(), &frame(&night)).err(),
        Some(Untracked::Edges)
    );
    let flat = vec![128u8; SIZE.0 * SIZE.1];
    assert_eq!(
        Steady::new(&quad(), &frame(&flat)).err(),
        Some(Untracked::Edges)
    );
}

#[test]
fn a_screen_at_the_frames_rim_is_still_followed() {
    // The right side of the screen lies outside the picture.
    let at = (105.0, 0.0);
    let moved = Quad::new(quad().corners.map(|c| Point::new(c.x + at.0, c.y)));
    let first = draw(Drawn { at, ..PLAIN });
    let steady = Steady::new(&moved, &frame(&first)).unwrap();
    let p = steady.tracker().place(&frame(&live((at.0 + 3.0, 2.0), 5)));
    assert!(off(&p, (3.0, 2.0)) < 0.35, "{p:?}");
}

#[test]
fn samples_of_sixteen_bits_say_the_same() {
    let film = live((3.3, -2.6), 4);
    let eight = steady().tracker().place(&frame(&film));
    let wide: Vec<u16> = film.iter().map(|v| u16::from(*v) * 4).collect();
    let sixteen = LumaFrame {
        samples: Depth::Sixteen(&wide),
        levels: (64.0, 940.0),
        ..frame(&film)
    };
    let sixteen = steady().tracker().place(&sixteen);
    assert!(off(&eight, (sixteen.moved[0].into(), sixteen.moved[1].into())) < 1e-3);
}

/// Edges of a screen whose film is blurred by so much at 240 frames a second.
fn clip(blur: impl Fn(f64) -> f64, at: impl Fn(f64) -> (f64, f64)) -> (Vec<Place>, Vec<f64>) {
    let steady = steady();
    let mut tracker = steady.tracker();
    (0..180u32)
        .map(|k| {
            let t = f64::from(k) / 120.0;
            let film = draw(Drawn {
                at: at(t),
                light: 0.5 + 0.1 * (9.0 * t).sin(),
                contrast: if (t * 1.3).fract() < 0.5 { 0.1 } else { 0.5 },
                phase: 40.0 * t,
                blur: blur(t),
                seed: u64::from(k) + 90,
            });
            (tracker.place(&frame(&film)), t)
        })
        .unzip()
}

#[test]
fn a_change_of_the_filming_cameras_focus_is_found_and_only_that() {
    let (places, times) = clip(
        |t| if (0.6..0.9).contains(&t) { 1.6 } else { 0.8 },
        |_| (0.0, 0.0),
    );
    let found = review(&places, &times).refocused;
    assert_eq!(found.len(), 1, "{found:?}");
    let (from, to) = (times[found[0].first], times[found[0].end - 1]);
    assert!(
        (0.4..=0.6).contains(&from) && (0.88..=1.1).contains(&to),
        "{from} {to}"
    );
    // Variances of blurs add up: 1.6² − 0.8² = 1.39².
    assert!((found[0].blur_px - 1.39).abs() < 0.3, "{found:?}");

    let still = clip(|_| 0.8, |_| (0.0, 0.0));
    assert_eq!(review(&still.0, &still.1).refocused, []);
    let shaking = clip(
        |_| 0.8,
        |t| (2.0 * (30.0 * t).sin(), 1.5 * (21.0 * t).cos() - 1.5),
    );
    let seen = review(&shaking.0, &shaking.1);
    assert_eq!(seen.refocused, []);
    assert!((seen.max_px - 2.0f64.hypot(3.0)).abs() < 0.6, "{seen:?}");
}

/// Values of the normal distribution function at 0, 0.5, … 3.5: Abramowitz &
/// Stegun 1964, table 26.1. A Gaussian edge of σ = 2 px sampled at every px.
#[test]
fn place_and_width_of_a_gaussian_edge() {
    let upper = [
        0.5,
        0.691_462_46,
        0.841_344_75,
        0.933_192_8,
        0.977_249_87,
        0.993_790_33,
        0.998_650_1,
        0.999_767_37,
    ];
    let mut profile = vec![1.0f32; 29];
    for (k, v) in upper.iter().enumerate() {
        profile[14 + k] = *v as f32;
        profile[14 - k] = 1.0 - *v as f32;
    }
    profile[..7].fill(0.0);
    let e = edge::find(&profile).unwrap();
    assert!((e.at - 14.0).abs() < 1e-3, "{e:?}");
    // σ·√(2π) = 5.01; differences over two px widen it a little.
    assert!((e.width - 5.01).abs() < 0.3, "{e:?}");
}
