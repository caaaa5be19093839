//! Counts over pictures.

use super::record::{PhotoSummary, Picture, PictureVerdict};
use crate::stats::binomial::wilson;
use crate::stats::quantile;
use crate::store::schema::Rate;

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
        hit_rate: wilson(hit, judged, confidence).map(|(low, high)| Rate {
            value: hit as f64 / judged as f64,
            low,
            high,
            confidence,
        }),
        median_permille: quantile::type_8(&blurs, 0.5),
        p90_permille: quantile::type_8(&blurs, 0.9),
    }
}
