//! Scores: a clip's, and several together.

use std::collections::BTreeMap;

use super::found;
use super::truth::{Film, Trial};

/// Right ones of all.
#[derive(Clone, Copy, Default)]
pub struct Share {
    pub right: usize,
    pub of: usize,
}

/// One settle against the lens.
#[derive(Clone, Copy)]
pub struct Settle {
    /// Distance outside the pair, ms, and in units of (refresh + frame).
    pub outside_ms: f64,
    pub units: f64,
    /// Settle − crossing of δ itself, ms.
    pub off_ms: f64,
    pub width_ms: f64,
    /// Latency − the lens's, ms, and its standard uncertainty.
    pub latency: Option<(f64, f64)>,
    /// Height of the screen, film px.
    pub high_px: f64,
}

/// What a number of trials came to.
#[derive(Clone, Default)]
pub struct Row {
    pub trials: usize,
    pub hits: Share,
    pub misses: Share,
    /// Scored trials that were called void (wrong), not found (wrong), and
    /// found where there was none.
    pub void: usize,
    pub missed: usize,
    pub extra: usize,
    pub close: usize,
    pub least: Vec<f64>,
    /// Onset errors, ms, by `near`, `far`, `light`.
    pub onset_ms: BTreeMap<&'static str, Vec<f64>>,
    /// Settles by the δ they are held against.
    pub settles: BTreeMap<String, Vec<Settle>>,
    /// One line per trial, clip errors and warnings.
    pub lines: Vec<String>,
}

/// Farther than this from the true onset it is another trial, s.
const SAME_TRIAL_S: f64 = 0.4;
/// The window as judged may end this much off the true one, s; else the film's
/// own serves.
const SAME_END_S: f64 = 0.2;

impl Row {
    /// A clip against its film; `deltas` where trials do not state their own.
    pub fn of(film: &Film, clip: Option<&found::Clip>, deltas: &[f64]) -> Self {
        let mut row = Self::default();
        let none = Vec::new();
        let trials = clip.map_or(&none, |c| &c.trials);
        if let Some(clip) = clip {
            row.least.extend(clip.least_permille);
            row.lines
                .extend(clip.error.iter().map(|e| format!("  error: {e}")));
            row.lines
                .extend(clip.warnings.iter().map(|w| format!("  warning: {w}")));
        }
        let mut used = vec![false; trials.len()];
        for truth in &film.trials {
            let off = |f: &found::Trial| (f.onset_s - truth.onset_s(f.direct)).abs();
            let nearest = (0..trials.len())
                .filter(|k| !used[*k] && off(&trials[*k]) < SAME_TRIAL_S)
                .min_by(|a, b| off(&trials[*a]).total_cmp(&off(&trials[*b])));
            if let Some(k) = nearest {
                used[k] = true;
            }
            row.trial(film, truth, nearest.map(|k| &trials[k]), deltas);
        }
        row.extra = used.iter().filter(|u| !**u).count();
        row
    }

    fn trial(&mut self, film: &Film, truth: &Trial, found: Option<&found::Trial>, deltas: &[f64]) {
        self.lines.push(line(film, truth, found, deltas));
        if !truth.scored {
            return;
        }
        self.trials += 1;
        let right =
            found.is_some_and(|f| truth.agrees(&f.verdict) && f.side.as_deref() == truth.side);
        let share = if truth.verdict == "hit" {
            &mut self.hits
        } else {
            &mut self.misses
        };
        share.of += 1;
        share.right += usize::from(right);
        let Some(found) = found else {
            self.missed += 1;
            return;
        };
        self.void += usize::from(found.verdict == "void");
        self.close += usize::from(found.close_call);
        let kind = truth.side.unwrap_or("light");
        let onset_s = truth.onset_s(found.direct);
        self.onset_ms
            .entry(kind)
            .or_default()
            .push((found.onset_s - onset_s) * 1e3);
        if truth.verdict == "lost" {
            return;
        }
        for (label, delta) in stated(found, deltas) {
            if let Some(settle) = settle(film, truth, found, delta) {
                self.settles.entry(label).or_default().push(settle);
            }
        }
    }

    /// Adds another's.
    pub fn add(&mut self, other: &Self) {
        for (mine, more) in [
            (&mut self.hits, other.hits),
            (&mut self.misses, other.misses),
        ] {
            mine.right += more.right;
            mine.of += more.of;
        }
        self.trials += other.trials;
        self.void += other.void;
        self.missed += other.missed;
        self.extra += other.extra;
        self.close += other.close;
        self.least.extend(&other.least);
        for (kind, errors) in &other.onset_ms {
            self.onset_ms.entry(kind).or_default().extend(errors);
        }
        for (label, settles) in &other.settles {
            self.settles
                .entry(label.clone())
                .or_default()
                .extend(settles);
        }
    }
}

/// δ of a trial: what it states, else all that are asked for.
pub fn stated(found: &found::Trial, deltas: &[f64]) -> Vec<(String, f64)> {
    match found.delta_permille {
        Some(d) => vec![("stated".to_owned(), d)],
        None => deltas.iter().map(|d| (format!("{d}"), *d)).collect(),
    }
}

/// The end of the window as judged, where it makes sense.
pub fn end_s(film: &Film, truth: &Trial, found: &found::Trial) -> Option<f64> {
    let own = truth.shown_s + film.window_s;
    found.end_s.filter(|e| (e - own).abs() < SAME_END_S)
}

fn settle(film: &Film, truth: &Trial, found: &found::Trial, delta: f64) -> Option<Settle> {
    let pair = truth.pair(film, end_s(film, truth, found), delta)?;
    // What was there at the shown onset has latency 0.
    let settle_s = found.settle_s?.max(truth.shown_s);
    let outside_ms = pair.outside(settle_s) * 1e3;
    let corrected = found.latency_corrected_ms.filter(|_| found.direct);
    let latency = corrected.map(|l| l + film.lag_ms).or(found.latency_ms);
    let from_s = truth.onset_s(found.direct);
    let error = latency.map(|l| l - (pair.crossing_s - from_s) * 1e3);
    Some(Settle {
        outside_ms,
        units: outside_ms.abs() / film.unit_ms,
        off_ms: (settle_s - pair.crossing_s) * 1e3,
        width_ms: (pair.last_s - pair.first_s) * 1e3,
        latency: error.zip(found.uncertainty_ms).filter(|_| !found.early),
        high_px: film.high_px,
    })
}

fn line(film: &Film, truth: &Trial, found: Option<&found::Trial>, deltas: &[f64]) -> String {
    let side = truth.side.unwrap_or("light");
    let mut text = format!("  {side} {} at {:.3}", truth.verdict, truth.world_s);
    let Some(found) = found else {
        return text + " | missed";
    };
    let wrong = truth.scored && !truth.agrees(&found.verdict);
    text += &format!(
        " | {}{} {} {}end {:?} ± {:?} limit {:?} | onset {:+.1} ms",
        if wrong { "WRONG " } else { "" },
        found.verdict,
        found.reason.as_deref().unwrap_or(""),
        if found.early { "early " } else { "" },
        found.end_permille,
        found.end_u_permille,
        found.hit_limit_permille,
        (found.onset_s - truth.onset_s(found.direct)) * 1e3
    );
    for (label, delta) in stated(found, deltas) {
        if let Some(s) = settle(film, truth, found, delta) {
            text += &format!(
                " | δ {label}: outside {:+.1}, off {:+.1}, pair {:.0} ms",
                s.outside_ms, s.off_ms, s.width_ms
            );
        }
    }
    text + &format!(" | u {:?}", found.uncertainty_ms)
}
