//! What needs no picture: pairs of setups over two targets.

use super::record::*;
use super::versus::versus;
use crate::store::schema::{ReferenceFrom, Side};

/// A setup with so many hits and misses of near, then of far.
fn setup(name: &str, counts: [(usize, usize); 2]) -> Photos {
    let target = |side| Target {
        side: Some(side),
        reference_from: ReferenceFrom::Hand,
        reference: String::new(),
        size: [900, 600],
        circle_permille: 1.2,
        hit_limit_permille: 1.2,
        least_permille: None,
        softer_permille: None,
        pictures: 0,
    };
    let picture = |target, verdict| Picture {
        file: String::new(),
        target: Some(target),
        likeness: None,
        verdict,
        reason: None,
        error: None,
        beyond_recognition: false,
        blur: None,
        close_call: false,
        trial: None,
    };
    let mut pictures = Vec::new();
    for (k, (hit, miss)) in counts.into_iter().enumerate() {
        pictures.extend((0..hit).map(|_| picture(k, PictureVerdict::Hit)));
        pictures.extend((0..miss).map(|_| picture(k, PictureVerdict::Miss)));
    }
    Photos {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: name.to_owned(),
        area: [0.0, 0.0, 1.0, 1.0],
        blur_version: 1,
        asked_permille: None,
        confidence: 0.95,
        targets: vec![target(Side::Near), target(Side::Far)],
        summary: super::summary::summary(&pictures, 0.95),
        pictures,
        screen: None,
        warnings: Vec::new(),
    }
}

/// Simpson's paradox (1951, J. R. Stat. Soc. B 13:238): each side has equal rates,
/// the sums do not, because the setups were photographed near and far unequally
/// often.
#[test]
fn near_and_far_are_not_pooled() {
    let a = setup("kit-amber", [(36, 4), (5, 5)]);
    let b = setup("kit-slate", [(9, 1), (20, 20)]);
    let pooled = |p: &Photos| p.summary.hit as f64 / p.summary.judged as f64;
    assert!(pooled(&a) - pooled(&b) > 0.2);
    let found = &versus(&[a, b], 0.95)[0];
    assert!(found.value.unwrap().abs() < 1e-12, "{found:?}");
    assert!(found.fisher_p.unwrap() > 0.99 && found.verified);
}
