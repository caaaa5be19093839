//! How far the threshold could lie elsewhere.
//!
//! Sources: the smoothed bootstrap, Silverman & Young 1987, Biometrika 74:469,
//! with the width of Silverman 1986, *Density Estimation*, equation 3.31; the
//! plain one is not to be trusted with where a curve of steps is highest
//! (Abrevaya & Huang 2005, Econometrica 73:1175). Limits and their widening:
//! [`bootstrap`](super::super::bootstrap). Cited from memory.
//!
//! On simulated sessions (250 each; normal and gamma shapes, spreads alike and
//! up to three times as wide) with ten bad of twenty and of sixty or more the
//! 95 % interval holds the best threshold in 0.92 and more; the plain bootstrap
//! in 0.62 to 0.95. With five bad of 45 it is 0.78: hence
//! [`FEWEST_EACH`](super::FEWEST_EACH).

use rand::{Rng, RngExt};

use super::super::bootstrap::{FEWEST_CLIPS, draw, generator, limits, tail};
use super::super::compare::Interval;
use super::super::{normal, quantile};
use super::threshold::{Ask, Point, Shown, best};

/// What was drawn anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Unit {
    /// Whole clips, as trials of one clip are not independent.
    Clips,
    /// Single trials: there are too few clips. The interval may be too narrow.
    Trials,
}

/// Interquartile range of the normal distribution, in standard deviations.
const QUARTILES: f64 = 1.34;

/// The interval of the threshold and what was drawn for it. `None` where fewer
/// than nine in ten of the draws part good from bad.
pub(super) fn interval(shown: &[Shown], ask: &Ask) -> (Unit, Option<Interval>) {
    let (unit, groups) = groups(shown);
    let widths = [false, true].map(|good| width(shown, good));
    let mut rng = generator(ask.seed, "photographs");
    let mut found = Vec::new();
    for _ in 0..ask.resamples {
        let mut points = Vec::with_capacity(shown.len());
        for (group, times) in groups.iter().zip(draw(&mut rng, groups.len())) {
            for _ in 0..times {
                points.extend(group.iter().map(|one| blurred(one, &widths, &mut rng)));
            }
        }
        found.extend(best(&mut points).map(|cut| cut.permille));
    }
    let enough = found.len() * 10 >= ask.resamples * 9;
    let tail = tail(ask.confidence, groups.len(), groups.len() + 1);
    let limits = limits(&mut found, tail).filter(|_| enough);
    (unit, limits.map(|(low, high)| Interval { low, high }))
}

/// What is drawn: clips where there are enough, else trials.
fn groups(shown: &[Shown]) -> (Unit, Vec<Vec<Shown>>) {
    let mut clips: Vec<usize> = shown.iter().map(|one| one.clip).collect();
    clips.sort_unstable();
    clips.dedup();
    if clips.len() < FEWEST_CLIPS {
        return (Unit::Trials, shown.iter().map(|one| vec![*one]).collect());
    }
    let of = |clip| shown.iter().filter(move |one| one.clip == clip);
    let clips = clips.into_iter().map(|clip| of(clip).copied().collect());
    (Unit::Clips, clips.collect())
}

/// One trial, its blur smoothed by the width of its kind.
fn blurred(one: &Shown, widths: &[f64; 2], rng: &mut impl Rng) -> Point {
    // The open range: neither end has a quantile.
    let chance = rng.random_range(f64::EPSILON..1.0);
    Point {
        permille: one.permille + widths[usize::from(one.good)] * normal::quantile(chance),
        good: one.good,
    }
}

/// Width of the kernel for the blur of good or of bad photographs, ‰.
fn width(shown: &[Shown], good: bool) -> f64 {
    let of_kind = shown.iter().filter(|one| one.good == good);
    let mut values: Vec<f64> = of_kind.map(|one| one.permille).collect();
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let spread = (square / (n - 1.0)).sqrt();
    let quartile = |p| quantile::type_8(&values, p);
    let middle = quartile(0.75)
        .zip(quartile(0.25))
        .map(|(high, low)| high - low);
    // Where half of the values are one, their range says nothing.
    let middle = middle.filter(|range| *range > 0.0);
    let scale = middle.map_or(spread, |range| spread.min(range / QUARTILES));
    0.9 * scale * n.powf(-0.2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(values: &[f64]) -> Vec<Shown> {
        let one = |&permille| Shown {
            clip: 0,
            permille,
            good: true,
        };
        values.iter().map(one).collect()
    }

    /// 0.9 · min(sd, IQR ÷ 1.34) · n^−0.2 by running numpy 2.4.6, quartiles by
    /// `quantile(method = "median_unbiased")`, which is type 8.
    #[test]
    fn width_as_silverman_has_it() {
        let values = [1.9, 4.2, 1.4, 2.8, 3.1, 5.1, 3.0, 1.3, 3.3, 1.6, 0.9, 2.5];
        let got = width(&shown(&values), true);
        assert!((got - 0.686_033_949_691_970).abs() < 1e-12, "{got}");
        assert_eq!(width(&shown(&[2.0; 11]), true), 0.0);
    }
}
