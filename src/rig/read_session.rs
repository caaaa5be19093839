//! Session file → [`Session`].

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::clips::{Found, find, identity};
use super::fault::Faults;
use super::fields::Table;
use super::names::{file_key, name_complaint};
use super::read_exclude::excludes;
use super::session::{Reference, Session, Setup};
use super::sheet::Sheet;
use super::shelf::Shelf;
use super::spec::{Rig, Stimulus};
use super::value::Value;

/// Every key a session file may hold.
pub(super) const KEYS: &[&str] = &[
    "rig",
    "setup.name",
    "setup.tags.*",
    "setup.clips",
    "setup.rig",
    "setup.reference.near",
    "setup.reference.far",
    "exclude.clip",
    "exclude.trial",
    "exclude.reason",
];

impl Session {
    /// Reads the text of a session file, which messages call `file_name` and
    /// whose paths are relative to `folder`.
    ///
    /// # Errors
    /// Every fault of the text and of the rig files it names at once.
    pub fn parse(text: &str, file_name: &str, folder: &Path) -> Result<Self, Faults> {
        Self::parse_knowing(text, file_name, folder, &[])
    }

    /// The same where the clips `known` (by their [`identity`]) count as there.
    ///
    /// # Errors
    /// As [`Self::parse`].
    pub fn parse_knowing(
        text: &str,
        file_name: &str,
        folder: &Path,
        known: &[PathBuf],
    ) -> Result<Self, Faults> {
        let sheet = Sheet::new(file_name, text);
        let mut shelf = Shelf::new(folder, known);
        let session = sheet.tree().and_then(|tree| {
            let root = Table::root(&sheet, &tree);
            root.check_keys(KEYS);
            session(&root, &mut shelf)
        });
        let mut list = sheet.faults();
        list.append(&mut shelf.faults);
        if list.is_empty() {
            sheet.close(session)
        } else {
            Err(Faults { list })
        }
    }
}

fn session(root: &Table<'_>, shelf: &mut Shelf<'_>) -> Option<Session> {
    let tables = root.sections("setup");
    if root.value("setup").is_none_or(|v| v.is_empty_list()) {
        root.fault(
            "setup",
            "is missing; add at least one [[setup]] with `name` and `clips`",
        );
    }
    let own_rig = root.value("rig").map(|v| shelf.rig(&v));
    let references: Vec<_> = tables.iter().map(|t| reference(t, shelf)).collect();
    let by_hand = references.iter().flatten().flat_map(Reference::clips);
    shelf.by_hand = by_hand.map(identity).collect();
    let mut setups = Vec::new();
    for (table, reference) in tables.iter().zip(references) {
        setups.extend(setup(table, reference, own_rig.as_ref(), shelf));
    }
    check_names(&tables);
    // With setups missing, a clip may seem to belong to none.
    let whole = setups.len() == tables.len();
    let excludes = excludes(root, whole.then_some(&setups), shelf);
    (whole && !setups.is_empty()).then(|| Session {
        setups,
        excludes,
        warnings: std::mem::take(&mut shelf.warnings),
    })
}

fn setup(
    table: &Table<'_>,
    reference: Option<Reference>,
    own_rig: Option<&Option<(PathBuf, Rig)>>,
    shelf: &mut Shelf<'_>,
) -> Option<Setup> {
    let name = table.need("name", "add a name, e.g. `name = \"kit-amber\"`");
    let name = name.and_then(|v| {
        let name = v.text()?;
        let complaint = name_complaint(name);
        let good = complaint.is_none();
        complaint.into_iter().for_each(|c| v.fault(c));
        good.then(|| name.to_owned())
    });
    let tags = tags(&table.section("tags"));
    let clips = clips(table, name.as_deref().unwrap_or("?"), shelf);
    let rig = match (table.value("rig"), own_rig) {
        (Some(value), _) => shelf.rig(&value),
        (None, Some(rig)) => rig.clone(),
        (None, None) => {
            table.fault(
                "rig",
                "is missing; add `rig = \"…\"` here or at the top of the session file",
            );
            None
        }
    };
    if let Some((_, rig)) = &rig {
        check_reference(table, reference.as_ref(), rig);
    }
    let (rig_file, rig) = rig?;
    Some(Setup {
        name: name?,
        tags,
        clips: clips?,
        rig,
        rig_file,
        reference,
    })
}

fn tags(table: &Table<'_>) -> BTreeMap<String, String> {
    let mut tags = BTreeMap::new();
    for (key, value) in table.pairs() {
        match value.plain() {
            None => value.fault("is not text; put the tag's value in quotes"),
            Some(text) if text.chars().any(char::is_control) => {
                value.fault("holds a line break or another control character; write plain text");
            }
            Some(text) => {
                tags.insert(key.to_owned(), text.to_owned());
            }
        }
    }
    tags
}

fn reference(table: &Table<'_>, shelf: &Shelf<'_>) -> Option<Reference> {
    let value = table.value("reference")?;
    let what = "a clip focused by hand";
    if value.is_text() {
        return shelf.file(&value, what).map(Reference::Single);
    }
    let sides = value.table()?;
    let [near, far] = ["near", "far"].map(|side| sides.value(side));
    if near.is_none() && far.is_none() {
        value.fault("names no clip; write { near = \"…\", far = \"…\" }");
        return None;
    }
    let [near, far] = [near, far].map(|side| side.and_then(|v| shelf.file(&v, what)));
    Some(Reference::Sides { near, far })
}

/// A swing has two sides, the others have none.
fn check_reference(table: &Table<'_>, reference: Option<&Reference>, rig: &Rig) {
    let swing = matches!(rig.stimulus, Stimulus::Swing { .. });
    match reference {
        Some(Reference::Single(_)) if swing => {
            table.fault(
                "reference",
                "names one clip, but a swing has two sides; write { near = \"…\", far = \"…\" }",
            );
        }
        Some(Reference::Sides { .. }) if !swing => {
            table.fault(
                "reference",
                "names sides, but this rig's trials have none; write reference = \"…\"",
            );
        }
        _ => {}
    }
}

/// The clips of one setup, each once.
fn clips(table: &Table<'_>, setup: &str, shelf: &mut Shelf<'_>) -> Option<Vec<PathBuf>> {
    let list = table.need("clips", "add `clips = [\"…\"]`")?;
    let items = list.items()?;
    if items.is_empty() {
        list.fault("is empty; name at least one clip");
    }
    let mut clips = Vec::new();
    let mut seen = BTreeSet::new();
    for item in &items {
        for clip in pattern(item, shelf) {
            if !seen.insert(identity(&clip)) {
                item.fault(format!(
                    "{} is in this setup twice; name each clip once",
                    clip.display()
                ));
                continue;
            }
            let owner = shelf.owners.insert(identity(&clip), setup.to_owned());
            if let Some(owner) = owner {
                let (place, shown) = (item.place(), clip.display());
                shelf.warnings.push(format!(
                    "{place}: {shown} is a clip of the setup {owner} and of {setup}"
                ));
            }
            clips.push(clip);
        }
    }
    (!clips.is_empty()).then_some(clips)
}

fn pattern(item: &Value<'_>, shelf: &Shelf<'_>) -> Vec<PathBuf> {
    let Some(text) = item.text() else {
        return Vec::new();
    };
    match find(shelf.folder, text, shelf.known) {
        Err(complaint) => {
            item.fault(complaint);
            Vec::new()
        }
        Ok(Found::File(file)) if shelf.by_hand.contains(&identity(&file)) => {
            item.fault(
                "is a clip to be timed and a reference at once; take it out of one of the two",
            );
            Vec::new()
        }
        Ok(Found::File(file)) => vec![file],
        Ok(Found::Matches(files)) => {
            let timed = files
                .into_iter()
                .filter(|f| !shelf.by_hand.contains(&identity(f)));
            let timed: Vec<_> = timed.collect();
            if timed.is_empty() {
                item.fault("matches only clips that serve as a reference; name a clip to be timed");
            }
            timed
        }
    }
}

/// Two setups must not write one file.
fn check_names(tables: &[Table<'_>]) {
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for table in tables {
        let name = table.value("name").and_then(|v| v.plain());
        let Some(name) = name else { continue };
        match seen.get(&file_key(name)) {
            Some(other) if other == name => {
                table.fault("name", format!("is \"{name}\" like another setup; give every setup its own name"));
            }
            Some(other) => table.fault(
                "name",
                format!("\"{name}\" and \"{other}\" would be written to one file; choose names that differ in more than case and separators"),
            ),
            None => {
                seen.insert(file_key(name), name.to_owned());
            }
        }
    }
}
