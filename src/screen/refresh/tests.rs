use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A film of a held screen that changes for part of the time, with noise.
fn film(fps: f64, hz: f64, seconds: f64, seed: u64) -> (Vec<f64>, Vec<Option<f64>>) {
    film_of(fps, (hz, hz), seconds, seed)
}

/// The same of a screen of so many refreshes and live-view pictures a second.
fn film_of(
    fps: f64,
    (hz, live): (f64, f64),
    seconds: f64,
    seed: u64,
) -> (Vec<f64>, Vec<Option<f64>>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let n = (fps * seconds) as usize;
    let offset: f64 = rng.random::<f64>() / hz;
    let times: Vec<f64> = (0..n).map(|k| k as f64 / fps).collect();
    // A picture is shown from the first refresh after it is ready.
    let shown = |t: f64| (((t - offset) * hz).floor() * live / hz + 1e-6).floor();
    let change = (0..n)
        .map(|k| {
            let moving = (times[k] * 0.9).fract() < 0.5;
            let step = k > 0 && shown(times[k]) != shown(times[k - 1]);
            let size = if moving && step { 1.0 } else { 0.0 };
            (k > 0).then(|| 0.05 + 0.01 * rng.random::<f64>() + size * (0.3 + rng.random::<f64>()))
        })
        .collect();
    (times, change)
}

#[test]
fn common_screens_are_measured_from_common_films() {
    for (i, (fps, hz)) in [
        (240.0, 60.0),
        (240.0, 59.94),
        (239.76, 60.0),
        (120.0, 60.0),
        (120.0, 30.0),
        (240.0, 30.0),
        (240.0, 120.0),
        (240.0, 100.0),
        (480.0, 60.0),
        (960.0, 60.0),
        (60.0, 30.0),
        (240.0, 48.0),
    ]
    .iter()
    .enumerate()
    {
        for seconds in [3.0, 11.0] {
            let (times, change) = film(*fps, *hz, seconds, 7 + i as u64);
            let got = measure(&times, &change)
                .unwrap_or_else(|| panic!("{hz} Hz at {fps} fps for {seconds} s: none"));
            // Frames tell the phase to one frame, so the rate to a
            // frame's share of a cycle over the length of the film.
            let resolution = hz / fps / seconds + 0.05 / seconds;
            assert!(
                (1.0 / got.period_s - hz).abs() < resolution,
                "{hz} Hz at {fps} fps: {got:?}"
            );
        }
    }
}

#[test]
fn nothing_is_found_where_nothing_can_be() {
    let (times, change) = film(60.0, 60.0, 5.0, 3);
    assert_eq!(measure(&times, &change), None, "every frame changes");
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let noise: Vec<Option<f64>> = times.iter().map(|_| Some(rng.random())).collect();
    assert_eq!(measure(&times, &noise), None, "noise");
}

/// A rate far beyond the film's own is stated: no screen is looked for there.
#[test]
fn a_stated_rate_of_fifty_thousand_is_searched_at_once() {
    let (times, change) = film(240.0, 60.0, 20.0, 5);
    let times: Vec<f64> = times.iter().map(|t| t * 240.0 / 50_000.0).collect();
    let begun = std::time::Instant::now();
    assert_eq!(measure(&times, &change), None);
    assert!(begun.elapsed().as_secs_f64() < 8.0, "{:?}", begun.elapsed());
}

/// Refreshes a picture is held for are whole, so pictures at 25 a second on a
/// screen of 60 keep the phase of the 60: they must not be taken for 60.
#[test]
fn a_live_view_slower_than_its_screen_is_told_from_it() {
    let all = [
        (240.0, 60.0, 25.0),
        (240.0, 60.0, 24.0),
        (240.0, 60.0, 28.0),
        (480.0, 120.0, 50.0),
        (480.0, 120.0, 25.0),
        (240.0, 60.0, 30.0),
    ];
    for (i, (fps, hz, live)) in all.iter().enumerate() {
        for seed in [3, 40, 500] {
            let (times, change) = film_of(*fps, (*hz, *live), 8.0, seed + i as u64);
            let got = measure(&times, &change).expect("a rate");
            let rate = 1.0 / got.period_s;
            assert!((rate / live - 1.0).abs() < 0.01, "{live} on {hz}: {got:?}");
            assert!(!got.uneven, "{live} on {hz}: {got:?}");
        }
    }
}

/// 40 pictures on 60 refreshes: held for 1, 2, 1, 2 of them.
#[test]
fn pictures_held_for_one_refresh_or_two_are_uneven() {
    for (hz, live) in [(60.0, 40.0), (60.0, 50.0)] {
        let (times, change) = film_of(240.0, (hz, live), 8.0, 11);
        let got = measure(&times, &change).expect("a rate");
        assert!((1.0 / got.period_s - hz).abs() < 0.1, "{got:?}");
        assert!(got.uneven, "{live} on {hz}: {got:?}");
    }
    let (times, change) = film(240.0, 60.0, 8.0, 11);
    assert!(!measure(&times, &change).expect("a rate").uneven);
}

/// A shaken film changes for many frames on end, some times a second: that is
/// no screen of 11 updates a second.
#[test]
fn jerks_of_the_filming_camera_are_no_updates() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let times: Vec<f64> = (0..3400).map(|k| f64::from(k) / 480.0).collect();
    let jerk = |t: f64| [1.02, 1.11].iter().any(|at| (t - at).abs() < 0.009);
    let change: Vec<Option<f64>> = times
        .iter()
        .map(|t| Some(0.1 + 0.1 * rng.random::<f64>() + if jerk(*t) { 9.0 } else { 0.0 }))
        .collect();
    assert_eq!(measure(&times, &change), None);
}

/// Updates of a screen of 60 Hz during swings of a quarter of a second, one in ten
/// not seen: at 240 frames a second they keep 120 Hz as well, with gaps of 2.2 in
/// the mean.
#[test]
fn updates_in_groups_with_some_missed_tell_their_own_rate() {
    let swing = |n: i32| (0..15).map(move |k| f64::from(78 * n + k) / 60.0);
    let shown = (0..10).flat_map(swing).enumerate();
    let seen = shown.filter(|(k, _)| k % 10 != 7);
    let bursts: Vec<(f64, f64)> = seen.map(|(_, t)| (t + 1e-3, 1.0)).collect();
    let found = Updates {
        period_s: 1.0 / 120.0,
        phase_s: 1e-3,
        coherence: 1.0,
        uneven: false,
    };
    let slow = slower(&bursts, &found, 2.2);
    assert!((1.0 / slow.period_s - 60.0).abs() < 0.02, "{slow:?}");
    // A rate that pieces of a second tell to three in a hundred only.
    for about in [58.2, 61.8] {
        let rate = search(&bursts, about, PLAY * about);
        assert!((rate - 60.0).abs() < 0.02, "{about}: {rate}");
    }
}
