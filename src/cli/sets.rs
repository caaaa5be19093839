//! Which setups of a session can be held against each other.

use std::path::PathBuf;

use crate::stats::compare::{CompareOptions, Comparison, Named, compare};
use crate::store::schema::Timing;

/// Compares the setups that start their trials alike and were judged at one δ;
/// `warn` hears which were left out, and why.
pub fn compared(written: &[(PathBuf, Timing)], warn: &mut dyn FnMut(String)) -> Vec<Comparison> {
    let sets = grouped(written);
    let several = sets.len() > 1;
    let mut comparisons = Vec::new();
    for set in sets {
        match set.as_slice() {
            [(_, alone)] if several => warn(format!(
                "{}: compared to no other setup: none starts its trials the same way and was \
                 judged by the same blur at the same δ",
                alone.setup.name
            )),
            [_] => {}
            _ => match compare(&named(&set), &CompareOptions::default()) {
                Ok(comparison) => comparisons.push(comparison),
                Err(e) => warn(format!("the setups are not compared: {e}")),
            },
        }
    }
    comparisons
}

/// Which files to leave out so that the others compare, where that helps.
pub fn left_out(read: &[(String, Timing)]) -> Option<String> {
    let sets = grouped(read);
    let most = sets.iter().map(Vec::len).max()?;
    let keep = sets.iter().position(|set| set.len() == most)?;
    let others = sets.iter().enumerate().filter(|(k, _)| *k != keep);
    let out = others.flat_map(|(_, set)| set.iter().map(|(file, _)| file.as_str()));
    let out: Vec<&str> = out.collect();
    (most > 1 && !out.is_empty()).then(|| {
        format!(
            "command line: leave out {}; the other {most} compare",
            out.join(", ")
        )
    })
}

/// The files whose trials start as in most of them, and the names of the
/// others; all of them where no such set is larger than the others and at
/// least two.
pub fn started_alike(read: Vec<(String, Timing)>) -> (Vec<(String, Timing)>, Vec<String>) {
    let with = read.iter().filter(|(_, t)| sides(t)).count();
    let without = read.len() - with;
    if with == without || with.max(without) < 2 || with.min(without) == 0 {
        return (read, Vec::new());
    }
    let kept = |(_, t): &(_, Timing)| sides(t) == (with > without);
    let (keep, out): (Vec<_>, Vec<_>) = read.into_iter().partition(kept);
    (keep, out.into_iter().map(|(file, _)| file).collect())
}

/// Whether its trials are swings, near and far.
fn sides(timing: &Timing) -> bool {
    let mut trials = timing.clips.iter().flat_map(|c| &c.trials);
    trials.any(|t| t.side.is_some())
}

/// Those that can be held against each other, together.
fn grouped<T>(all: &[(T, Timing)]) -> Vec<Vec<&(T, Timing)>> {
    let mut sets: Vec<Vec<&(T, Timing)>> = Vec::new();
    for one in all {
        match sets.iter_mut().find(|set| alike(&set[0].1, &one.1)) {
            Some(set) => set.push(one),
            None => sets.push(vec![one]),
        }
    }
    sets
}

fn alike(a: &Timing, b: &Timing) -> bool {
    let kind = |t: &Timing| t.rig.pointer("/stimulus/kind").cloned();
    kind(a) == kind(b) && a.measured() == b.measured() && a.deltas() == b.deltas()
}

fn named<'a>(set: &[&'a (PathBuf, Timing)]) -> Vec<Named<'a>> {
    let named = |(file, timing): &'a (PathBuf, Timing)| {
        let name = file.file_name().and_then(|n| n.to_str());
        let file = name.unwrap_or(&timing.setup.name);
        Named { file, timing }
    };
    set.iter().copied().map(named).collect()
}
