//! Counts over pictures.

use super::record::{PhotoSummary, Picture, PictureVerdict};
use crate::stats::quantile;
use crate::stats::summary::rate;

/// Counts a setup's pictures; `confidence` of the hit rate's interval.
pub(super) fn summary(pictures: &[Picture], confidence: f64) -> PhotoSummary {
    let count = |v: PictureVerdict| pictures.iter().filter(|p| p.verdict == v).count() as u64;
    let (hit, miss) = (count(PictureVerdict::Hit), count(PictureVerdict::Miss));
    let judged = hit + miss;
    let mut blurs: Vec<f64> = pictures
        .iter()
        .filter(|p| p.verdict != PictureVerdict::Void)
        .filter_map(|p| p.blur.map(|b| b.permille))
        .collect();
    blurs.sort_by(f64::total_cmp);
    PhotoSummary {
        pictures: pictures.len() as u64,
        judged,
        hit,
        miss,
        void: count(PictureVerdict::Void),
        close_calls: pictures.iter().filter(|p| p.close_call).count() as u64,
        hit_rate: rate(hit, judged, confidence),
        median_permille: quantile::type_8(&blurs, 0.5),
        p90_permille: quantile::type_8(&blurs, 0.9),
    }
}
