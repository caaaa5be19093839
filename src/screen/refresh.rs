//! How often the screen changes, from how much each frame differs from the
//! one before.
//!
//! A held screen makes the film a staircase: a burst of change at every
//! update, none between. The rate is the lowest one at which the bursts keep
//! one phase; higher ones are its harmonics. What changes for frames on end, as
//! where the filming camera is shaken, is one burst, not many.

mod held;

#[cfg(test)]
mod tests;

use crate::ranked::usual_step;
use held::{Hold, hold};

/// A measured rate of updates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Updates {
    /// Seconds from one update to the next.
    pub period_s: f64,
    /// An instant at which an update is first seen, seconds.
    pub phase_s: f64,
    /// How well the bursts keep the phase, 0..=1; where pictures are held for
    /// several refreshes, that of the refreshes.
    pub coherence: f64,
    /// Whether pictures are held now for one refresh, now for more: then what
    /// is told is the refresh, and many an update brings no new picture.
    pub uneven: bool,
}

/// Weakest phase-keeping taken for a refresh.
const LEAST_COHERENCE: f64 = 0.5;
/// Share of the best coherence that the fundamental must reach.
const OF_BEST: f64 = 0.75;
/// Fewest bursts to measure a rate from.
const FEWEST_BURSTS: usize = 12;
/// Least evidence that a phase is kept: n periods that hold bursts keep one of
/// coherence R by chance with exp(−n R²) (Rayleigh's test, Mardia & Jupp 2000,
/// 6.3, from memory); 230 rates are tried in a second: 230 exp(−8.4) = 0.05.
const LEAST_EVIDENCE: f64 = 8.4;
/// Bursts that suffice for the first search.
const ENOUGH_BURSTS: usize = 800;
/// How far the rate may lie from what pieces of a second say, share of it. A swing's bursts last about a quarter of a second, which tells a rate to a
/// few per second: half and twice as much find the same rates in 16 films of
/// another hand, a quarter misses three.
const PLAY: f64 = 0.12;
/// Stretch over which a rate is searched for at first, seconds: it bounds the work.
/// The films that [`PLAY`] was tried on are shorter, so none of them depends on it.
const LONG_S: f64 = 60.0;
/// Reach of "nearby", seconds: one period of the slowest usual screen.
const NEARBY_S: f64 = 0.035;
/// Slowest update rate looked for, per second.
const SLOWEST_HZ: f64 = 12.0;
/// Fastest: no screen is refreshed as often (common practice, no source). Only
/// films of more than 2000 frames a second could show more.
const FASTEST_HZ: f64 = 1000.0;

/// Measures the update rate from frame times (s) and the change that each
/// frame brings against the one before (`None` where there is none).
///
/// `None` when the picture hardly changes, or changes at every frame: then
/// nothing slower than the film's own rate can be seen.
pub fn measure(times: &[f64], change: &[Option<f64>]) -> Option<Updates> {
    let loud = thresholds(change)
        .into_iter()
        .map(|least| (least, bursts(times, change, least)))
        .filter(|(_, b)| b.len() >= FEWEST_BURSTS);
    // Which frames stand out depends on how much of the film moves: the
    // division whose bursts keep their phase best is the right one.
    let (found, least, bursts) = loud
        .filter_map(|(least, b)| Some((measure_bursts(times, &b)?, least, b)))
        .max_by(|a, b| a.0.coherence.total_cmp(&b.0.coherence))?;
    Some(match hold(times, change, least, &found) {
        Hold::Even => found,
        Hold::Slow(refreshes) => slower(&bursts, &found, refreshes),
        Hold::Uneven => Updates {
            uneven: true,
            ..found
        },
    })
}

/// The rhythm of pictures held for so many refreshes of `found`.
fn slower(bursts: &[(f64, f64)], found: &Updates, refreshes: f64) -> Updates {
    // The mean gap is that of the pictures, and longer where some are missed.
    let rate = |gap: f64| 1.0 / (found.period_s * gap);
    let [mut low, mut high] = [rate(refreshes + 0.5), rate(refreshes - 0.5)];
    // Bursts at refreshes keep a rate and the refresh's less that rate as well: the
    // search ends at half of the refresh, and a little beyond, which may be the rate.
    if refreshes >= 2.0 {
        high = high.min(1.005 * rate(2.0));
    } else {
        low = low.max(0.995 * rate(2.0));
    }
    let rate = search(bursts, f64::midpoint(low, high), (high - low) / 2.0);
    let (_, angle) = phase(bursts, rate);
    Updates {
        period_s: 1.0 / rate,
        phase_s: angle / std::f64::consts::TAU / rate,
        ..*found
    }
}

/// The rate within `width` of `about` whose phase the bursts keep best. They come in
/// groups, one a swing, so that the phase kept has side lobes, some of them higher
/// than the rate's own in a part of the film: all of it decides, or a minute.
fn search(bursts: &[(f64, f64)], about: f64, width: f64) -> f64 {
    let start = bursts.first().map_or(0.0, |b| b.0);
    let span = bursts.last().map_or(0.0, |b| b.0) - start;
    let mut stretch = span.clamp(4.0, LONG_S);
    let within = |stretch: f64| {
        let n = bursts.partition_point(|b| b.0 <= start + stretch);
        thinned(&bursts[..n])
    };
    let mut rate = refine(&within(stretch), about, width, 0.25 / stretch);
    // The longer the stretch, the finer the rate, the narrower the search.
    let mut width = 0.5 / stretch;
    loop {
        rate = refine(&within(stretch), rate, width, 0.05 / stretch);
        if stretch >= span {
            return rate;
        }
        width = 0.5 / stretch;
        stretch = (2.0 * stretch).min(span);
    }
}

/// The update rate within a hundredth of `hz`, for films in which something
/// else beats louder than the screen. `None` where too little changes.
pub fn near(times: &[f64], change: &[Option<f64>], hz: f64) -> Option<Updates> {
    let span = times.last()? - times.first()?;
    let step = 0.05 / span.max(1.0);
    let of = |least| {
        let bursts = bursts(times, change, least);
        (bursts.len() >= FEWEST_BURSTS).then(|| {
            let rate = refine(&thinned(&bursts), hz, 0.01 * hz, step);
            let (coherence, angle) = phase(&bursts, rate);
            Updates {
                period_s: 1.0 / rate,
                phase_s: angle / std::f64::consts::TAU / rate,
                coherence,
                uneven: false,
            }
        })
    };
    let found = thresholds(change).into_iter().filter_map(of);
    found.max_by(|a, b| a.coherence.total_cmp(&b.coherence))
}

fn measure_bursts(times: &[f64], bursts: &[(f64, f64)]) -> Option<Updates> {
    let frame = usual_step(times)?;
    let fastest = (0.5 / frame).min(FASTEST_HZ);
    let step = 0.1;
    let some = &bursts[..bursts.len().min(ENOUGH_BURSTS)];
    // Short pieces keep their phase even where the rate is a little off.
    let scores: Vec<(f64, f64)> = rates(SLOWEST_HZ, fastest, step)
        .map(|f| (f, piecewise(some, f, 1.0)))
        .collect();
    let best = scores.iter().map(|s| s.1).fold(0.0, f64::max);
    if best < LEAST_COHERENCE {
        return None;
    }
    let first = scores.iter().position(|s| s.1 >= OF_BEST * best)?;
    let about = scores[climb(&scores, first)].0;
    let rate = search(bursts, about, PLAY * about);
    let (coherence, angle) = phase(bursts, rate);
    // Few periods, each with many bursts, keep any phase.
    let n = periods(bursts, rate, angle) as f64;
    if n * coherence.powi(2) < LEAST_EVIDENCE {
        return None;
    }
    Some(Updates {
        period_s: 1.0 / rate,
        phase_s: angle / std::f64::consts::TAU / rate,
        coherence,
        uneven: false,
    })
}

/// Changes above which a frame may count as an update: the division of the
/// logarithms into two classes (Otsu 1979), and limits above the quietest
/// quarter for films in which updates are rare.
fn thresholds(change: &[Option<f64>]) -> Vec<f64> {
    let mut sorted: Vec<f64> = change.iter().flatten().copied().collect();
    sorted.sort_by(f64::total_cmp);
    if sorted.len() < FEWEST_BURSTS {
        return Vec::new();
    }
    let at = |share: usize| sorted[sorted.len() * share / 100];
    let spread = (at(25) - at(2)).max(1e-12);
    let mut out = vec![at(25) + 5.0 * spread, at(50) + 30.0 * (at(50) - at(25))];
    out.extend(otsu(&sorted));
    out
}

/// Otsu's division of the logarithms of ascending values.
fn otsu(sorted: &[f64]) -> Option<f64> {
    let least = sorted[sorted.len() / 20].max(sorted[sorted.len() - 1] * 1e-9);
    let logs: Vec<f64> = sorted
        .iter()
        .filter(|v| **v > least)
        .map(|v| v.ln())
        .collect();
    let total: f64 = logs.iter().sum();
    let mut below = 0.0;
    let mut best = (0.0, None);
    for (i, v) in logs.iter().enumerate().take(logs.len().saturating_sub(1)) {
        below += v;
        let (n, m) = (i as f64 + 1.0, (logs.len() - i - 1) as f64);
        let between = n * m * (below / n - (total - below) / m).powi(2);
        if between > best.0 {
            best = (between, Some(v.exp()));
        }
    }
    best.1
}

/// Instants and weights of the frames that bring a change above `least`: the
/// midpoint between the frame before and this one.
///
/// A frame is weighed against the largest change nearby, so that what little
/// a blended frame or a sluggish panel adds between updates hardly counts.
fn bursts(times: &[f64], change: &[Option<f64>], least: f64) -> Vec<(f64, f64)> {
    let loud = |k: usize| change[k].filter(|c| *c > least);
    let (mut from, mut to) = (0, 0);
    let mut out = Vec::new();
    for k in 1..times.len() {
        while times[from] < times[k] - NEARBY_S {
            from += 1;
        }
        while to < times.len() && times[to] <= times[k] + NEARBY_S {
            to += 1;
        }
        let Some(c) = loud(k) else { continue };
        let top = (from..to).filter_map(loud).fold(c, f64::max);
        out.push((f64::midpoint(times[k - 1], times[k]), (c / top).powi(2)));
    }
    out
}

fn rates(from: f64, to: f64, step: f64) -> impl Iterator<Item = f64> {
    let n = ((to - from) / step).max(0.0).floor() as u32;
    // One step beyond, so that a rate of exactly half the film's is scored.
    (0..=n + 1).map(move |i| (from + f64::from(i) * step).min(to))
}

/// Coherence and phase of all bursts at one rate.
fn phase(bursts: &[(f64, f64)], rate: f64) -> (f64, f64) {
    let (mut c, mut s, mut total) = (0.0, 0.0, 0.0);
    for (t, w) in bursts {
        let a = std::f64::consts::TAU * rate * t;
        c += w * a.cos();
        s += w * a.sin();
        total += w;
    }
    (c.hypot(s) / total, s.atan2(c))
}

/// Mean coherence over pieces of `piece` seconds, weighted.
fn piecewise(bursts: &[(f64, f64)], rate: f64, piece: f64) -> f64 {
    let start = bursts[0].0;
    let (mut sum, mut total) = (0.0, 0.0);
    let mut from = 0;
    while from < bursts.len() {
        let end = start + ((bursts[from].0 - start) / piece).floor() * piece + piece;
        // At least one: rounding must not leave a piece empty for ever.
        let to = from + bursts[from..].partition_point(|b| b.0 < end).max(1);
        let weight: f64 = bursts[from..to].iter().map(|b| b.1).sum();
        let (coherence, angle) = phase(&bursts[from..to], rate);
        if periods(&bursts[from..to], rate, angle) >= 3 {
            sum += weight * coherence;
            total += weight;
        }
        from = to;
    }
    if total > 0.0 { sum / total } else { 0.0 }
}

/// Periods of a rate, of the phase `angle`, that hold a burst.
fn periods(bursts: &[(f64, f64)], rate: f64, angle: f64) -> usize {
    let number = |b: &(f64, f64)| (rate * b.0 - angle / std::f64::consts::TAU).round();
    let next = |w: &&[(f64, f64)]| number(&w[1]) > number(&w[0]);
    bursts.len().min(1) + bursts.windows(2).filter(next).count()
}

/// From the first score that is high enough to the top of its hill.
fn climb(scores: &[(f64, f64)], from: usize) -> usize {
    let mut best = from;
    let mut i = from;
    while let Some(s) = scores.get(i) {
        if s.1 > scores[best].1 {
            best = i;
        } else if s.1 < 0.7 * scores[best].1 {
            break;
        }
        i += 1;
    }
    best
}

/// At most so many bursts, spread evenly: enough for any refinement.
fn thinned(bursts: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let every = bursts.len().div_ceil(ENOUGH_BURSTS).max(1);
    bursts.iter().step_by(every).copied().collect()
}

/// The best rate within `width` of `rate` at steps of `step`.
fn refine(bursts: &[(f64, f64)], rate: f64, width: f64, step: f64) -> f64 {
    rates(rate - width, rate + width, step)
        .max_by(|a, b| phase(bursts, *a).0.total_cmp(&phase(bursts, *b).0))
        .unwrap_or(rate)
}
