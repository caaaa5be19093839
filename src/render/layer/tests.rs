use std::path::Path;

use super::disc::{DiscTable, disc};
use super::fft2::{Fft2, good_size};
use super::{Composer, Stage, State};
use crate::render::scene::{Layer, Scene, Target, Texture};

/// u = diameter × frequency against 2·J₁(πu)/(πu): closed form, confirmed
/// with `scipy.special.j1`.
const MTF: [(f64, f64); 12] = [
    (0.1, 0.987_713_624_211),
    (0.25, 0.924_850_235_900),
    (0.5, 0.721_702_844_903),
    (0.705_084_844_527_23, 0.5),
    (0.9, 0.283_316_978_465),
    (1.0, 0.181_191_754_987),
    (1.088_536_734_455_36, 0.1),
    (1.219_669_891_27, 0.0),
    (1.5, -0.119_539_329_170),
    (1.634_719_350_38, -0.132_279_487_396),
    (2.0, -0.067_603_458_976),
    (2.233_130_594_38, 0.0),
];

#[test]
fn disc_agrees_with_the_closed_form() {
    for (u, want) in MTF {
        let got = disc(std::f64::consts::PI * u);
        assert!((got - want).abs() < 1e-10, "u = {u}: {got}, not {want}");
    }
    let third = disc(std::f64::consts::PI * 3.238_315_484_17);
    assert!(third.abs() < 1e-10);
}

#[test]
fn table_follows_the_disc() {
    let table = DiscTable::new(60.0);
    for k in 0..6000 {
        let x = f64::from(k) / 100.0 + 0.003;
        let off = f64::from(table.at(x as f32)) - disc(x);
        assert!(off.abs() < 2e-5, "{x}");
    }
}

#[test]
fn transform_there_and_back_is_the_same() {
    let fft = Fft2::new(12, 10);
    let data: Vec<_> = (0..120).map(|i| ((i * 37 % 101) as f32).into()).collect();
    let mut spectrum = fft.forward(data.clone());
    // Entry (fx, fy) = (0, 0) is the sum.
    let sum: f32 = (0..120).map(|i| (i * 37 % 101) as f32).sum();
    assert!((spectrum[0].re - sum).abs() < 1e-2);
    let mut back = Vec::new();
    fft.inverse(&mut spectrum, &mut back);
    assert!(back.iter().zip(&data).all(|(a, b)| (a - b).norm() < 1e-3));
    assert_eq!([7, 97, 480, 481].map(good_size), [8, 100, 480, 486]);
}

const SIZE: (usize, usize) = (240, 180);

fn still(near: f64, far: f64) -> State {
    State {
        blur: [near, far],
        center: [0.5, 0.5],
        moved: [0.0, 0.0],
        shot: None,
    }
}

/// Amplitude of the picture at `cycles` per pixel along x, phase of the first.
fn project(picture: &[f32], cycles: f64, reference: Option<(f64, f64)>) -> ((f64, f64), f64) {
    let (w, h) = SIZE;
    let (mut c, mut s) = (0.0, 0.0);
    // Whole periods only: 16 px each.
    let used = w / 16 * 16;
    for row in picture.chunks_exact(w) {
        for (x, v) in row[..used].iter().enumerate() {
            let angle = std::f64::consts::TAU * cycles * x as f64;
            c += f64::from(*v) * angle.cos();
            s += f64::from(*v) * angle.sin();
        }
    }
    let n = (used * h) as f64 / 2.0;
    let own = (c / n, s / n);
    let (rc, rs) = reference.unwrap_or(own);
    (own, (own.0 * rc + own.1 * rs) / rc.hypot(rs))
}

/// A grating of 16 px period, blurred with discs of many diameters: the
/// contrast that is left, with its sign, is the disc's transfer function.
#[test]
fn blurred_gratings_have_the_contrast_of_the_disc() {
    let dir = tempfile::tempdir().unwrap();
    let cycles = 1.0 / 16.0;
    let widest = 2.3 / cycles / SIZE.1 as f64 * 1000.0;
    let stage = Stage {
        size: SIZE,
        blur: [widest, widest],
        moved: 0.0,
    };
    let pad = (widest * SIZE.1 as f64 / 2000.0).ceil() as usize + 4;
    let (w, h) = (good_size(SIZE.0 + 2 * pad), good_size(SIZE.1 + 2 * pad));
    let grating = image::GrayImage::from_fn(w as u32, h as u32, |x, _| {
        let light = 0.5 + 0.4 * (std::f64::consts::TAU * cycles * f64::from(x)).sin();
        let code = 1.055 * light.powf(1.0 / 2.4) - 0.055;
        image::Luma([(255.0 * code).round() as u8])
    });
    grating.save(dir.path().join("grating.png")).unwrap();
    let scene = Scene {
        far: Layer {
            image: Some("grating.png".into()),
            mean: 0.5,
            contrast: 0.3,
            ..Layer::default()
        },
        ..Scene::default()
    };
    let composer = Composer::new(&scene, dir.path(), &stage).unwrap();
    let gone = |far: f64| State {
        center: [9.0, 9.0],
        ..still(0.0, far)
    };
    let [sharp, _] = composer.pair([&gone(0.0), &gone(0.0)]);
    let (reference, full) = project(&sharp, cycles, None);
    assert!(full > 0.1);
    for pair in MTF.chunks(2) {
        let states = [0, 1].map(|i| gone(pair[i].0 / cycles / SIZE.1 as f64 * 1000.0));
        let made = composer.pair([&states[0], &states[1]]);
        for (picture, (u, want)) in made.iter().zip(pair) {
            let left = project(picture, cycles, Some(reference)).1 / full;
            // The canvas is not a whole number of periods: its seam costs 1 %.
            assert!((left - want).abs() < 0.01, "u = {u}: {left}");
        }
    }
}

fn flat(near: f64, far: f64) -> Scene {
    Scene {
        near: Target {
            texture: Texture::Flat,
            mean: near,
            size: [0.5, 0.5],
            ..Target::default()
        },
        far: Layer {
            texture: Texture::Flat,
            mean: far,
            ..Layer::default()
        },
        ..Scene::default()
    }
}

/// How much of a pixel the card of `flat(0.8, 0.2)` covers.
fn cover(v: f32) -> f64 {
    (f64::from(v) - 0.2) / 0.6
}

fn middle_row(scene: &Scene, state: &State) -> Vec<f32> {
    let stage = Stage {
        size: SIZE,
        blur: [200.0, 200.0],
        moved: 40.0,
    };
    let composer = Composer::new(scene, Path::new("."), &stage).unwrap();
    let [picture, _] = composer.pair([state, state]);
    picture[SIZE.1 / 2 * SIZE.0..][..SIZE.0].to_vec()
}

/// Edge spread of a uniform disc of diameter d: 1/2 + (asin t + t·√(1 − t²))/π
/// with t = 2x/d, the area of a circle's segment.
#[test]
fn blurred_edge_of_the_card_is_a_circle_segment() {
    let d = 24.0;
    let row = middle_row(&flat(0.8, 0.2), &still(d / SIZE.1 as f64 * 1000.0, 0.0));
    let edge = SIZE.0 as f64 * 0.25;
    for (x, v) in row.iter().enumerate().take(SIZE.0 / 2) {
        let t = (2.0 * (x as f64 + 0.5 - edge) / d).clamp(-1.0, 1.0);
        let want = 0.5 + (t.asin() + t * (1.0 - t * t).sqrt()) / std::f64::consts::PI;
        let got = cover(*v);
        assert!((got - want).abs() < 0.004, "{x}: {got:.4}, not {want:.4}");
    }
}

/// The integral over an edge moves with the card, to a thousandth of a pixel.
#[test]
fn card_moves_by_fractions_of_a_pixel() {
    let scene = flat(0.8, 0.2);
    let place = |shift: f64| {
        let mut state = still(30.0, 0.0);
        state.center[0] += shift / SIZE.0 as f64;
        let row = middle_row(&scene, &state);
        let left = row[..SIZE.0 / 2].iter().map(|v| cover(*v));
        SIZE.0 as f64 / 2.0 - left.sum::<f64>()
    };
    let home = place(0.0);
    for shift in [0.25, 0.5, -0.7, 3.3, -11.9] {
        assert!((place(shift) - home - shift).abs() < 1e-3, "{shift}");
    }
}

/// A move of m px during the exposure turns an edge into a ramp m px long.
#[test]
fn exposure_smears_a_moving_edge_into_a_ramp() {
    let m = 20.0;
    let mut state = still(0.0, 0.0);
    state.moved = [m / SIZE.0 as f64, 0.0];
    let row = middle_row(&flat(0.8, 0.2), &state);
    let edge = SIZE.0 as f64 * 0.25;
    for (x, v) in row.iter().enumerate().take(SIZE.0 / 2) {
        let want = (0.5 + (x as f64 + 0.5 - edge) / m).clamp(0.0, 1.0);
        let got = cover(*v);
        assert!((got - want).abs() < 0.03, "{x}: {got:.4}, not {want:.4}");
    }
}

#[test]
fn textures_have_the_mean_and_contrast_asked_for() {
    for texture in [Texture::Noise, Texture::Leaves, Texture::Strokes] {
        let layer = Layer {
            texture,
            mean: 0.4,
            contrast: 0.2,
            ..Layer::default()
        };
        let origin = crate::render::scene::Origin::default();
        let mut rng = crate::render::rng::stream(5, crate::render::rng::Use::Far);
        let source = (Path::new("."), &origin, "far.image");
        let canvas = super::surface::surface(&layer, (250, 200), 200.0, source, &mut rng).unwrap();
        let n = canvas.values.len() as f64;
        let values = || canvas.values.iter().map(|v| f64::from(*v));
        let mean = values().sum::<f64>() / n;
        let squares = values().map(|v| (v - mean).powi(2));
        let deviation = (squares.sum::<f64>() / n).sqrt();
        assert!((mean - 0.4).abs() < 0.004, "{texture:?}: {mean}");
        assert!((deviation - 0.08).abs() < 0.004, "{texture:?}: {deviation}");
    }
}
