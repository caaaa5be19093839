//! The subjects of a clip: each side's course of blur.

use std::collections::BTreeMap;
use std::ops::Range;

use super::steady::Touched;
use crate::ranked;
use crate::sharpness::{BANDS, Energies, Subject, disc};
use crate::store::schema::Side;
use crate::trial::energies::{level, middle};
use crate::trial::{Bounds, Curve, Rules, Trace};

/// The energies of a clip's updates.
#[derive(Clone, Debug, Default)]
pub struct Energy {
    /// One per sample of the curve.
    pub updates: Vec<Energies>,
    /// Of the bands, cycles per screen height; 0: not told by this clip.
    pub frequencies: [f64; BANDS],
}

/// One side as one clip shows it.
pub struct Seen {
    /// Updates that show it, from each shown onset to the next stimulus.
    pub stretches: Vec<Range<usize>>,
    /// Its energies when sharpest here: the middle of the sharpest hold.
    pub sharp: Energies,
    /// Updates that a hold has.
    pub hold: usize,
}

/// The sides of a clip with their sharpest holds. Each trial shows its side from
/// its shown onset to the end of window and hold, or to where it is over: later
/// the target may be on its way already.
pub fn sides(
    energy: &Energy,
    curve: &Curve,
    (bounds, touched): (&[Bounds], &[Touched]),
    rules: &Rules,
) -> BTreeMap<Option<Side>, Seen> {
    let hold_s = rules.hold_on(curve.period_s);
    let mut all: BTreeMap<Option<Side>, Vec<Range<usize>>> = BTreeMap::new();
    for (b, touched) in bounds.iter().zip(touched) {
        let onset = b.shown_onset_s();
        let read_to = onset + rules.window_s + hold_s;
        let from = curve.at_or_after(onset);
        let to = curve.at_or_after(b.over_s.unwrap_or(f64::MAX).min(read_to));
        // What is drawn over the picture is no blur of it.
        let to = if touched.drawn_over {
            from
        } else {
            to.max(from)
        };
        all.entry(b.stimulus.side).or_default().push(from..to);
    }
    let of = |stretches: Vec<Range<usize>>| {
        let sharp = sharpest(energy, curve, &stretches, hold_s)?;
        let hold = updates_of(hold_s, curve.period_s);
        Some(Seen {
            stretches,
            sharp,
            hold,
        })
    };
    all.into_iter()
        .filter_map(|(side, s)| Some((side, of(s)?)))
        .collect()
}

/// The middle energies of the sharpest hold; twice: first by plain energy,
/// then by the blur of the subject that this gives.
pub fn sharpest(
    energy: &Energy,
    curve: &Curve,
    stretches: &[Range<usize>],
    hold_s: f64,
) -> Option<Energies> {
    let holds: Vec<Range<usize>> = stretches
        .iter()
        .flat_map(|s| s.clone().filter_map(|k| hold(curve, k, s.end, hold_s)))
        .collect();
    let best = |of: &dyn Fn(&Energies) -> f64| {
        let mut levels = vec![0.0; energy.updates.len()];
        for s in stretches {
            let own = energy.updates[s.clone()].iter().map(of);
            levels[s.clone()]
                .iter_mut()
                .zip(own)
                .for_each(|(l, v)| *l = v);
        }
        let by = |r: &Range<usize>| ranked::middle(levels[r.clone()].to_vec()).unwrap_or(0.0);
        let each = holds.iter().map(|r| (by(r), r));
        let (_, top) = each.max_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(middle(&energy.updates[top.clone()]))
    };
    let first = best(&level)?;
    let hold = updates_of(hold_s, curve.period_s);
    let subject = Subject::learn(&first, &rows(energy, stretches), &energy.frequencies, hold)?;
    best(&|e| -subject.square(e))
}

/// The hold that begins at update `k`, if it ends before `end` and has no hole.
fn hold(curve: &Curve, k: usize, end: usize, hold_s: f64) -> Option<Range<usize>> {
    let samples = &curve.samples[k..end];
    let from = samples.first()?.shown_s;
    let n = samples.partition_point(|s| s.shown_s < from + hold_s - 0.25 * curve.period_s);
    let after = samples.get(n)?.shown_s;
    (n >= 5 && after < from + hold_s + 1.5 * curve.period_s).then_some(k..k + n)
}

fn updates_of(hold_s: f64, period_s: f64) -> usize {
    (hold_s / period_s).round() as usize
}

/// What blur does to a side's subject in this clip; `hold`: updates that a hold
/// has.
pub fn learn(
    energy: &Energy,
    sharp: &Energies,
    stretches: &[Range<usize>],
    hold: usize,
) -> Option<Subject> {
    let rows = rows(energy, stretches);
    let subject = Subject::learn(sharp, &rows, &energy.frequencies, hold)?;
    Some(subject.at_rest(&rows))
}

fn rows<'a>(energy: &'a Energy, stretches: &[Range<usize>]) -> Vec<&'a [Energies]> {
    let rows = stretches.iter().map(|s| &energy.updates[s.clone()]);
    rows.collect()
}

/// A side's course of blur against a reference.
pub fn trace(energy: &Energy, curve: &Curve, subject: &Subject) -> Trace {
    Trace::new(curve, |k| subject.blur(&energy.updates[k]))
}

/// By how much the sharpest moment is sharper than the reference, ‰² (nought or
/// below). A lens that runs through focus and stops beside it is sharpest while
/// it passes. A moment is three updates on end, of which the middle one by blur
/// counts: a single one may be coded oddly, or show the lens in flight. What
/// chance selection among many alike adds is taken off.
pub fn sharper(trace: &Trace, stretches: &[Range<usize>]) -> f64 {
    let mut moments: Vec<(f64, f64)> = stretches
        .iter()
        .flat_map(|s| trace.updates[s.clone()].windows(3))
        .filter_map(|w| {
            let mut three: Vec<(f64, f64)> =
                w.iter().map(|u| (u.blur.square, u.blur.square_u)).collect();
            three.sort_by(|a, b| a.0.total_cmp(&b.0));
            three.get(1).copied()
        })
        .collect();
    moments.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some((best, u)) = moments.first().copied() else {
        return 0.0;
    };
    let alike = moments.partition_point(|m| m.0 < best + 4.0 * u);
    let lucky = u * expected_largest(alike as f64);
    (best + lucky).min(0.0)
}

/// Expected largest of `n` normal deviates (Blom 1958, cited from memory).
fn expected_largest(n: f64) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    Normal::standard()
        .inverse_cdf((n.max(1.0) - 0.375) / (n.max(1.0) + 0.25))
        .max(0.0)
}

/// Energies of a sharp subject as a film sees it whose own softness differs:
/// `square` is that difference as the square of a disc's diameter, ‰².
pub fn refilmed(sharp: &Energies, frequencies: &[f64; BANDS], square: f64) -> Energies {
    std::array::from_fn(|b| sharp[b] * disc::left(square, frequencies[b]) as f32)
}
