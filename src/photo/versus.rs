//! Two setups' photographs against each other.

use serde::Serialize;

use super::record::Photos;
use crate::stats::difference::{Arm, rate_difference};
use crate::stats::fisher;
use crate::stats::holm::holm;
use crate::store::schema::ReferenceFrom;

/// Hit rates of two setups, the first minus the second.
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

fn pair(a: &Photos, b: &Photos, confidence: f64) -> Versus {
    let arm = |p: &Photos| Arm {
        hits: p.summary.hit,
        n: p.summary.judged,
    };
    let strata = [(arm(a), arm(b))];
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
    let of = |t: &super::Target| (t.hit_limit_permille / t.circle_permille * 100.0).round() as i64;
    photos.targets.iter().map(of).max()
}
