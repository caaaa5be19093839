//! Everything that is seen of one trial, by its side's course of blur.

use super::Stimulus;
use super::bounds::Bounds;
use super::curve::median;
use super::cut::is_cut;
use super::limit::FilmLimit;
use super::stay::{last_stay, stays};
use super::trace::{Trace, Update, apart, lowered, root_u};
use super::uncertainty::{approach_s, latency_u};
use crate::limits;

/// How trials are judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Window after the shown onset, seconds.
    pub window_s: f64,
    /// Hold, seconds; at least five updates are taken.
    pub hold_s: f64,
    /// δ: how near the blur stays to its end, ‰.
    pub delta: f64,
    /// Largest end blur of a hit, ‰; not below δ.
    pub hit: f64,
    /// Relative uncertainty of the capture rate.
    pub rate_u: f64,
    /// What the film itself makes unsure of a blur's square, ‰² (k = 1).
    pub film_u: f64,
    /// The blur that the film tells from none, ‰; 0 where that is unknown.
    pub film_limit: f64,
    /// The same of the reference, ‰² (k = 1).
    pub reference_u: f64,
}

impl Observed {
    /// Whether the end lies within its expanded uncertainty (k = 2) of the largest
    /// blur of a hit, ‰. Held against it as a square: near nought a root's
    /// uncertainty is not the same to either side (JCGM 101:2008, 5.11).
    #[must_use]
    pub fn is_close(&self, hit: f64) -> bool {
        let off = self.end.map(|e| (e * e.abs() - hit * hit).abs());
        off.is_some_and(|off| off <= 2.0 * self.end_square_u)
    }
}

impl Rules {
    /// Rules that tell what rests near focus before the film's limit is known:
    /// what settles within the hit limit.
    pub fn coarse(&self) -> Self {
        Self {
            delta: self.hit,
            ..*self
        }
    }

    /// The same on a film with this limit: δ is not below it, and the hit limit
    /// not below δ.
    pub fn filmed(&self, limit: Option<FilmLimit>) -> Self {
        let Some(limit) = limit else {
            return *self;
        };
        let delta = self.delta.max(limit.raised());
        Self {
            delta,
            hit: self.hit.max(delta),
            film_u: limit.square_u,
            film_limit: limit.least,
            ..*self
        }
    }

    /// The hold on a screen with this period, seconds.
    pub fn hold_on(&self, period_s: f64) -> f64 {
        self.hold_s.max(limits::FEWEST_UPDATES.get() * period_s)
    }
}

/// What was seen between one stimulus and the end of its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// What started it.
    pub stimulus: Stimulus,
    /// When the screen shows its onset, seconds as shot.
    pub shown_onset_s: f64,
    /// End of the window, seconds as shot.
    pub end_s: f64,
    /// Window and hold could not be watched whole.
    pub cut: bool,
    /// What was filmed cannot be trusted.
    pub unclear: bool,
    /// Too dark or glaring.
    pub no_signal: bool,
    /// Blur at the shown onset, ‰.
    pub onset: Option<f64>,
    /// Median blur of the hold after the window, ‰.
    pub end: Option<f64>,
    /// Its standard uncertainty, ‰.
    pub end_u: f64,
    /// The same of its square, ‰²: the square is what is measured, and its
    /// uncertainty the same to either side.
    pub end_square_u: f64,
    /// First update of the first stay, seconds as shot; only of what settled.
    pub settle_s: Option<f64>,
    /// Within the hit limit from the shown onset on.
    pub within_from_onset: bool,
    /// The blur changed after the shown onset.
    pub moved: bool,
    /// Stayed in focus for three holds and left; only of what did not settle.
    pub left_focus: bool,
    /// The other side was in focus in the last hold before the move.
    pub ready: Option<bool>,
    /// First visible change after onset, seconds as shot.
    pub reaction_s: Option<f64>,
    /// Turns of the blur between reaction and settle, or the window's end.
    pub reversals: u32,
    /// Departures after a stay that came back.
    pub relapses: u32,
    /// Largest blur between first coming within δ and settle, ‰.
    pub overshoot: Option<f64>,
    /// Standard uncertainty of settle − onset, seconds.
    pub uncertainty_s: f64,
}

/// Watches one trial in its side's `trace`; `other`: that of the other side.
pub fn observe(trace: &Trace, other: Option<&Trace>, bounds: &Bounds, rules: &Rules) -> Observed {
    let hold_s = rules.hold_on(trace.period_s);
    let onset = bounds.shown_onset_s();
    let end_s = onset + rules.window_s;
    let read_to = end_s + hold_s;
    let all = trace.between(onset, bounds.over_s.unwrap_or(f64::MAX).min(read_to));
    let in_window = all.partition_point(|u| u.shown_s <= end_s);
    let mut seen = Observed {
        stimulus: bounds.stimulus,
        shown_onset_s: onset,
        end_s,
        cut: all.is_empty() || is_cut(trace, onset, read_to, bounds.over_s),
        unclear: false,
        no_signal: no_signal(&all[..in_window]),
        onset: all.first().map(|u| u.permille),
        end: None,
        end_u: 0.0,
        end_square_u: 0.0,
        settle_s: None,
        within_from_onset: false,
        moved: false,
        left_focus: false,
        ready: other.and_then(|t| in_focus_before(t, bounds, hold_s, rules.hit)),
        reaction_s: None,
        reversals: 0,
        relapses: 0,
        overshoot: None,
        uncertainty_s: 0.0,
    };
    let hold = &all[in_window..];
    if let (false, Some(end)) = (seen.cut, median_of(hold)) {
        seen.end = Some(end);
        seen.end_square_u = end_square_u(hold, rules);
        seen.end_u = root_u(end, seen.end_square_u);
        judge_course(&mut seen, trace, all, in_window, end, rules);
    }
    seen
}

/// Everything that rests on the end blur.
fn judge_course(
    seen: &mut Observed,
    trace: &Trace,
    all: &[Update],
    in_window: usize,
    end: f64,
    rules: &Rules,
) {
    let hold_s = rules.hold_on(trace.period_s);
    let within = last_stay(all, 0.0, rules.hit).filter(|_| end <= rules.hit);
    seen.within_from_onset = within == Some(0);
    // What ends sharper than its reference is its own: blur adds as squares do.
    let own = (end * end.abs()).min(0.0);
    let all = &lowered(all, own)[..];
    let end = end.max(0.0);
    let sigma = median(all.iter().map(Update::permille_u).collect()).unwrap_or(0.0);
    let size = rules.delta.max(3.0 * sigma);
    let base = median_of(&all[..all.len().min(3)]).unwrap_or(end);
    seen.moved = last_stay(all, base, size) != Some(0);
    let last = last_stay(all, end, rules.delta).filter(|k| *k < in_window);
    let window = &all[..in_window];
    let reaction = reaction(window, size);
    seen.reaction_s = reaction.map(|k| window[k].shown_s);
    let from = reaction.unwrap_or(0);
    let Some(last) = last else {
        seen.reversals = turns(&window[from..], size);
        seen.left_focus = left_focus(window, rules, limits::HOLDS.get() * hold_s, trace.period_s);
        if seen.within_from_onset {
            // In focus all the while, though it wanders by more than δ.
            seen.settle_s = Some(all[0].shown_s);
            seen.uncertainty_s = latency_u(trace, all, 0, 0.0, seen, rules);
        }
        return;
    };
    let earlier = stays(
        &all[..last],
        end,
        rules.delta,
        limits::HOLDS.get() * hold_s,
        trace.period_s,
    );
    let settle = earlier.first().map_or(last, |r| r.start);
    seen.settle_s = Some(all[settle].shown_s);
    seen.reversals = turns(&all[from.min(settle)..=settle], size);
    seen.relapses = relapses(&all[settle..], end, rules.delta, hold_s);
    seen.overshoot = overshoot(&all[..settle], end, rules.delta);
    let around = approach_s(all, settle, (end, seen.end_u), rules);
    seen.uncertainty_s = latency_u(trace, all, settle, around, seen, rules);
}

fn no_signal(window: &[Update]) -> bool {
    let of = |f: fn(&Update) -> f64| median(window.iter().map(f).collect()).unwrap_or(0.0);
    of(|u| u.mean) < limits::DARK.get() || of(|u| u.white) > limits::GLARE.get()
}

/// Median blur, ‰.
fn median_of(updates: &[Update]) -> Option<f64> {
    median(updates.iter().map(|u| u.permille).collect())
}

/// Uncertainty of the median of a hold, as square of the diameter: what scatters
/// within it, the film's part and the reference's.
fn end_square_u(hold: &[Update], rules: &Rules) -> f64 {
    let noise = median(hold.iter().map(|u| u.blur.square_u).collect()).unwrap_or(0.0);
    let scatter = noise / (hold.len().max(1) as f64).sqrt();
    scatter.hypot(rules.film_u).hypot(rules.reference_u)
}

/// Whether the other side was within the hit limit in the last hold before the
/// target moved. `None` where that was not filmed.
fn in_focus_before(other: &Trace, bounds: &Bounds, hold_s: f64, hit: f64) -> Option<bool> {
    let until = bounds.stimulus.move_s? - other.period_s;
    let before = other.between(until - hold_s, until);
    let watched = before.last()?.shown_s - before.first()?.shown_s;
    (watched >= 0.7 * hold_s).then_some(median_of(before)? <= hit)
}

/// First update that departs from the blur at onset by more than `size` and
/// stays departed; `None` also where the change was going on already.
fn reaction(window: &[Update], size: f64) -> Option<usize> {
    let base = window.first()?.permille;
    let away = |u: &Update| apart(u.permille, base) > size;
    let last = window.len().saturating_sub(1);
    let k = (1..last).find(|k| away(&window[*k]) && away(&window[k + 1]))?;
    (k > 1).then_some(k)
}

/// Turns larger than `size` along the course, by zigzag.
fn turns(updates: &[Update], size: f64) -> u32 {
    let mut count = 0;
    let Some(first) = updates.first() else {
        return 0;
    };
    let (mut low, mut high, mut rising) = (first.permille, first.permille, None);
    for v in updates.iter().map(|u| u.permille) {
        low = low.min(v);
        high = high.max(v);
        match rising {
            None if v > low + size => (rising, high) = (Some(true), v),
            None if v < high - size => (rising, low) = (Some(false), v),
            Some(true) if v < high - size => {
                count += 1;
                (rising, low) = (Some(false), v);
            }
            Some(false) if v > low + size => {
                count += 1;
                (rising, high) = (Some(true), v);
            }
            _ => {}
        }
    }
    count
}

fn overshoot(before: &[Update], end: f64, delta: f64) -> Option<f64> {
    let near = |u: &Update| apart(u.permille, end) <= delta;
    let first = before.iter().position(near)?;
    let largest = before[first..].iter().map(|u| u.permille);
    largest.reduce(f64::max)
}

/// Departures of more than half a hold that came back.
fn relapses(updates: &[Update], end: f64, delta: f64, hold_s: f64) -> u32 {
    let mut left: Option<f64> = None;
    let mut count = 0;
    for u in updates {
        if apart(u.permille, end) > delta {
            left.get_or_insert(u.shown_s);
        } else if let Some(t) = left.take() {
            count += u32::from(u.shown_s - t > hold_s / 2.0);
        }
    }
    count
}

/// Whether it stayed for three holds within δ of that stretch's own median,
/// in focus, and left again.
fn left_focus(window: &[Update], rules: &Rules, least_s: f64, period_s: f64) -> bool {
    (0..window.len()).any(|k| {
        let until = window[k].shown_s + least_s - period_s / 2.0;
        let n = window[k..].partition_point(|u| u.shown_s < until);
        let whole = window.get(k + n).is_some();
        let stretch = &window[k..k + n];
        let centre = median_of(stretch).filter(|m| *m <= rules.hit && whole);
        centre.is_some_and(|c| last_stay(stretch, c, rules.delta) == Some(0))
    })
}
