use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A standard normal number (Box and Muller 1958).
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let radius = (-2.0 * (1.0 - rng.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * rng.random::<f64>()).cos()
}

/// Four seconds of white noise of standard deviation `noise` with a beep of
/// amplitude 0.1 (of full scale) from each `at`.
fn track(rate: f64, hz: f64, at: &[f64], for_s: f64, noise: f64, seed: u64) -> Vec<i16> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let n = (4.0 * rate) as usize;
    let sample = |i: usize| {
        let t = i as f64 / rate;
        let on = at.iter().any(|a| (*a..a + for_s).contains(&t));
        let beep = if on {
            0.1 * (std::f64::consts::TAU * hz * t + 0.7).sin()
        } else {
            0.0
        };
        ((beep + noise * normal(&mut rng)) * 32767.0).clamp(-32768.0, 32767.0) as i16
    };
    (0..n).map(sample).collect()
}

/// Against times known by construction: onset to within 5 ms, at rates, pitches,
/// lengths and noise (down to −6 dB of the beep's power over the whole band).
#[test]
fn beeps_are_timed_in_noise() {
    let mut worst: f64 = 0.0;
    for (i, (rate, hz, for_s, noise)) in [
        (48_000.0, 3000.0, 0.08, 0.0),
        (48_000.0, 2050.0, 0.05, 0.01),
        (44_100.0, 3970.0, 0.03, 0.03),
        (44_100.0, 2637.0, 0.30, 0.07),
        (48_000.0, 3130.0, 0.10, 0.14),
        (16_000.0, 2500.0, 0.06, 0.03),
        (48_000.0, 5200.0, 0.06, 0.07),
    ]
    .iter()
    .enumerate()
    {
        let at = [0.512_3, 1.407_7, 2.911_1];
        let found = tones(
            &track(*rate, *hz, &at, *for_s, *noise, 40 + i as u64),
            *rate,
        );
        assert_eq!(found.len(), 3, "{rate} {hz} {for_s} {noise}: {found:?}");
        for (tone, at) in found.iter().zip(at) {
            let off = tone.start_s.unwrap() - at;
            worst = worst.max(off.abs());
            assert!(off.abs() < 0.005, "{rate} {hz} {noise}: {off}");
            assert!((tone.hz - hz).abs() < 60.0, "{tone:?}");
            assert!((tone.end_s - at - for_s).abs() < 0.02, "{tone:?}");
        }
    }
    println!("worst {:.2} ms", 1e3 * worst);
}

#[test]
fn noise_knocks_speech_and_hum_are_no_beeps() {
    for seed in 0..6 {
        assert_eq!(
            tones(&track(48_000.0, 3000.0, &[], 0.0, 0.1, seed), 48_000.0),
            []
        );
    }
    let rate = 48_000.0;
    for hz in [900.0, 1700.0, 3200.0] {
        let knocks: Vec<i16> = (0..192_000_usize)
            .map(|i| {
                let since = (i % 24_000) as f64 / rate;
                let swing = (std::f64::consts::TAU * hz * since).sin();
                (9000.0 * (-since / 0.004).exp() * swing) as i16
            })
            .collect();
        assert_eq!(tones(&knocks, rate), [], "{hz}");
    }
    // A fan that hums throughout.
    let hum = track(rate, 2400.0, &[0.0], 9.0, 0.01, 3);
    assert_eq!(tones(&hum, rate), []);
    // A voice: many harmonics of 120 Hz that glide.
    let voice: Vec<i16> = (0..192_000_usize)
        .map(|i| {
            let t = i as f64 / rate;
            let phase = std::f64::consts::TAU * (120.0 * t + 3.0 * (2.0 * t).sin());
            let sum: f64 = (1..40)
                .map(|k| (f64::from(k) * phase).sin() / f64::from(k))
                .sum();
            (4000.0 * sum * (3.0 * t).sin().max(0.0)) as i16
        })
        .collect();
    assert_eq!(tones(&voice, rate), []);
}

#[test]
fn a_beep_over_a_hum_is_heard_and_one_at_the_start_has_no_beginning() {
    let rate = 48_000.0;
    let hum = track(rate, 1500.0, &[0.0], 9.0, 0.005, 4);
    let beep = track(rate, 3100.0, &[1.0], 0.1, 0.0, 5);
    let both: Vec<i16> = hum.iter().zip(&beep).map(|(a, b)| a + b).collect();
    let found = tones(&both, rate);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].start_s.unwrap() - 1.0).abs() < 0.005);
    let cut = tones(&beep[(1.03 * rate) as usize..], rate);
    assert_eq!(cut[0].start_s, None, "{cut:?}");
    assert_eq!(tones(&[], rate), []);
    assert_eq!(tones(&[0; 100], 4000.0), []);
}
