//! Whether the clips of a setup differ among themselves.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::store::schema::Side;

use super::super::sample::{self, Observation};
use super::super::{quantile, spread};

/// Spread of hit latency between the clips of a setup.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BetweenClips {
    /// Clips compared.
    pub clips: u64,
    /// Lowest and highest clip median, ms.
    pub medians_ms: [f64; 2],
    /// Standard deviation between clips beyond what trials scatter, ms.
    pub sd_ms: f64,
    /// Standard deviation within a clip, ms.
    pub within_sd_ms: f64,
    /// Share of the variance that lies between clips.
    pub share: f64,
    /// p-value of no spread between clips.
    pub p: f64,
}

/// Hit latencies clip by clip, each less its side's median so that a clip with
/// more trials of the slower side does not look like a slower clip.
pub(super) fn between_clips(judged: &[Observation]) -> Option<BetweenClips> {
    let sides: BTreeSet<Option<Side>> = judged.iter().map(|o| o.side).collect();
    let medians: BTreeMap<Option<Side>, f64> = sides
        .into_iter()
        .map(|side| {
            let part: Vec<_> = judged.iter().filter(|o| o.side == side).copied().collect();
            let median = quantile::type_8(&sample::sorted_hits(&part), 0.5);
            (side, median.unwrap_or(0.0))
        })
        .collect();
    let mut groups: BTreeMap<usize, (Vec<f64>, Vec<f64>)> = BTreeMap::new();
    for observation in judged {
        if let Some(ms) = observation.hit_ms {
            let group = groups.entry(observation.clip).or_default();
            group.0.push(ms);
            group.1.push(ms - medians[&observation.side]);
        }
    }
    let aligned: Vec<_> = groups.values().map(|g| g.1.clone()).collect();
    let found = spread::between_clips(&aligned)?;
    let clip_medians = groups.into_values().filter_map(|(mut ms, _)| {
        ms.sort_by(f64::total_cmp);
        quantile::type_8(&ms, 0.5)
    });
    let range = clip_medians.fold([f64::INFINITY, f64::NEG_INFINITY], |r, m| {
        [r[0].min(m), r[1].max(m)]
    });
    Some(BetweenClips {
        clips: found.clips as u64,
        medians_ms: range,
        sd_ms: found.between,
        within_sd_ms: found.within,
        share: found.share_between,
        p: found.p,
    })
}
