use super::*;
use crate::clip::Depth;
use crate::geometry::{Point, Quad, whole_screen};
use crate::units::StoredTime;

const SIZE: (usize, usize) = (320, 240);

fn meter(corners: [[f64; 2]; 4], masks: &[[f64; 4]]) -> BandMeter {
    let quad: Quad<StoredPx> = Quad::new(corners.map(|[x, y]| Point::new(x, y)));
    let to_picture = Homography::between(&whole_screen(), &quad).unwrap();
    BandMeter::new(
        [0.3, 0.3, 0.7, 0.7],
        masks,
        &to_picture,
        SIZE,
        &Grain::film(quad.height(), None),
    )
    .unwrap()
}

fn frame(samples: &[u16]) -> LumaFrame<'_> {
    LumaFrame {
        time: StoredTime(0.0),
        size: SIZE,
        samples: Depth::Sixteen(samples),
        stride: SIZE.0,
        levels: (0.0, 60000.0),
        key: false,
        chroma: None,
    }
}

/// A wave of light, of so many cycles per screen height, on a screen of 200 px.
fn wave(cph: f64, gain: f64, noise: u64) -> Vec<u16> {
    let mut state = noise;
    (0..SIZE.0 * SIZE.1)
        .map(|i| {
            let (x, y) = ((i % SIZE.0) as f64, (i / SIZE.0) as f64);
            let phase = std::f64::consts::TAU * cph / 200.0 * (0.8 * x + 0.6 * y);
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            let grain = if noise == 0 {
                0.0
            } else {
                ((state >> 40) % 3000) as f64 - 1500.0
            };
            (60000.0 * (gain * (0.5 + 0.1 * phase.cos())).sqrt() + grain) as u16
        })
        .collect()
}

const STRAIGHT: [[f64; 2]; 4] = [[10.0, 20.0], [310.0, 20.0], [310.0, 220.0], [10.0, 220.0]];

/// By Parseval a wave of amplitude a on a mean m has the energy (a ÷ m)² ÷ 2.
#[test]
fn a_wave_lies_in_its_band_with_its_energy_whatever_the_exposure() {
    let mut m = meter(STRAIGHT, &[]);
    for gain in [1.0, 0.5] {
        let picture = wave(30.0, gain, 0);
        let read = m.read(&frame(&picture), (0, 0), false);
        let all: f32 = read.own.iter().sum();
        let want = (0.1f32 / 0.5).powi(2) / 2.0;
        assert!((all / want - 1.0).abs() < 0.05, "{all} {want}");
        let top = (0..BANDS)
            .max_by(|a, b| read.own[*a].total_cmp(&read.own[*b]))
            .unwrap();
        assert!((m.frequencies()[top] / 30.0 - 1.0).abs() < 0.15);
        assert!(read.common.is_none());
    }
}

#[test]
fn what_two_frames_share_holds_no_noise() {
    let mut m = meter(STRAIGHT, &[]);
    let pictures: Vec<Vec<u16>> = (1..7).map(|k| wave(30.0, 1.0, k * 77)).collect();
    let clean = m
        .fresh()
        .read(&frame(&wave(30.0, 1.0, 0)), (0, 0), false)
        .own;
    let reads: Vec<BandReading> = pictures
        .iter()
        .map(|p| m.read(&frame(p), (0, 0), true))
        .collect();
    let sum = |e: &[f32; BANDS]| e.iter().sum::<f32>();
    for r in &reads[1..] {
        assert!(sum(&r.own) > 1.01 * sum(&clean));
        assert!((sum(&r.common.unwrap()) / sum(&clean) - 1.0).abs() < 0.02);
    }
}

/// The same picture on a screen that is larger in the film: bands are those of
/// the screen.
#[test]
fn bands_belong_to_the_screen_and_masks_leave_out() {
    let mut whole = meter(STRAIGHT, &[]);
    let mut masked = meter(STRAIGHT, &[[0.0, 0.0, 0.5, 1.0]]);
    let mut picture = wave(30.0, 1.0, 0);
    for y in 0..SIZE.1 {
        // Graphics in the left half of the screen.
        picture[y * SIZE.0 + 138..y * SIZE.0 + 146].fill(60000);
    }
    let plain = wave(30.0, 1.0, 0);
    let energy =
        |m: &mut BandMeter, p: &[u16]| m.read(&frame(p), (0, 0), false).own.iter().sum::<f32>();
    assert!(energy(&mut whole, &picture) > 1.2 * energy(&mut whole, &plain));
    assert!((energy(&mut masked, &picture) / energy(&mut masked, &plain) - 1.0).abs() < 0.05);
}

#[test]
fn an_area_too_small_is_refused() {
    let quad: Quad<StoredPx> = Quad::rect(10.0, 10.0, 40.0, 30.0);
    let to_picture = Homography::between(&whole_screen(), &quad).unwrap();
    assert!(
        BandMeter::new(
            [0.3, 0.3, 0.7, 0.7],
            &[],
            &to_picture,
            SIZE,
            &Grain::film(20.0, None)
        )
        .is_err()
    );
}
