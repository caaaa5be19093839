//! `[[exclude]]`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use super::clips::identity;
use super::fields::Table;
use super::session::{Exclude, Setup};
use super::shelf::Shelf;
use super::value::Value;

/// Reads all `[[exclude]]`. Where `setups` is `None` (some could not be read)
/// everything but the clips is checked.
pub(super) fn excludes(
    root: &Table<'_>,
    setups: Option<&[Setup]>,
    shelf: &Shelf<'_>,
) -> Vec<Exclude> {
    let mut seen = BTreeSet::new();
    let mut out = Vec::new();
    for table in root.sections("exclude") {
        if let Some(exclude) = exclude(&table, setups, shelf) {
            if !seen.insert((identity(&exclude.clip), exclude.trial)) {
                table.fault("trial", "is excluded twice; take one of the two out");
            }
            out.push(exclude);
        }
    }
    out
}

fn exclude(table: &Table<'_>, setups: Option<&[Setup]>, shelf: &Shelf<'_>) -> Option<Exclude> {
    let clip = table.need("clip", "name the clip");
    let clip = clip.and_then(|v| clip_of(&v, setups, shelf));
    let trial = table.need(
        "trial",
        "add the trial's number as the results give it, from 0",
    );
    let trial = trial.and_then(|v| v.whole_in(0..=99_999));
    let reason = table.need("reason", "say why; the reason stands in every table");
    let reason = reason.and_then(|v| v.text());
    Some(Exclude {
        clip: clip?,
        trial: trial?,
        reason: reason?.to_owned(),
    })
}

/// The clip a text means: by its path from the session file, else by its name.
fn clip_of(value: &Value<'_>, setups: Option<&[Setup]>, shelf: &Shelf<'_>) -> Option<PathBuf> {
    let text = value.text()?;
    let wanted = identity(&shelf.folder.join(text));
    let all: Vec<&PathBuf> = setups?.iter().flat_map(|s| &s.clips).collect();
    if let Some(clip) = all.iter().find(|c| identity(c) == wanted) {
        return Some((*clip).clone());
    }
    let named: BTreeMap<PathBuf, &PathBuf> = all
        .into_iter()
        .filter(|c| c.file_name().is_some_and(|n| n == text))
        .map(|c| (identity(c), c))
        .collect();
    if named.len() > 1 {
        value.fault("is the name of several clips; write its path from the session file");
        return None;
    }
    let clip = named.into_values().next();
    if clip.is_none() {
        value.fault(format!(
            "\"{text}\" is a clip of no setup; check the name, or take the exclusion out"
        ));
    }
    clip.cloned()
}
