//! The disk as seen from a session file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::clips::is_there;
use super::spec::Rig;
use crate::written::{Fault, Sheet};

/// What lies on the disk beside the session file.
pub(super) struct Shelf<'a> {
    /// The session file, whose faults are told there.
    pub(super) sheet: &'a Sheet<'a>,
    pub(super) folder: &'a Path,
    /// Clips that count as there.
    pub(super) known: &'a [PathBuf],
    rigs: BTreeMap<PathBuf, Option<Rig>>,
    /// Faults of the rig files.
    pub(super) faults: Vec<Fault>,
    /// Clips focused by hand, which patterns pass over.
    pub(super) by_hand: BTreeSet<PathBuf>,
    /// Whose each clip is.
    pub(super) owners: BTreeMap<PathBuf, String>,
    pub(super) warnings: Vec<String>,
}

impl<'a> Shelf<'a> {
    pub(super) fn new(sheet: &'a Sheet<'a>, folder: &'a Path, known: &'a [PathBuf]) -> Self {
        Self {
            sheet,
            folder,
            known,
            rigs: BTreeMap::new(),
            faults: Vec::new(),
            by_hand: BTreeSet::new(),
            owners: BTreeMap::new(),
            warnings: Vec::new(),
        }
    }

    /// The rig that a key names, read once however often it is named.
    pub(super) fn rig(&mut self, key: &str, name: &str) -> Option<(PathBuf, Rig)> {
        let path = self.file(key, name, "a rig file")?;
        if !self.rigs.contains_key(&path) {
            let read = Rig::read(&path).map_err(|e| self.faults.extend(e.list));
            self.rigs.insert(path.clone(), read.ok());
        }
        let rig = self.rigs.get(&path)?.clone()?;
        Some((path, rig))
    }

    /// The existing file that a key names.
    pub(super) fn file(&self, key: &str, name: &str, what: &str) -> Option<PathBuf> {
        let path = self.folder.join(name);
        if is_there(&path, self.known) {
            return Some(path);
        }
        let shown = path.display();
        let why = format!("{shown} is not there; name {what}, relative to the session file");
        self.sheet.fault(key, why);
        None
    }
}
