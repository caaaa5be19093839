//! Everything that can be said of one trial before the reference is known.

use super::Stimulus;
use super::blurred::Width;
use super::curve::{Curve, Sample, median};
use super::cut::is_cut;
use super::hold::{HoldRule, Plateau, local_sigma};
use super::uncertainty::Budget;

/// The rig's settings for judging, defaults filled in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Window after onset, seconds.
    pub window_s: f64,
    /// Hold, seconds.
    pub hold_s: f64,
    /// Half width of the band ÷ plateau.
    pub tolerance: f64,
    /// Ratio from which a plateau counts as in focus.
    pub hit_ratio: f64,
    /// Relative uncertainty of the capture rate.
    pub rate_u: f64,
}

/// What was seen between one stimulus and the end of its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// What started it.
    pub stimulus: Stimulus,
    /// End of the window, seconds as shot.
    pub end_s: f64,
    /// Window and hold could not be watched whole.
    pub cut: bool,
    /// What was filmed cannot be trusted (the filming camera refocused).
    pub unclear: bool,
    /// Too dark or glaring.
    pub no_signal: bool,
    /// Something else than focus hides what it did.
    pub disturbed: bool,
    /// The highest level held, if any.
    pub plateau: Option<Plateau>,
    /// First update of the first hold in the band.
    pub settle_s: Option<f64>,
    /// Still inside the band at the end of the window.
    pub in_band_at_end: bool,
    /// How much the sharpness changed after onset; 0 where not beyond noise.
    pub changed_by: f64,
    /// First visible change after onset.
    pub reaction_s: Option<f64>,
    /// Turns between reaction and settle.
    pub reversals: u32,
    /// Turns between reaction and the end of the window, for a trial that
    /// never settles.
    pub turns_in_window: u32,
    /// Departures that came back.
    pub relapses: u32,
    /// Largest departure between entry and settle ÷ plateau.
    pub overshoot: f64,
    /// Lowest level from onset to the end of the window.
    pub floor: f64,
    /// Median level over the last hold before the end of the window.
    pub level_at_end: f64,
    /// Noise of one sample around the end of the window.
    pub sigma_at_end: f64,
    /// Median level over the last hold before the move, where it was watched.
    pub level_before: Option<f64>,
    /// Level when the stimulus was complete.
    pub level_at_onset: f64,
    /// A hold that begins no later than this is the level the trial began at.
    pub starting_level_until_s: f64,
    /// Standard uncertainty of settle − onset, seconds.
    pub uncertainty_s: f64,
}

/// Mean luma below which there is nothing to see.
const DARK: f64 = 0.02;
/// Smallest turn that counts, ÷ plateau.
const LEAST_TURN: f64 = 0.1;
/// Share of white pixels above which glare hides the picture.
const GLARE: f64 = 0.5;

/// Watches one trial. `next_move_s` is when the next stimulus begins, `width`
/// how wide the band around a level is.
#[must_use]
pub fn observe(
    curve: &Curve,
    stimulus: Stimulus,
    next_move_s: Option<f64>,
    settings: &Settings,
    width: Width<'_>,
) -> Observed {
    let rule = HoldRule::new(settings.hold_s, width, curve.period_s);
    let onset = stimulus.onset_s;
    let end_s = onset + settings.window_s;
    let read_to = end_s + rule.hold_s;
    let cut = is_cut(curve, onset, read_to, next_move_s);
    // A hold that begins before onset must still be the subject's own, so it
    // has to reach onset; a light starts nothing before it goes on.
    let from = match stimulus.move_s {
        Some(m) => (onset - rule.hold_s).max(m),
        None => onset,
    };
    let samples = curve.between(from, next_move_s.unwrap_or(f64::MAX).min(read_to));
    let after = samples.partition_point(|s| s.shown_s < onset - 1e-9);
    let starts = samples.partition_point(|s| s.shown_s <= end_s);
    let plateau = rule.plateau(samples, starts);
    let window = &samples[after.min(starts)..starts];
    let mut seen = Observed {
        stimulus,
        end_s,
        cut,
        unclear: false,
        no_signal: no_signal(window),
        disturbed: false,
        plateau,
        settle_s: plateau.map(|p| samples[p.settle].shown_s),
        in_band_at_end: plateau.is_some_and(|p| in_band_at_end(&p, window)),
        changed_by: changed_by(window, settings.tolerance),
        reaction_s: None,
        reversals: 0,
        turns_in_window: 0,
        relapses: 0,
        overshoot: 0.0,
        floor: window.iter().map(|s| s.value).fold(f64::MAX, f64::min),
        level_at_end: level(tail(window, rule.hold_s)).unwrap_or(0.0),
        sigma_at_end: local_sigma(window, window.len().saturating_sub(30), window.len()),
        level_before: level_before(curve, &stimulus, rule.hold_s),
        level_at_onset: window.first().map_or(0.0, |s| s.value),
        starting_level_until_s: onset + 2.0 * curve.period_s,
        uncertainty_s: 0.0,
    };
    if window.is_empty() {
        seen.floor = 0.0;
    }
    let reference = plateau.map_or(seen.level_at_end, |p| p.level);
    let reaction = reaction(window, reference);
    seen.reaction_s = reaction.map(|i| window[i].shown_s);
    let size = (LEAST_TURN * highest(window)).max(3.0 * seen.sigma_at_end);
    seen.turns_in_window = turns(&window[reaction.unwrap_or(0)..], size);
    if let Some(p) = plateau {
        let settle = p.settle.max(after);
        let from = after + reaction.unwrap_or(0);
        let size = (LEAST_TURN * p.level).max(3.0 * p.sigma);
        seen.reversals = turns(&samples[from.min(settle)..=settle], size);
        seen.overshoot = overshoot(samples, &p);
        seen.relapses = relapses(&samples[p.settle..starts], &p, rule.hold_s);
        let [wide, narrow] = rule.approach(samples, starts, &p);
        let at = |i: usize| samples[i].shown_s;
        let approach = (at(p.settle) - at(wide.max(after.min(narrow))))
            .max(at(narrow) - at(p.settle))
            .max(0.0);
        seen.uncertainty_s = uncertainty(curve, samples, &p, approach, &stimulus, settings);
    }
    seen
}

fn no_signal(window: &[Sample]) -> bool {
    let of = |f: fn(&Sample) -> f64| median(window.iter().map(f).collect()).unwrap_or(0.0);
    window.is_empty() || of(|s| s.mean) < DARK || of(|s| s.white) > GLARE
}

fn level(samples: &[Sample]) -> Option<f64> {
    median(samples.iter().map(|s| s.value).collect())
}

/// The samples of the last `hold_s` seconds.
fn tail(window: &[Sample], hold_s: f64) -> &[Sample] {
    let Some(last) = window.last() else {
        return window;
    };
    &window[window.partition_point(|s| s.shown_s < last.shown_s - hold_s)..]
}

fn level_before(curve: &Curve, stimulus: &Stimulus, hold_s: f64) -> Option<f64> {
    let start = stimulus.move_s.unwrap_or(stimulus.onset_s) - curve.period_s;
    let before = curve.between(start - hold_s, start);
    let watched = before.last()?.shown_s - before.first()?.shown_s;
    (watched >= 0.7 * hold_s).then(|| level(before)).flatten()
}

fn in_band_at_end(p: &Plateau, window: &[Sample]) -> bool {
    let last = &window[window.len().saturating_sub(5)..];
    let inside = last
        .iter()
        .filter(|s| (s.value - p.level).abs() <= p.band)
        .count();
    2 * inside > last.len()
}

/// Range of the three-point medians, where it is more than six sigma of one
/// sample and the band's own width.
fn changed_by(window: &[Sample], tolerance: f64) -> f64 {
    let smooth: Vec<f64> = window
        .windows(3)
        .filter_map(|w| median(w.iter().map(|s| s.value).collect()))
        .collect();
    let high = smooth.iter().copied().fold(f64::MIN, f64::max);
    let low = smooth.iter().copied().fold(f64::MAX, f64::min);
    let sigma = local_sigma(window, 0, window.len());
    let range = high - low;
    if range > (6.0 * sigma).max(2.0 * tolerance * high) {
        range
    } else {
        0.0
    }
}

/// First sample that departs from the level at onset beyond noise and stays
/// departed; `None` also where the change was already going on.
fn reaction(window: &[Sample], reference: f64) -> Option<usize> {
    let base = window.first()?.value;
    let early = local_sigma(window, 0, window.len().min(12));
    let limit = (3.0 * early).max(0.01 * reference);
    let away = |s: &Sample| (s.value - base).abs() > limit;
    let i =
        (1..window.len().saturating_sub(1)).find(|i| away(&window[*i]) && away(&window[i + 1]))?;
    (i > 1).then_some(i)
}

/// Highest three-point median.
fn highest(window: &[Sample]) -> f64 {
    let medians = window
        .windows(3)
        .filter_map(|w| median(w.iter().map(|s| s.value).collect()));
    medians.fold(0.0, f64::max)
}

/// Turns larger than `size` along a curve, by zigzag.
fn turns(samples: &[Sample], size: f64) -> u32 {
    let mut count = 0;
    let Some(first) = samples.first() else {
        return 0;
    };
    let (mut low, mut high, mut rising) = (first.value, first.value, None);
    for s in samples {
        low = low.min(s.value);
        high = high.max(s.value);
        match rising {
            None if s.value > low + size => (rising, high) = (Some(true), s.value),
            None if s.value < high - size => (rising, low) = (Some(false), s.value),
            Some(true) if s.value < high - size => {
                count += 1;
                (rising, low) = (Some(false), s.value);
            }
            Some(false) if s.value > low + size => {
                count += 1;
                (rising, high) = (Some(true), s.value);
            }
            _ => {}
        }
    }
    count
}

fn overshoot(samples: &[Sample], p: &Plateau) -> f64 {
    if p.entry >= p.settle {
        return 0.0;
    }
    samples[p.entry..p.settle]
        .iter()
        .map(|s| (s.value - p.level).abs() / p.level)
        .fold(0.0, f64::max)
}

/// Departures from the band longer than half a hold that came back.
fn relapses(samples: &[Sample], p: &Plateau, hold_s: f64) -> u32 {
    let mut left: Option<f64> = None;
    let mut count = 0;
    for s in samples {
        if (s.value - p.level).abs() > p.band {
            left.get_or_insert(s.shown_s);
        } else if let Some(t) = left.take() {
            count += u32::from(s.shown_s - t > hold_s / 2.0);
        }
    }
    count
}

fn uncertainty(
    curve: &Curve,
    samples: &[Sample],
    p: &Plateau,
    approach_s: f64,
    stimulus: &Stimulus,
    settings: &Settings,
) -> f64 {
    let at = samples[p.settle];
    let (step, rise) = match p.settle.checked_sub(1).map(|i| samples[i]) {
        Some(before) => (at.shown_s - before.shown_s, (at.value - before.value).abs()),
        None => (curve.period_s, 0.0),
    };
    // A hole in the frames right before settle makes it that much less sure.
    let update = if curve.every_frame {
        0.0
    } else {
        curve.period_s
    };
    let hole = if step > 1.5 * curve.period_s {
        step
    } else {
        0.0
    };
    let fit_s = if rise > 0.0 {
        p.sigma / rise * step
    } else {
        0.0
    };
    Budget {
        frame_s: curve.frame_s.max(hole),
        update_s: update,
        onset_u_s: stimulus.onset_u_s,
        fit_s: fit_s
            // The farther end of a rectangle that may reach as far either way
            // (JCGM 100:2008, 4.3.7; citation from memory).
            .max(approach_s / 3f64.sqrt())
            .min(settings.hold_s / 2.0),
        span_s: at.shown_s - stimulus.onset_s,
        rate_u: settings.rate_u,
    }
    .combined_s()
}
