//! Simulated sessions with exactly known truth, to hold the statistics against.
//!
//! Latencies are log-normal (right-skewed, as focusing is), misses fall at
//! random, a clip may be slower or quicker as a whole, and stamps may be
//! quantised to the refreshes of a screen.
#![allow(
    dead_code,
    reason = "shared by a test and a bench that use parts of it"
)]

use std::collections::BTreeMap;

use focuslag::stats::normal;
use focuslag::store::schema::{
    Clip, FORMAT, ReferenceFrom, Screen, Setup, Side, Timing, Trial, VERSION, Verdict,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How a setup behaves.
#[derive(Clone, Copy, Debug)]
pub struct Scene {
    /// Clips filmed.
    pub clips: u32,
    /// Trials per clip, near and far in turn.
    pub trials: u32,
    /// Median latency near and far, ms.
    pub median_ms: [f64; 2],
    /// Standard deviation of the logarithm within a clip.
    pub log_sd: f64,
    /// Standard deviation of the logarithm between clips.
    pub clip_log_sd: f64,
    /// Added to every latency, ms.
    pub shift_ms: f64,
    /// Share of trials that never settle.
    pub miss: f64,
    /// Window, ms.
    pub window_ms: f64,
    /// Latencies are rounded to this grid, ms; 0 for none.
    pub grid_ms: f64,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            clips: 1,
            trials: 60,
            median_ms: [250.0, 320.0],
            log_sd: 0.35,
            clip_log_sd: 0.0,
            shift_ms: 0.0,
            miss: 0.1,
            window_ms: 1500.0,
            grid_ms: 0.0,
        }
    }
}

/// A generator for one simulated data set.
pub fn generator(case: u64, set: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(0x0F0C_0500 + case);
    rng.set_stream(set);
    rng
}

fn standard_normal(rng: &mut ChaCha8Rng) -> f64 {
    normal::quantile(rng.random_range(1e-12..1.0))
}

impl Scene {
    /// Share of trials of a side in focus by `ms` (within the window).
    pub fn in_focus_by(&self, side: usize, ms: f64) -> f64 {
        let sd = self.log_sd.hypot(self.clip_log_sd);
        let inner = ms - self.shift_ms;
        if inner <= 0.0 {
            return 0.0;
        }
        (1.0 - self.miss) * normal::below((inner / self.median_ms[side]).ln() / sd)
    }

    /// Standard deviation of a side's latencies (log-normal), ms.
    pub fn spread_ms(&self, side: usize) -> f64 {
        let v = self.log_sd.powi(2) + self.clip_log_sd.powi(2);
        self.median_ms[side] * (v / 2.0).exp() * (v.exp() - 1.0).sqrt()
    }

    /// Time by which a share `p` of a side's trials is in focus, ms.
    pub fn quantile(&self, side: usize, p: f64) -> f64 {
        let sd = self.log_sd.hypot(self.clip_log_sd);
        let z = normal::quantile(p / (1.0 - self.miss));
        self.shift_ms + self.median_ms[side] * (sd * z).exp()
    }

    /// Mean time-to-focus of a side counted no further than the window, ms.
    pub fn restricted_mean(&self, side: usize) -> f64 {
        let steps = 20_000;
        let step = self.window_ms / f64::from(steps);
        (0..steps)
            .map(|k| (1.0 - self.in_focus_by(side, (f64::from(k) + 0.5) * step)) * step)
            .sum()
    }

    /// One session.
    pub fn session(&self, name: &str, rng: &mut ChaCha8Rng) -> Timing {
        let clips = (0..self.clips).map(|c| self.clip(name, c, rng)).collect();
        Timing {
            format: FORMAT.to_owned(),
            version: VERSION,
            setup: Setup {
                name: name.to_owned(),
                tags: BTreeMap::new(),
            },
            rig: serde_json::json!({ "name": "bench-240", "stimulus": { "kind": "swing" } }),
            measure: serde_json::json!({ "name": "mid-band" }),
            made_by: BTreeMap::new(),
            clips,
            by_hand: Vec::new(),
            summary: None,
        }
    }

    fn clip(&self, name: &str, number: u32, rng: &mut ChaCha8Rng) -> Clip {
        let slower = (self.clip_log_sd * standard_normal(rng)).exp();
        let trials = (0..self.trials)
            .map(|k| {
                let side = (k % 2) as usize;
                let drawn =
                    self.median_ms[side] * slower * (self.log_sd * standard_normal(rng)).exp();
                let mut ms = self.shift_ms + drawn;
                if self.grid_ms > 0.0 {
                    ms = ((ms / self.grid_ms).round() * self.grid_ms).max(0.0);
                }
                let missed = rng.random_range(0.0..1.0) < self.miss || ms > self.window_ms;
                self.trial(k, side, (!missed).then_some(ms))
            })
            .collect();
        Clip {
            path: format!("{name}-{number}.mp4"),
            sha256: format!("{name}-{number}"),
            frames: 1440,
            duration_s: 600.0,
            capture_fps: Some(240.0),
            screen: Screen {
                corners: None,
                refresh_hz: Some(60.0),
                live_view_hz: None,
                height_px: None,
            },
            least_permille: None,
            live_view_lag_ms: None,
            live_view_lag_u_ms: None,
            live_view_mean_lag_ms: None,
            hygiene: None,
            steadiness: None,
            warnings: Vec::new(),
            error: None,
            trials,
        }
    }

    fn trial(&self, index: u32, side: usize, latency_ms: Option<f64>) -> Trial {
        let onset_s = 1.0 + 4.0 * f64::from(index);
        Trial {
            index,
            side: Some([Side::Near, Side::Far][side]),
            verdict: if latency_ms.is_some() {
                Verdict::Hit
            } else {
                Verdict::Lost
            },
            reason: latency_ms.is_none().then(|| "hunted on".to_owned()),
            early: Some(false),
            move_s: None,
            onset_s,
            reaction_s: None,
            settle_s: latency_ms.map(|ms| onset_s + ms / 1000.0),
            end_s: onset_s + self.window_ms / 1000.0,
            latency_ms,
            latency_corrected_ms: None,
            uncertainty_ms: None,
            reversals: None,
            relapses: None,
            overshoot_permille: None,
            onset_seen: None,
            delta_permille: Some(2.0),
            hit_limit_permille: Some(4.0),
            reference_from: Some(ReferenceFrom::Hand),
            close_call: false,
            blur_permille: None,
            cues: BTreeMap::new(),
        }
    }
}

/// Counts how often something held.
#[derive(Clone, Copy, Debug, Default)]
pub struct Share {
    /// How often it held.
    pub held: u64,
    /// How often it could have.
    pub of: u64,
}

impl Share {
    /// Adds one.
    pub fn add(&mut self, held: bool) {
        self.held += u64::from(held);
        self.of += 1;
    }

    /// The share, not a number if nothing was counted.
    pub fn value(self) -> f64 {
        self.held as f64 / self.of as f64
    }

    /// A share known without simulation.
    pub fn exact(share: f64) -> Self {
        Self {
            held: (share * 1e12) as u64,
            of: 1_000_000_000_000,
        }
    }

    /// Standard error of a share `p` over as many.
    pub fn standard_error(self, p: f64) -> f64 {
        (p * (1.0 - p) / self.of as f64).sqrt()
    }

    /// Whether the share is not above `p` by more than chance allows.
    pub fn at_most(self, p: f64) -> bool {
        self.of > 0 && self.value() <= p + 3.0 * self.standard_error(p)
    }

    /// Whether the share is not below `p` by more than chance allows.
    pub fn at_least(self, p: f64) -> bool {
        self.of > 0 && self.value() >= p - 3.0 * self.standard_error(p)
    }
}
