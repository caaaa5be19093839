//! Verdicts: a trial held against its side's reference and the trial before.

use std::collections::BTreeMap;

use super::moments::{Observed, Settings};
use crate::store::schema::{Side, Verdict};

/// The sharpness of best focus, per side (`None`: light and tone).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reference {
    /// Level in the measure's unit.
    pub level: f64,
    /// Whether it comes from a clip focused by hand.
    pub by_hand: bool,
}

/// A change of this share of the best focus is no move of the lens: far out of
/// focus, the last of the target's own movement is as much.
const LEAST_MOVE: f64 = 0.03;

/// A verdict and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Judged {
    /// Hit, soft, lost or void.
    pub verdict: Verdict,
    /// The reason, for lost and void.
    pub reason: Option<&'static str>,
    /// The camera was in focus on this side when the trial ended.
    pub focused_at_end: bool,
}

/// Largest 3 σ ÷ level at which a plateau can still be told.
const NOISIEST: f64 = 0.25;

/// The references of a setup from its own plateaus: per side the 90th
/// percentile, or the highest of fewer than five. `by_hand` levels win.
#[must_use]
pub fn references(
    seen: &[&Observed],
    by_hand: &BTreeMap<Option<Side>, f64>,
    quantile: impl Fn(&[f64], f64) -> Option<f64>,
) -> BTreeMap<Option<Side>, Reference> {
    let mut levels: BTreeMap<Option<Side>, Vec<f64>> = BTreeMap::new();
    for o in seen {
        let usable = !o.cut && !o.no_signal && !o.unclear;
        if let Some(p) = o.plateau.filter(|_| usable) {
            levels.entry(o.stimulus.side).or_default().push(p.level);
        }
    }
    let mut out = BTreeMap::new();
    for (side, mut list) in levels {
        list.sort_by(f64::total_cmp);
        let own = match list.len() {
            0..5 => list.last().copied(),
            _ => quantile(&list, 0.9),
        };
        if let Some(level) = own {
            out.insert(
                side,
                Reference {
                    level,
                    by_hand: false,
                },
            );
        }
    }
    for (side, level) in by_hand {
        out.insert(
            *side,
            Reference {
                level: *level,
                by_hand: true,
            },
        );
    }
    out
}

/// Judges the trials of one clip in order.
#[must_use]
pub fn judge(
    trials: &[Observed],
    references: &BTreeMap<Option<Side>, Reference>,
    settings: &Settings,
) -> Vec<Judged> {
    let mut out: Vec<Judged> = Vec::with_capacity(trials.len());
    for (i, o) in trials.iter().enumerate() {
        let reference = references.get(&o.stimulus.side);
        let ready = match i.checked_sub(1) {
            Some(before)
                if trials[before].stimulus.side != o.stimulus.side && !trials[before].unclear =>
            {
                // What could not be watched to its end says less than the
                // picture just before the target moved.
                let focused = out[before].focused_at_end;
                if trials[before].cut {
                    started_focused(o, references, settings).or(focused.then_some(true))
                } else {
                    Some(focused)
                }
            }
            _ => started_focused(o, references, settings),
        };
        out.push(verdict(o, reference, ready, settings));
    }
    out
}

/// For a trial without one before it: was the other side in focus when the
/// target began to move? `None` where that was not filmed.
fn started_focused(
    o: &Observed,
    references: &BTreeMap<Option<Side>, Reference>,
    settings: &Settings,
) -> Option<bool> {
    let other = match o.stimulus.side? {
        Side::Near => Side::Far,
        Side::Far => Side::Near,
    };
    let reference = references.get(&Some(other))?;
    Some(o.level_before? >= settings.hit_ratio * reference.level)
}

fn verdict(
    o: &Observed,
    reference: Option<&Reference>,
    ready: Option<bool>,
    settings: &Settings,
) -> Judged {
    let best = reference.map_or(0.0, |r| r.level);
    // What the camera did counts for the next trial, whatever made this void.
    let (verdict, reason) = ending(o, best, settings);
    let sharp_at_end =
        o.in_band_at_end && best > 0.0 && o.level_at_end >= settings.hit_ratio * best;
    let focused_at_end = verdict == Verdict::Hit || o.cut && sharp_at_end;
    let untested = o.stimulus.side.is_some() && !displaced(o, ready);
    let (verdict, reason) = if o.cut {
        (Verdict::Void, Some("cut"))
    } else if o.no_signal {
        (Verdict::Void, Some("no signal"))
    } else if o.unclear {
        (Verdict::Void, Some("cannot tell"))
    } else if untested {
        (Verdict::Void, Some("not displaced"))
    } else if o.disturbed {
        (Verdict::Void, Some("cannot tell"))
    } else {
        (verdict, reason)
    };
    Judged {
        verdict,
        reason,
        focused_at_end,
    }
}

type Ending = (Verdict, Option<&'static str>);

/// How the trial ended, had it been a fair one.
fn ending(o: &Observed, best: f64, settings: &Settings) -> Ending {
    let Some(p) = o.plateau else {
        return if 3.0 * o.sigma_at_end > NOISIEST * best.max(o.level_at_end) {
            (Verdict::Void, Some("cannot tell"))
        } else {
            (Verdict::Lost, Some("hunted on"))
        };
    };
    if 3.0 * p.sigma > NOISIEST * best.max(p.level) || best <= 0.0 {
        return (Verdict::Void, Some("cannot tell"));
    }
    if o.changed_by <= LEAST_MOVE * best {
        return unmoved(o, p.level, p.sigma, best, settings);
    }
    let sharp = p.level >= settings.hit_ratio * best;
    if !o.in_band_at_end {
        // A blurred level it merely started from is not one it settled on.
        let started_there = o.settle_s.is_some_and(|s| s <= o.starting_level_until_s);
        return if started_there && !sharp {
            (Verdict::Lost, Some("hunted on"))
        } else {
            (Verdict::Lost, Some("did not stay"))
        };
    }
    if sharp {
        (Verdict::Hit, None)
    } else {
        (Verdict::Soft, None)
    }
}

/// Nothing changed after onset: sharp all along, blurred all along, or too
/// close to the line to say.
fn unmoved(o: &Observed, level: f64, sigma: f64, best: f64, settings: &Settings) -> Ending {
    let line = settings.hit_ratio * best;
    if level >= line {
        return if o.stimulus.side.is_some() {
            (Verdict::Hit, None)
        } else {
            (Verdict::Void, Some("not displaced"))
        };
    }
    if level < line - 2.0 * sigma {
        (Verdict::Lost, Some("never moved"))
    } else {
        (Verdict::Void, Some("cannot tell"))
    }
}

/// Whether the subject was out of focus to begin with.
fn displaced(o: &Observed, ready: Option<bool>) -> bool {
    ready.unwrap_or_else(|| {
        // What came before was not filmed: the picture itself must show that
        // it was out of focus at onset.
        o.plateau
            .is_some_and(|p| o.level_at_onset < p.level - 2.0 * p.band)
    })
}
