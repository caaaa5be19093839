//! The disk as seen from a session file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::clips::is_there;
use super::fault::Fault;
use super::spec::Rig;
use super::value::Value;

/// What lies on the disk beside the session file.
pub(super) struct Shelf<'a> {
    pub(super) folder: &'a Path,
    /// Clips that count as there.
    pub(super) known: &'a [PathBuf],
    rigs: BTreeMap<PathBuf, Option<Rig>>,
    pub(super) faults: Vec<Fault>,
    /// Clips focused by hand, which patterns pass over.
    pub(super) by_hand: BTreeSet<PathBuf>,
    /// Whose each clip is.
    pub(super) owners: BTreeMap<PathBuf, String>,
    pub(super) warnings: Vec<String>,
}

impl<'a> Shelf<'a> {
    pub(super) fn new(folder: &'a Path, known: &'a [PathBuf]) -> Self {
        Self {
            folder,
            known,
            rigs: BTreeMap::new(),
            faults: Vec::new(),
            by_hand: BTreeSet::new(),
            owners: BTreeMap::new(),
            warnings: Vec::new(),
        }
    }

    /// The rig a value names, read once however often it is named.
    pub(super) fn rig(&mut self, value: &Value<'_>) -> Option<(PathBuf, Rig)> {
        let path = self.file(value, "a rig file")?;
        if !self.rigs.contains_key(&path) {
            let read = Rig::read(&path).map_err(|e| self.faults.extend(e.list));
            self.rigs.insert(path.clone(), read.ok());
        }
        let rig = self.rigs.get(&path)?.clone()?;
        Some((path, rig))
    }

    /// The existing file a value names.
    pub(super) fn file(&self, value: &Value<'_>, what: &str) -> Option<PathBuf> {
        let path = self.folder.join(value.text()?);
        if !is_there(&path, self.known) {
            let shown = path.display();
            value.fault(format!(
                "{shown} is not there; name {what}, relative to the session file"
            ));
            return None;
        }
        Some(path)
    }
}
