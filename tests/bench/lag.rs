//! Measures the live-view lag of rendered clips whose lag is known.
//!
//! `cargo bench --bench lag -- [--seed N] [--clips M] [--only K] [--keep FOLDER]`
//!
//! `--only` plays one clip, by its number from 0. Clip by clip: another lag, frame rate, refresh, live view, law of motion,
//! noise, hand. Seeds from 1000 on have never been tuned on.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::path::Path;

use focuslag::prove::{self, Case, Score, Trouble};
use focuslag::render::scene::{At, Profile, Scene, Texture, Trial};
use focuslag::rig::Rig;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Name, film frames, refreshes and live-view pictures per second.
const RATES: [(&str, f64, f64, Option<f64>); 7] = [
    ("240-60", 240.0, 60.0, None),
    ("120-60", 120.0, 60.0, None),
    ("240-60-live30", 240.0, 60.0, Some(30.0)),
    ("240-30", 240.0, 30.0, None),
    ("480-120", 480.0, 120.0, None),
    ("240-59.94", 240.0, 59.94, None),
    ("240-60-live25", 240.0, 60.0, Some(25.0)),
];
/// What makes it hard.
const TROUBLES: [&str; 5] = ["plain", "noise", "hand", "stop", "pendulum"];

/// The file that a clip's timing goes to.
const TIMING: &str = "kit-amber.timing.json";

fn main() {
    let value = |name: &str| {
        let mut args = std::env::args().skip_while(|a| a != name);
        args.nth(1)
    };
    let number = |name: &str, usual: u64| value(name).map_or(usual, |v| v.parse().expect(name));
    let (seed, clips) = (number("--seed", 1), number("--clips", 14));
    let scratch = tempfile::tempdir().expect("a temporary folder");
    let keep = value("--keep");
    let folder = keep.as_ref().map_or(scratch.path(), Path::new);
    let mut all = Score::default();
    let mut silent = 0;
    println!(
        "{:<28} {:>9} {:>9} {:>7}",
        "clip", "true ms", "error ms", "2 u"
    );
    let only = value("--only").map(|v| v.parse::<u64>().expect("--only"));
    for k in only.map_or(0..clips, |k| k..k + 1) {
        let case = case(seed, usize::try_from(k).unwrap());
        let truth = prove::play(&case, folder, |_, _| ()).expect("a clip");
        // What is read of it below must be this clip's.
        let _ = std::fs::remove_file(folder.join(TIMING));
        let score = prove::measure(&case, &case.rig, &truth, folder).expect("a result");
        let lag = score.lag_ms.first().zip(score.lag_u_ms.first());
        let (error, twice) = lag.map_or(("none".to_owned(), String::new()), |(e, u)| {
            (format!("{e:+.2}"), format!("{:.2}", 2.0 * u))
        });
        silent += u64::from(lag.is_none());
        println!(
            "{:<28} {:>9.2} {error:>9} {twice:>7}",
            case.name, truth.live_view_lag_ms
        );
        if lag.is_none() {
            println!("  {}", reason(folder));
        }
        all.add(&score);
    }
    let mut sizes: Vec<f64> = all.lag_ms.iter().map(|e| e.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let held = all.lag_ms.iter().zip(&all.lag_u_ms);
    let held = held.filter(|(e, u)| e.abs() <= 2.0 * **u).count();
    let at = |p: f64| {
        let rank = (sizes.len() as f64 * p).ceil() as usize;
        sizes.get(rank.max(1) - 1).copied().unwrap_or(f64::NAN)
    };
    println!(
        "seed {seed}: {} lags, {silent} clips without; error p50 {:.2} ms, p95 {:.2}, max {:.2}; \
         within 2 u: {held} of {}",
        sizes.len(),
        at(0.5),
        at(0.95),
        at(1.0),
        sizes.len()
    );
}

/// What the timing file says of a lag that is not known.
fn reason(folder: &Path) -> String {
    let Ok(text) = std::fs::read_to_string(folder.join(TIMING)) else {
        return "no trial in it, so nothing was written".to_owned();
    };
    let timing: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    let warnings = timing["clips"][0]["warnings"].as_array();
    let words = warnings.into_iter().flatten().filter_map(|w| w.as_str());
    let mut said = words.filter(|w| w.contains("live-view lag"));
    said.next().unwrap_or("no reason given").to_owned()
}

fn case(seed: u64, k: usize) -> Case {
    let mut r = ChaCha8Rng::seed_from_u64(seed * 1000 + k as u64);
    let (rates, fps, refresh, live) = RATES[k % RATES.len()];
    let trouble = TROUBLES[(k + k / RATES.len()) % TROUBLES.len()];
    let textures = [Texture::Noise, Texture::Leaves, Texture::Strokes];
    let mut s = Scene {
        seed: r.random_range(1..1_000_000),
        ..Scene::default()
    };
    s.near.texture = textures[r.random_range(0..3)];
    s.far.texture = textures[r.random_range(0..3)];
    s.near.contrast = r.random_range(0.2..0.4);
    s.far.contrast = r.random_range(0.2..0.4);
    s.near.mean = r.random_range(0.25..0.5);
    s.far.mean = r.random_range(0.2..0.45);
    s.motion.move_ms = r.random_range(250.0..500.0);
    s.motion.pause_ms = 900.0;
    s.motion.lead_ms = 500.0;
    s.film.fps = fps;
    s.film.exposure_ms = r.random_range(1.0..700.0 / fps);
    s.film.direct_view = Some([16.0, 340.0, 228.0, 480.0]);
    s.screen.refresh_hz = refresh;
    s.live_view.fps = live;
    s.live_view.lag_ms = r.random_range(15.0..140.0);
    s.live_view.exposure_ms = r.random_range(3.0..16.0);
    s.trials = (0..5)
        .map(|_| Trial {
            delay_ms: Some(r.random_range(40.0..200.0)),
            drive_ms: Some(r.random_range(100.0..350.0)),
            ..Trial::default()
        })
        .collect();
    match trouble {
        "noise" => (s.film.read_noise, s.film.full_well) = (0.01, 700.0),
        "hand" => (s.film.tremor.px, s.film.tremor.hz) = (1.2, 5.0),
        "stop" => (s.motion.profile, s.motion.bounce) = (Profile::Stop, 0.2),
        "pendulum" => {
            s.at = At::Cover;
            s.window_ms = 500.0;
            (s.motion.move_ms, s.motion.pause_ms) = (r.random_range(900.0..1200.0), 0.0);
            s.motion.pause_jitter_ms = 0.0;
        }
        _ => {}
    }
    let truth = focuslag::render::foresee(&s).expect("a truth");
    let at = if trouble == "pendulum" {
        "cover"
    } else {
        "rest"
    };
    let rig = format!(
        "name = \"{rates}\"\n[screen]\ncorners = {:?}\nrefresh_hz = {refresh}\n[stimulus]\n\
         kind = \"swing\"\nat = \"{at}\"\nregion = {:?}\n[trial]\nwindow_ms = 500\n",
        truth.screen.corners.expect("a screen"),
        s.film.direct_view.expect("a direct view"),
    );
    Case {
        name: format!("{rates}-{trouble}-{seed}-{k}"),
        trouble: Trouble::None,
        scene: s,
        rig: Rig::parse(&rig, "rig").expect("a rig"),
    }
}
