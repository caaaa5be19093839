//! Best focus from the clips that were focused by hand.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::setup::{Outcome, settings};
use crate::rig::{Reference, Setup};
use crate::store::schema::Side;

/// Levels of best focus from the clips focused by hand.
pub fn by_hand(
    setup: &Setup,
    hand: &[(PathBuf, Outcome)],
    outcomes: &[Outcome],
    failures: &mut Vec<String>,
) -> BTreeMap<Option<Side>, f64> {
    let wanted: Vec<(Option<Side>, &Path)> = match &setup.reference {
        None => Vec::new(),
        Some(Reference::Single(p)) => vec![(None, p.as_path())],
        Some(Reference::Sides { near, far }) => near
            .iter()
            .map(|p| (Some(Side::Near), p.as_path()))
            .chain(far.iter().map(|p| (Some(Side::Far), p.as_path())))
            .collect(),
    };
    let rules = settings(&setup.rig);
    let lattice = lattice(outcomes);
    let mut out = BTreeMap::new();
    for (side, path) in wanted {
        let outcome = hand.iter().find(|(p, _)| p == path);
        let Some(watched) = outcome.and_then(|(_, o)| o.watched.as_ref().ok()) else {
            continue;
        };
        match watched.curve.steady_level(rules.hold_s, rules.tolerance) {
            Some(level) => {
                out.insert(side, (level - lattice).max(f64::MIN_POSITIVE));
            }
            None => failures.push(format!(
                "{}: {}: no steady sharpness in this reference clip; film it again, focused by \
                 hand and left alone. The setup's own best stands in",
                setup.name,
                path.display()
            )),
        }
    }
    out
}

/// What the screen's own lattice adds in a setup's clips: a reference clip of
/// one side alone cannot tell it from its subject. 0 where there is none.
fn lattice(outcomes: &[Outcome]) -> f64 {
    let mut levels: Vec<f64> = outcomes
        .iter()
        .filter_map(|o| o.watched.as_ref().ok()?.lattice)
        .collect();
    levels.sort_by(f64::total_cmp);
    levels.get(levels.len() / 2).copied().unwrap_or(0.0)
}
