//! From which blur on the screen photographs go bad.
//!
//! Source: Youden 1950, Cancer 3:32. The threshold is where J, the share of bad
//! photographs above it less the share of good ones above it, is largest. It
//! lies midway between two blurs that were seen; of several that do as well it is
//! the middle one, the lower of two.
//!
//! Sensitivity, specificity and J are of the same trials that the threshold was
//! chosen by, so they flatter it a little. The area does not depend on it.

use super::super::compare::Interval;
use super::auc::{Area, area};
use super::resample::{Unit, interval};
use super::trust::{Share, share};

/// Fewest good and fewest bad photographs that a threshold is told from: with
/// fewer its interval does not hold what it promises (simulated, see
/// `resample`).
pub(crate) const FEWEST_EACH: usize = 10;

/// One trial: what the screen shows at its end, and its photograph.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shown {
    /// Index of its clip in the timing file.
    pub clip: usize,
    /// End blur on the screen, ‰ of the screen's height; finite, and below 0
    /// where it is sharper than its reference.
    pub permille: f64,
    /// Its photograph is good.
    pub good: bool,
}

/// What is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ask {
    /// Two-sided level of the intervals, 0..1.
    pub confidence: f64,
    /// Seed of the resamples.
    pub seed: u64,
    /// How many are drawn, at least 199 for an interval at 0.95.
    pub resamples: usize,
}

/// The blur that parts good photographs from bad ones, and how well.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Parting {
    /// Photographs above this blur on the screen are taken as bad, ‰.
    pub threshold_permille: f64,
    /// Its interval by the smoothed bootstrap, ‰; `None` where fewer than nine
    /// in ten of the resamples part good from bad, or they are too few.
    pub interval: Option<Interval>,
    /// What was drawn for the interval.
    pub drawn: Unit,
    /// What was asked for, the seed included.
    pub ask: Ask,
    /// J: sensitivity + specificity − 1, above 0 and at most 1.
    pub youden_j: f64,
    /// Of the bad photographs, those above the threshold.
    pub sensitivity: Share,
    /// Of the good photographs, those not above it.
    pub specificity: Share,
    /// How well blur on the screen parts them, whatever the threshold.
    pub area: Area,
}

/// Why there is no threshold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NotParted {
    /// Fewer than [`FEWEST_EACH`] good photographs.
    TooFewGood {
        /// So many there are.
        good: usize,
    },
    /// Fewer than [`FEWEST_EACH`] bad photographs.
    TooFewBad {
        /// So many there are.
        bad: usize,
    },
    /// The bad ones are nowhere more often above a blur than the good ones.
    NotBlurrier,
    /// The blur of a trial is no number.
    NoNumber {
        /// Its place in what was handed in, from 0.
        place: usize,
    },
}

/// Finds the threshold.
///
/// # Errors
/// Why there is none.
pub(crate) fn part(shown: &[Shown], ask: &Ask) -> Result<Parting, NotParted> {
    if let Some(place) = shown.iter().position(|one| !one.permille.is_finite()) {
        return Err(NotParted::NoNumber { place });
    }
    let (good, bad) = (sorted(shown, true), sorted(shown, false));
    if good.len() < FEWEST_EACH {
        return Err(NotParted::TooFewGood { good: good.len() });
    }
    if bad.len() < FEWEST_EACH {
        return Err(NotParted::TooFewBad { bad: bad.len() });
    }
    let told = || {
        let cut = best(&mut shown.iter().map(Point::of).collect::<Vec<_>>())?;
        let of = |count, all: &[f64]| share(count, all.len() as u64, ask.confidence);
        let (drawn, interval) = interval(shown, ask);
        let (sensitivity, specificity) = (of(cut.bad_above, &bad)?, of(cut.good_below, &good)?);
        Some(Parting {
            threshold_permille: cut.permille,
            interval,
            drawn,
            ask: *ask,
            youden_j: sensitivity.rate.value + specificity.rate.value - 1.0,
            sensitivity,
            specificity,
            area: area(&bad, &good, ask.confidence)?,
        })
    };
    told().ok_or(NotParted::NotBlurrier)
}

fn sorted(shown: &[Shown], good: bool) -> Vec<f64> {
    let of_kind = shown.iter().filter(|one| one.good == good);
    let mut values: Vec<f64> = of_kind.map(|one| one.permille).collect();
    values.sort_by(f64::total_cmp);
    values
}

/// A blur and the photograph that goes with it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    /// Blur on the screen, ‰.
    pub permille: f64,
    /// The photograph is good.
    pub good: bool,
}

impl Point {
    fn of(shown: &Shown) -> Self {
        Self {
            permille: shown.permille,
            good: shown.good,
        }
    }
}

/// A threshold and what lies on its right side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cut {
    /// ‰.
    pub permille: f64,
    /// Bad photographs above it.
    pub bad_above: u64,
    /// Good photographs not above it.
    pub good_below: u64,
}

/// The threshold with the largest J; `None` where no J is above 0. Puts the
/// points in order.
pub(super) fn best(points: &mut [Point]) -> Option<Cut> {
    points.sort_by(|a, b| a.permille.total_cmp(&b.permille));
    let all_good = points.iter().filter(|p| p.good).count() as u64;
    let all_bad = points.len() as u64 - all_good;
    let (mut good_below, mut bad_below) = (0, 0);
    // J times both numbers, a whole number, so that equal ones are found equal.
    let mut top = 0;
    let mut found: Vec<Cut> = Vec::new();
    for pair in points.windows(2) {
        match pair[0].good {
            true => good_below += 1,
            false => bad_below += 1,
        }
        let height = i128::from(good_below * all_bad) - i128::from(bad_below * all_good);
        if pair[0].permille == pair[1].permille || height < top || height <= 0 {
            continue;
        }
        if height > top {
            top = height;
            found.clear();
        }
        found.push(Cut {
            permille: f64::midpoint(pair[0].permille, pair[1].permille),
            bad_above: all_bad - bad_below,
            good_below,
        });
    }
    found.get(found.len().checked_sub(1)? / 2).copied()
}
