//! `[[exclude]]`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use serde::de::Deserializer;

use super::clips::identity;
use super::session::{Exclude, Setup};
use super::shelf::Shelf;
use crate::written::values::{text, whole};

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub(super) struct ExcludeFile {
    #[serde(deserialize_with = "text")]
    clip: Option<String>,
    #[serde(deserialize_with = "trial")]
    trial: Option<u32>,
    #[serde(deserialize_with = "text")]
    reason: Option<String>,
}

fn trial<'de, D: Deserializer<'de>>(d: D) -> Result<Option<u32>, D::Error> {
    whole(d, 0..=99_999).map(Some)
}

/// Checks all `[[exclude]]`. Where `setups` is `None` (some could not be read)
/// everything but the clips is checked.
pub(super) fn excludes(
    files: &[Option<ExcludeFile>],
    setups: Option<&Vec<Setup>>,
    shelf: &Shelf<'_>,
) -> Vec<Exclude> {
    let mut seen = BTreeSet::new();
    let mut out = Vec::new();
    for (i, file) in files.iter().enumerate() {
        let Some(file) = file else { continue };
        let at = |name: &str| format!("exclude[{i}].{name}");
        let need = |there: bool, name, remedy| {
            if !there {
                shelf.sheet.missing(&at(name), remedy);
            }
        };
        need(file.clip.is_some(), "clip", "name the clip");
        let remedy = "add the trial's number as the results give it, from 0";
        need(file.trial.is_some(), "trial", remedy);
        let remedy = "say why; the reason stands in every table";
        need(file.reason.is_some(), "reason", remedy);
        let clip = file.clip.as_deref();
        let clip = clip.and_then(|c| clip_of(&at("clip"), c, setups?, shelf));
        let (Some(clip), Some(trial), Some(reason)) = (clip, file.trial, &file.reason) else {
            continue;
        };
        if !seen.insert((identity(&clip), trial)) {
            let why = "is excluded twice; take one of the two out";
            shelf.sheet.fault(&at("trial"), why);
        }
        out.push(Exclude {
            clip,
            trial,
            reason: reason.clone(),
        });
    }
    out
}

/// The clip a text means: by its path from the session file, else by its name.
fn clip_of(key: &str, text: &str, setups: &[Setup], shelf: &Shelf<'_>) -> Option<PathBuf> {
    let wanted = identity(&shelf.folder.join(text));
    let all = || setups.iter().flat_map(|s| &s.clips);
    if let Some(clip) = all().find(|c| identity(c) == wanted) {
        return Some(clip.clone());
    }
    let named: BTreeMap<PathBuf, &PathBuf> = all()
        .filter(|c| c.file_name().is_some_and(|n| n == text))
        .map(|c| (identity(c), c))
        .collect();
    let why = match named.len() {
        1 => return named.into_values().next().cloned(),
        0 => format!("\"{text}\" is a clip of no setup; check the name, or take the exclusion out"),
        _ => "is the name of several clips; write its path from the session file".into(),
    };
    shelf.sheet.fault(key, why);
    None
}
