//! Telling setups of one name apart: by a tag, else by the file.

use std::collections::BTreeSet;
use std::path::Path;

use super::Named;

/// One label per file, all different.
pub(super) fn labels(named: &[Named]) -> Vec<String> {
    let by_tag = |k: usize, namesakes: &[usize]| {
        let name = &named[k].timing.setup.name;
        distinguishing_tag(named, namesakes)
            .and_then(|tag| named[k].timing.setup.tags.get(tag))
            .map(|value| format!("{name} ({value})"))
    };
    let mut labels: Vec<String> = (0..named.len())
        .map(|k| {
            let name = &named[k].timing.setup.name;
            let namesakes: Vec<usize> = (0..named.len())
                .filter(|&j| &named[j].timing.setup.name == name)
                .collect();
            if namesakes.len() == 1 {
                name.clone()
            } else {
                by_tag(k, &namesakes).unwrap_or_else(|| format!("{name} ({})", short(named, k)))
            }
        })
        .collect();
    // A name may itself look like another's label.
    let mut seen = BTreeSet::new();
    for (k, label) in labels.iter_mut().enumerate() {
        if !seen.insert(label.clone()) {
            *label = format!("{label} #{}", k + 1);
            seen.insert(label.clone());
        }
    }
    labels
}

/// The first tag that every namesake has with a value of its own.
fn distinguishing_tag<'a>(named: &'a [Named], namesakes: &[usize]) -> Option<&'a str> {
    let first = &named[*namesakes.first()?].timing.setup.tags;
    first.keys().map(String::as_str).find(|tag| {
        let values: BTreeSet<_> = namesakes
            .iter()
            .filter_map(|&k| named[k].timing.setup.tags.get(*tag))
            .collect();
        values.len() == namesakes.len()
    })
}

/// The file's own name where that tells it apart, else all that was typed.
fn short(named: &[Named], k: usize) -> String {
    let base = |file: &str| {
        let name = Path::new(file).file_name();
        name.map_or(file.to_owned(), |n| n.to_string_lossy().into_owned())
    };
    let own = base(named[k].file);
    let alike = named.iter().filter(|n| base(n.file) == own).count();
    if alike == 1 {
        own
    } else {
        named[k].file.to_owned()
    }
}
