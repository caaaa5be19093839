//! Found trials held against true ones.

use focuslag::render::{TrialTruth, Truth, Verdict as TrueVerdict};
use focuslag::store::schema::{Timing, Trial, Verdict};

pub const HEADER: &str = "scene                trials  missed  extra  wrong  void!  \
settle error outside pair ms: median / |p95| / worst (pair p50)  in units p95   onset ms: median / |p95|  cover k=2";

/// Onset of a found trial that belongs to a true one, seconds.
const SAME_TRIAL_S: f64 = 0.4;

#[derive(Default)]
pub struct Score {
    trials: usize,
    missed: usize,
    extra: usize,
    wrong: usize,
    void_by_mistake: usize,
    settle_ms: Vec<f64>,
    units: Vec<f64>,
    width_ms: Vec<f64>,
    onset_ms: Vec<f64>,
    covered: Vec<bool>,
}

impl Score {
    pub fn of(truth: &Truth, timing: &Timing, verbose: bool) -> Self {
        let mut s = Self::default();
        let direct = timing
            .rig
            .pointer("/stimulus/region")
            .is_some_and(|r| !r.is_null());
        let found = &timing.clips[0].trials;
        let mut used = vec![false; found.len()];
        let unit_ms = 1e3 / truth.refresh_hz.min(truth.live_view_fps) + 1e3 / truth.capture_fps;
        if verbose {
            println!(
                "  refresh {:?} (true {}, live view {}) warnings {:?}",
                timing.clips[0].screen.refresh_hz,
                truth.refresh_hz,
                truth.live_view_fps,
                timing.clips[0].warnings
            );
        }
        for (i, t) in truth.trials.iter().enumerate() {
            s.trials += 1;
            let onset = match t.direct_onset_s {
                Some(d) if direct => d,
                _ => t.onset_s,
            };
            let nearest = found
                .iter()
                .enumerate()
                .filter(|(k, f)| !used[*k] && (f.onset_s - onset).abs() < SAME_TRIAL_S)
                .min_by(|a, b| {
                    (a.1.onset_s - onset)
                        .abs()
                        .total_cmp(&(b.1.onset_s - onset).abs())
                });
            let Some((k, f)) = nearest else {
                s.missed += 1;
                if verbose {
                    println!(
                        "  {i}: missed: {:?} {:?} onset {onset:.4}",
                        t.side, t.verdict
                    );
                }
                continue;
            };
            used[k] = true;
            s.trial(i, t, f, onset, unit_ms, verbose);
        }
        s.extra = used.iter().filter(|u| !**u).count();
        s
    }

    fn trial(
        &mut self,
        i: usize,
        t: &TrialTruth,
        f: &Trial,
        onset: f64,
        unit_ms: f64,
        verbose: bool,
    ) {
        let same_verdict = matches!(
            (t.verdict, f.verdict),
            (TrueVerdict::Hit, Verdict::Hit)
                | (TrueVerdict::Soft, Verdict::Soft)
                | (TrueVerdict::Lost, Verdict::Lost)
                | (TrueVerdict::Void, Verdict::Void)
        ) && t.reason.map(str::to_owned) == f.reason;
        let same_side = format!("{:?}", t.side) == format!("{:?}", f.side);
        let onset_error = (f.onset_s - onset) * 1e3;
        self.onset_ms.push(onset_error);
        let mut error = None;
        if let (Some(pair), Some(got)) = (t.settle_s, f.settle_s) {
            let e = if f.early == Some(true) && t.early != Some(false) {
                0.0
            } else if got < pair[0] {
                got - pair[0]
            } else {
                (got - pair[1]).max(0.0)
            };
            error = Some(e * 1e3);
            self.settle_ms.push(e * 1e3);
            self.units.push(e.abs() * 1e3 / unit_ms);
            self.width_ms.push((pair[1] - pair[0]) * 1e3);
            if let (Some(u), Some(l)) = (f.uncertainty_ms, f.latency_ms) {
                let (a, b) = ((pair[0] - onset) * 1e3, (pair[1] - onset) * 1e3);
                let (a, b) = (a.max(0.0), b.max(0.0));
                self.covered.push(l >= a - 2.0 * u && l <= b + 2.0 * u);
            }
        }
        let wrong = !same_verdict || !same_side;
        if wrong && f.verdict == Verdict::Void && t.verdict != TrueVerdict::Void {
            self.void_by_mistake += 1;
        } else if wrong {
            self.wrong += 1;
        }
        if verbose {
            println!(
                "  {i}: {}{:?} {:?} {:?} | {:?} {:?} {:?} ratio {:?} | onset {onset:.4} err {onset_error:+.1} | settle true {:?} got {:?} err {:?} u {:?} rev {:?}",
                if wrong { "WRONG " } else { "" },
                t.side,
                t.verdict,
                t.reason,
                f.side,
                f.verdict,
                f.reason,
                f.sharpness.as_ref().and_then(|s| s.ratio),
                t.settle_s,
                f.settle_s,
                error,
                f.uncertainty_ms,
                f.reversals
            );
        }
    }

    pub fn add(&mut self, o: Self) {
        self.trials += o.trials;
        self.missed += o.missed;
        self.extra += o.extra;
        self.wrong += o.wrong;
        self.void_by_mistake += o.void_by_mistake;
        self.settle_ms.extend(o.settle_ms);
        self.units.extend(o.units);
        self.width_ms.extend(o.width_ms);
        self.onset_ms.extend(o.onset_ms);
        self.covered.extend(o.covered);
    }

    pub fn row(&self, name: &str) -> String {
        let worst = quantile(&abs(&self.settle_ms), 1.0);
        format!(
            "{name:<20} {:>6} {:>7} {:>6} {:>6} {:>6}  {:>8.1} / {:>6.1} / {:>6.1} ({:>6.1})  {:>6.2}   {:>6.1} / {:>6.1}   {:>5.1} %",
            self.trials,
            self.missed,
            self.extra,
            self.wrong,
            self.void_by_mistake,
            quantile(&self.settle_ms, 0.5),
            quantile(&abs(&self.settle_ms), 0.95),
            worst,
            quantile(&self.width_ms, 0.5),
            quantile(&self.units, 0.95),
            quantile(&self.onset_ms, 0.5),
            quantile(&abs(&self.onset_ms), 0.95),
            100.0 * self.covered.iter().filter(|c| **c).count() as f64
                / self.covered.len().max(1) as f64,
        )
    }
}

fn abs(v: &[f64]) -> Vec<f64> {
    v.iter().map(|x| x.abs()).collect()
}

fn quantile(v: &[f64], p: f64) -> f64 {
    let mut v = v.to_vec();
    v.sort_by(f64::total_cmp);
    if v.is_empty() {
        return 0.0;
    }
    v[((v.len() as f64 * p).ceil() as usize).clamp(1, v.len()) - 1]
}
