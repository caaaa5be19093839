//! One figure over the sessions: how much it scatters within and between.

use std::collections::BTreeSet;

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::super::difference::Arm;
use super::super::sample::Observation;
use super::super::spread::{between_clips, between_interval, harmonic_size, means_variance};
use super::session::{Session, mean};
use super::smallest_change;
use crate::store::schema::Side;

/// Power of the smallest change.
const POWER: f64 = 0.8;
/// Two results of one kind differ by more than so many standard deviations
/// once in twenty times: 1.96 √2, as ISO 5725-6 rounds it.
const LIMIT: f64 = 2.8;

/// How much one figure scatters. Settle and focus times in ms, rates as shares.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// `settle_ms` (hits), `time_to_focus_ms` (all judged, a miss as the
    /// window) or `hit_rate`.
    pub name: &'static str,
    /// `near`, `far` or `all`.
    pub side: &'static str,
    /// Sessions with such trials.
    pub sessions: u64,
    /// Trials that went in.
    pub trials: u64,
    /// Mean of all of them.
    pub mean: f64,
    /// Lowest and highest mean of a session.
    pub session_means: [f64; 2],
    /// Standard deviation of single trials within a session (repeatability).
    pub within: f64,
    /// Standard deviation between sessions beyond what trials scatter; 0 where
    /// the estimate is negative.
    pub between: f64,
    /// Lower limit of it.
    pub between_low: Option<f64>,
    /// Upper limit.
    pub between_high: Option<f64>,
    /// Standard deviation of single trials of different sessions
    /// (reproducibility).
    pub total: f64,
    /// Two trials of one session differ by more once in twenty times.
    pub repeatability_limit: f64,
    /// Two trials of different sessions.
    pub reproducibility_limit: f64,
    /// Test of no spread between sessions.
    pub p: Option<f64>,
    /// Smallest change of the mean that one more session of this size shows
    /// against these four times out of five.
    pub smallest_change: Option<f64>,
    /// Trials of a session, harmonic mean.
    pub trials_per_session: f64,
}

/// A trial's share in a figure; `None` if it has none.
type Value = fn(&Observation, f64) -> Option<f64>;

const FIGURES: [(&str, Value); 3] = [
    ("settle_ms", |o, window| {
        o.watched(window).hit.then(|| o.watched(window).ms)
    }),
    ("time_to_focus_ms", |o, window| Some(o.watched(window).ms)),
    ("hit_rate", |o, window| {
        Some(f64::from(o.watched(window).hit))
    }),
];

/// Every figure that two sessions have, side by side, then of all.
pub(super) fn figures(sessions: &[&Session], window_ms: f64, confidence: f64) -> Vec<Figure> {
    let all = sessions.iter().flat_map(|s| &s.judged);
    let sides: BTreeSet<Option<Side>> = all.map(|o| o.side).collect();
    let sides: Vec<Option<Side>> = sides.into_iter().collect();
    let mut found = Vec::new();
    for (name, value) in FIGURES {
        let strata: Vec<Vec<Vec<f64>>> = sides
            .iter()
            .map(|&side| {
                let of = |s: &&Session| -> Vec<f64> {
                    let part = s.judged.iter().filter(|o| o.side == side);
                    part.filter_map(|o| value(o, window_ms)).collect()
                };
                sessions.iter().map(of).collect()
            })
            .collect();
        if sides.len() > 1 {
            for (&side, stratum) in sides.iter().zip(&strata) {
                found.extend(one(
                    name,
                    side_name(side),
                    std::slice::from_ref(stratum),
                    confidence,
                ));
            }
        }
        found.extend(one(name, "all", &strata, confidence));
    }
    found
}

fn side_name(side: Option<Side>) -> &'static str {
    match side {
        Some(Side::Near) => "near",
        Some(Side::Far) => "far",
        None => "all",
    }
}

/// Strata, then sessions, then trials.
fn one(
    name: &'static str,
    side: &'static str,
    strata: &[Vec<Vec<f64>>],
    confidence: f64,
) -> Option<Figure> {
    let groups: Vec<Vec<f64>> = aligned(strata)
        .into_iter()
        .filter(|g| !g.is_empty())
        .collect();
    let spread = between_clips(&groups)?;
    // Rates lie in 0..1: no two sessions are further apart, nor do they scatter by
    // more than half of that.
    let is_rate = name == "hit_rate";
    let (widest, furthest) = if is_rate {
        (0.5, 1.0)
    } else {
        (f64::INFINITY, f64::INFINITY)
    };
    let interval = between_interval(&groups, confidence);
    let flat: Vec<f64> = groups.concat();
    let means = groups.iter().filter_map(|g| mean(g));
    let (within, between) = (spread.within, spread.between);
    let sessions = groups.len() as u64;
    Some(Figure {
        name,
        side,
        sessions,
        trials: flat.len() as u64,
        mean: mean(&flat)?,
        session_means: means.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], m| {
            [low.min(m), high.max(m)]
        }),
        within,
        between,
        between_low: interval.map(|i| i[0]),
        between_high: interval.map(|i| i[1].min(widest).max(between)),
        total: within.hypot(between),
        repeatability_limit: LIMIT * within,
        reproducibility_limit: LIMIT * within.hypot(between),
        p: if is_rate {
            homogeneity(strata)
        } else {
            Some(spread.p)
        },
        smallest_change: smallest_change(sessions, confidence, POWER)
            .map(|times| (times * means_variance(&groups).sqrt()).min(furthest)),
        trials_per_session: harmonic_size(&groups),
    })
}

/// Sessions over all strata, each value less its stratum's mean and with the
/// mean of all: a session with more trials of the slower side is no slower one.
fn aligned(strata: &[Vec<Vec<f64>>]) -> Vec<Vec<f64>> {
    if let [only] = strata {
        return only.clone();
    }
    let centre = mean(&strata.concat().concat()).unwrap_or(0.0);
    let mut sessions = vec![Vec::new(); strata.first().map_or(0, Vec::len)];
    for stratum in strata {
        let own = mean(&stratum.concat()).unwrap_or(0.0);
        for (session, values) in sessions.iter_mut().zip(stratum) {
            session.extend(values.iter().map(|x| x - own + centre));
        }
    }
    sessions
}

/// Chi-squared test that the hit rate is one in all sessions, summed over the
/// strata; `None` where all hit or all miss.
fn homogeneity(strata: &[Vec<Vec<f64>>]) -> Option<f64> {
    let (mut sum, mut freedom) = (0.0, 0.0);
    for stratum in strata {
        let arms: Vec<Arm> = stratum
            .iter()
            .filter(|values| !values.is_empty())
            .map(|values| Arm {
                hits: values.iter().filter(|v| **v > 0.5).count() as u64,
                n: values.len() as u64,
            })
            .collect();
        let total = arms.iter().fold(Arm::default(), |sum, arm| Arm {
            hits: sum.hits + arm.hits,
            n: sum.n + arm.n,
        });
        let p = total.hits as f64 / total.n as f64;
        if arms.len() < 2 || total.hits == 0 || total.hits == total.n {
            continue;
        }
        for arm in &arms {
            let n = arm.n as f64;
            sum += (arm.hits as f64 - n * p).powi(2) / (n * p * (1.0 - p));
        }
        freedom += arms.len() as f64 - 1.0;
    }
    (freedom > 0.0).then(|| ChiSquared::new(freedom).map_or(1.0, |chi| chi.sf(sum)))
}
