//! Found trials held against true ones.

use crate::render::{Settled, TrialTruth, Truth, Verdict as TrueVerdict};
use crate::store::schema::{Side as FoundSide, Timing, Trial, Verdict};

/// How a clip's trials compare with their truth.
#[derive(Clone, Debug, Default)]
pub struct Score {
    /// True trials.
    pub trials: usize,
    /// Of them, not void in truth: something was to be judged.
    pub judgeable: usize,
    /// True trials that were not found.
    pub missed: usize,
    /// Found where there was none.
    pub extra: usize,
    /// Found with a verdict other than void.
    pub judged: usize,
    /// Of them, with another verdict, reason or side than the true one.
    pub wrong: usize,
    /// Judgeable ones called void.
    pub void_by_mistake: usize,
    /// Of the true hits, those called hits; and how many there were to find.
    pub hits: [usize; 2],
    /// The same of true soft and lost trials, each with its own verdict.
    pub misses: [usize; 2],
    /// Distance outside the truth's pair, ms, signed (late is positive). What
    /// settles before onset has latency 0, so both count from onset on.
    pub settle_ms: Vec<f64>,
    /// Its size in units of (live-view or refresh period + frame period).
    pub units: Vec<f64>,
    /// Widths of the pairs, ms.
    pub width_ms: Vec<f64>,
    /// Onset found − true, ms.
    pub onset_ms: Vec<f64>,
    /// The same in frames.
    pub onset_frames: Vec<f64>,
    /// Settle found − the true crossing of δ itself, ms, signed; both count
    /// from onset on.
    pub crossing_ms: Vec<f64>,
    /// Stated 2 u of the latencies, ms.
    pub two_u_ms: Vec<f64>,
    /// Whether latency ± 2 u holds the crossing of δ.
    pub covered: Vec<bool>,
    /// Lag found − true, ms.
    pub lag_ms: Vec<f64>,
    /// Its stated standard uncertainty, ms.
    pub lag_u_ms: Vec<f64>,
    /// One line per trial, for whoever looks closer.
    pub lines: Vec<String>,
}

/// Onset of a found trial that belongs to a true one, seconds.
const SAME_TRIAL_S: f64 = 0.4;

impl Score {
    /// Of a clip in which nothing was found.
    pub fn empty(truth: &Truth) -> Self {
        let trials = truth.trials.iter();
        let judgeable = trials.filter(|t| t.verdict != TrueVerdict::Void);
        let mut empty = Self {
            trials: truth.trials.len(),
            judgeable: judgeable.count(),
            missed: truth.trials.len(),
            ..Self::default()
        };
        for t in &truth.trials {
            empty.kind(t, false);
        }
        empty
    }

    /// Of the first clip of a timing. `hidden` are trials that the filming camera
    /// itself hid: there a void is no mistake.
    pub fn of(truth: &Truth, timing: &Timing, hidden: &[usize]) -> Self {
        let Some(clip) = timing.clips.first() else {
            return Self::empty(truth);
        };
        let mut s = Self::empty(truth);
        (s.missed, s.hits, s.misses) = (0, [0; 2], [0; 2]);
        let region = timing.rig.pointer("/stimulus/region");
        let direct = region.is_some_and(|r| !r.is_null());
        let mut used = vec![false; clip.trials.len()];
        let frame_ms = 1e3 / truth.capture_fps;
        let unit_ms = 1e3 / truth.refresh_hz.min(truth.live_view_fps) + frame_ms;
        s.lines.push(format!(
            "  refresh {:?} (true {}, live view {}) lag {:?} (true {}) warnings {:?}",
            clip.screen.refresh_hz,
            truth.refresh_hz,
            truth.live_view_fps,
            clip.live_view_lag_ms,
            truth.live_view_lag_ms,
            clip.warnings
        ));
        if let Some(lag) = clip.live_view_lag_ms {
            s.lag_ms.push(lag - truth.live_view_lag_ms);
            s.lag_u_ms.push(clip.live_view_lag_u_ms.unwrap_or(0.0));
        }
        for (i, t) in truth.trials.iter().enumerate() {
            let onset = match t.direct_onset_s {
                Some(d) if direct => d,
                _ => t.onset_s,
            };
            let off = |f: &Trial| (f.onset_s - onset).abs();
            let near = clip.trials.iter().enumerate();
            let nearest = near
                .filter(|(k, f)| !used[*k] && off(f) < SAME_TRIAL_S)
                .min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
            let hidden = hidden.contains(&i);
            let Some((k, f)) = nearest else {
                s.missed += 1;
                s.kind(t, false);
                let (side, verdict) = (t.side, t.verdict);
                let missed = format!("  {i}: missed: {side:?} {verdict:?} onset {onset:.4}");
                s.lines.push(missed);
                continue;
            };
            used[k] = true;
            let settled = f.delta_permille.and_then(|d| truth.settled(i, d));
            s.trial(i, (t, f), settled, onset, (unit_ms, frame_ms));
            let judged_void = f.verdict == Verdict::Void && t.verdict != TrueVerdict::Void;
            if judged_void && hidden {
                s.void_by_mistake -= 1;
                s.judgeable -= 1;
            } else {
                s.kind(t, same(t, f));
            }
        }
        s.extra = used.iter().filter(|u| !**u).count();
        s
    }

    /// Counts a true trial among the hits or the misses; void is wrong there.
    fn kind(&mut self, t: &TrialTruth, right: bool) {
        let of = match t.verdict {
            TrueVerdict::Hit => &mut self.hits,
            TrueVerdict::Soft | TrueVerdict::Lost => &mut self.misses,
            TrueVerdict::Void => return,
        };
        of[0] += usize::from(right);
        of[1] += 1;
    }

    fn trial(
        &mut self,
        i: usize,
        (t, f): (&TrialTruth, &Trial),
        settled: Option<Settled>,
        onset: f64,
        (unit_ms, frame_ms): (f64, f64),
    ) {
        let onset_error = (f.onset_s - onset) * 1e3;
        self.onset_ms.push(onset_error);
        self.onset_frames.push(onset_error / frame_ms);
        let settled = settled.filter(|_| t.settle_s.is_some());
        let error = settled.and_then(|s| self.settle(t, f, s, onset));
        if let Some(e) = error {
            self.units.push(e.abs() / unit_ms);
        }
        let found_void = f.verdict == Verdict::Void;
        self.judged += usize::from(!found_void);
        let right = same(t, f);
        // Void for another reason is void all the same: nothing was judged.
        if !right && found_void {
            self.void_by_mistake += usize::from(t.verdict != TrueVerdict::Void);
        } else if !right {
            self.wrong += 1;
        }
        self.lines.push(format!(
            "  {i}: {}{:?} {:?} {:?} end {:.1?} | {:?} {:?} {:?} | onset {onset:.4} err {onset_error:+.1} | settle true {:?} got {:?} err {error:?} u {:?} rev {:?}",
            if right { "" } else { "WRONG " },
            t.side,
            t.verdict,
            t.reason,
            t.blur_permille.end,
            f.side,
            f.verdict,
            f.reason,
            settled.map(|s| s.pair),
            f.settle_s,
            f.uncertainty_ms,
            f.reversals
        ));
    }

    /// Distance outside the pair at the trial's own δ, ms.
    fn settle(&mut self, t: &TrialTruth, f: &Trial, true_: Settled, onset: f64) -> Option<f64> {
        let pair = true_.pair.map(|p| p.max(onset));
        let got = f.settle_s?.max(onset);
        let early = f.early == Some(true) && t.early == Some(true);
        let e = if early {
            0.0
        } else if got < pair[0] {
            got - pair[0]
        } else {
            (got - pair[1]).max(0.0)
        };
        self.settle_ms.push(e * 1e3);
        self.width_ms.push((pair[1] - pair[0]) * 1e3);
        let crossing = true_.crossing.max(onset);
        let off = if early { 0.0 } else { (got - crossing) * 1e3 };
        self.crossing_ms.push(off);
        if let (Some(u), Some(_)) = (f.uncertainty_ms, f.latency_ms) {
            self.two_u_ms.push(2.0 * u);
            self.covered.push(off.abs() <= 2.0 * u);
        }
        Some(e * 1e3)
    }

    /// Adds another clip's.
    pub fn add(&mut self, o: &Self) {
        self.trials += o.trials;
        self.judgeable += o.judgeable;
        self.missed += o.missed;
        self.extra += o.extra;
        self.judged += o.judged;
        self.wrong += o.wrong;
        self.void_by_mistake += o.void_by_mistake;
        for i in 0..2 {
            self.hits[i] += o.hits[i];
            self.misses[i] += o.misses[i];
        }
        self.settle_ms.extend(&o.settle_ms);
        self.units.extend(&o.units);
        self.width_ms.extend(&o.width_ms);
        self.onset_ms.extend(&o.onset_ms);
        self.onset_frames.extend(&o.onset_frames);
        self.crossing_ms.extend(&o.crossing_ms);
        self.two_u_ms.extend(&o.two_u_ms);
        self.covered.extend(&o.covered);
        self.lag_ms.extend(&o.lag_ms);
        self.lag_u_ms.extend(&o.lag_u_ms);
    }
}

/// Whether verdict, reason and side are the true ones.
fn same(t: &TrialTruth, f: &Trial) -> bool {
    use crate::render::scene::Side;
    let verdict = matches!(
        (t.verdict, f.verdict),
        (TrueVerdict::Hit, Verdict::Hit)
            | (TrueVerdict::Soft, Verdict::Soft)
            | (TrueVerdict::Lost, Verdict::Lost)
            | (TrueVerdict::Void, Verdict::Void)
    );
    let side = matches!(
        (t.side, f.side),
        (None, None)
            | (Some(Side::Near), Some(FoundSide::Near))
            | (Some(Side::Far), Some(FoundSide::Far))
    );
    verdict && side && t.reason == f.reason.as_deref()
}
