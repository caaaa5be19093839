//! Two setups' photographs against each other.

use serde::Serialize;

use super::record::{Photos, Picture, PictureVerdict, Target};
use crate::stats::difference::{Arm, rate_difference};
use crate::stats::fisher;
use crate::stats::holm::holm;
use crate::store::schema::{ReferenceFrom, Side};

/// Hit rates of two setups, the first minus the second, over near and far as strata
/// where the targets are known as such.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Versus {
    /// The first setup's name.
    pub a: String,
    /// The second's.
    pub b: String,
    /// Difference of the hit rates, -1..=1; null with nothing judged.
    pub value: Option<f64>,
    /// Lower limit (Newcombe 1998, method 10).
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Fisher's exact test, two-sided.
    pub fisher_p: Option<f64>,
    /// The same adjusted for the number of pairs (Holm 1979).
    pub holm_p: Option<f64>,
    /// Whether both were held against pictures focused by hand.
    pub verified: bool,
    /// Whether both have one hit limit, in circles of confusion.
    pub same_limit: bool,
}

/// Every pair, in the order given.
pub fn versus(all: &[Photos], confidence: f64) -> Vec<Versus> {
    let mut pairs: Vec<Versus> = Vec::new();
    for (k, a) in all.iter().enumerate() {
        pairs.extend(all[k + 1..].iter().map(|b| pair(a, b, confidence)));
    }
    let adjusted = holm(&pairs.iter().map(|p| p.fisher_p).collect::<Vec<_>>());
    for (pair, p) in pairs.iter_mut().zip(adjusted) {
        pair.holm_p = p;
    }
    pairs
}

/// Near and far apart, where all of both setups' targets are known as such; else
/// all pictures together.
fn strata(a: &Photos, b: &Photos) -> Vec<(Arm, Arm)> {
    let sides = |p: &Photos| p.targets.iter().all(|t| t.side.is_some());
    if !sides(a) || !sides(b) {
        return vec![(arm(a, |_| true), arm(b, |_| true))];
    }
    let of = |p: &Photos, side: Side| arm(p, |t| t.and_then(|t| t.side) == Some(side));
    [Side::Near, Side::Far]
        .map(|s| (of(a, s), of(b, s)))
        .to_vec()
}

fn arm(photos: &Photos, of: impl Fn(Option<&Target>) -> bool) -> Arm {
    let target = |p: &Picture| p.target.and_then(|k| photos.targets.get(k));
    let these = || photos.pictures.iter().filter(|p| of(target(p)));
    let count = |v| these().filter(|p| p.verdict == v).count() as u64;
    let hits = count(PictureVerdict::Hit);
    Arm {
        hits,
        n: hits + count(PictureVerdict::Miss),
    }
}

fn pair(a: &Photos, b: &Photos, confidence: f64) -> Versus {
    let strata = strata(a, b);
    let difference = rate_difference(&strata, confidence);
    let by_hand = |p: &Photos| {
        let mut targets = p.targets.iter();
        targets.all(|t| t.reference_from == ReferenceFrom::Hand)
    };
    Versus {
        a: a.setup.clone(),
        b: b.setup.clone(),
        value: difference.map(|d| d.value),
        low: difference.map(|d| d.low),
        high: difference.map(|d| d.high),
        fisher_p: fisher::exact_p(&strata),
        holm_p: None,
        verified: by_hand(a) && by_hand(b),
        same_limit: limits(a) == limits(b),
    }
}

/// Hit limits in hundredths of a circle of confusion, the largest last.
fn limits(photos: &Photos) -> Option<i64> {
    let of = |t: &Target| (t.hit_limit_permille / t.circle_permille * 100.0).round() as i64;
    photos.targets.iter().map(of).max()
}
