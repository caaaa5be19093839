//! Session file → [`Session`].

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::path::{Path, PathBuf};

use serde::de::value::MapAccessDeserializer;
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};

use super::clips::{Found, find, identity};
use super::names::{file_key, name_complaint};
use super::read_exclude::{ExcludeFile, excludes};
use super::session::{Reference, Session, Setup};
use super::shelf::Shelf;
use super::spec::{Rig, Stimulus};
use crate::written::values::{plain, refused, text};
use crate::written::{Faults, Known, Sheet};

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

const KNOWN: Known = Known {
    keys: KEYS,
    lists: &["setup", "exclude"],
    retired: &[],
};

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
        let mut shelf = Shelf::new(&sheet, folder, known);
        let file: Option<SessionFile> = sheet.read(&KNOWN);
        let session = file.and_then(|f| f.checked(&mut shelf));
        let mut list = sheet.faults();
        list.append(&mut shelf.faults);
        if list.is_empty() {
            sheet.close(session)
        } else {
            Err(Faults { list })
        }
    }
}

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct SessionFile {
    #[serde(deserialize_with = "text")]
    rig: Option<String>,
    setup: Vec<Option<SetupFile>>,
    exclude: Vec<Option<ExcludeFile>>,
}

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct SetupFile {
    #[serde(deserialize_with = "plain_name")]
    name: Option<String>,
    tags: BTreeMap<String, Tag>,
    clips: Option<Vec<Option<ClipName>>>,
    #[serde(deserialize_with = "text")]
    rig: Option<String>,
    reference: Option<ReferenceFile>,
}

struct Tag(String);

impl<'de> Deserialize<'de> for Tag {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        plain(d).map(Self)
    }
}

struct ClipName(String);

impl<'de> Deserialize<'de> for ClipName {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        text(d).map(Self)
    }
}

fn plain_name<'de, D: Deserializer<'de>>(d: D) -> Result<Option<String>, D::Error> {
    let name = String::deserialize(d)?;
    name_complaint(&name).map_or(Ok(Some(name)), refused)
}

/// One clip, or one for each side.
enum ReferenceFile {
    Single(String),
    Sides(Sides),
}

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Sides {
    #[serde(deserialize_with = "text")]
    near: Option<String>,
    #[serde(deserialize_with = "text")]
    far: Option<String>,
}

impl<'de> Deserialize<'de> for ReferenceFile {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_any(Either)
    }
}

struct Either;

impl<'de> Visitor<'de> for Either {
    type Value = ReferenceFile;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a table { near = \"…\", far = \"…\" }, or one clip in quotes")
    }

    fn visit_str<E: serde::de::Error>(self, clip: &str) -> Result<ReferenceFile, E> {
        Ok(ReferenceFile::Single(clip.to_owned()))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<ReferenceFile, A::Error> {
        Sides::deserialize(MapAccessDeserializer::new(map)).map(ReferenceFile::Sides)
    }
}

impl SessionFile {
    /// Looks everything up, and tells what does not go together.
    fn checked(&self, shelf: &mut Shelf<'_>) -> Option<Session> {
        if self.setup.is_empty() {
            let remedy = "add at least one [[setup]] with `name` and `clips`";
            shelf.sheet.missing("setup", remedy);
        }
        let own_rig = self.rig.as_ref().map(|name| shelf.rig("rig", name));
        let setups = || {
            let tables = self.setup.iter().enumerate();
            tables.filter_map(|(i, t)| Some((format!("setup[{i}]"), t.as_ref()?)))
        };
        let references: Vec<_> = setups().map(|(key, t)| t.reference(&key, shelf)).collect();
        let by_hand = references.iter().flatten().flat_map(Reference::clips);
        shelf.by_hand = by_hand.map(identity).collect();
        let mut read = Vec::new();
        for ((key, table), reference) in setups().zip(references) {
            read.extend(table.checked(&key, reference, own_rig.as_ref(), shelf));
        }
        check_names(setups(), shelf.sheet);
        // With setups missing, a clip may seem to belong to none.
        let whole = read.len() == self.setup.len();
        let excludes = excludes(&self.exclude, whole.then_some(&read), shelf);
        (whole && !read.is_empty()).then(|| Session {
            setups: read,
            excludes,
            warnings: std::mem::take(&mut shelf.warnings),
        })
    }
}

impl SetupFile {
    fn checked(
        &self,
        key: &str,
        reference: Option<Reference>,
        own_rig: Option<&Option<(PathBuf, Rig)>>,
        shelf: &mut Shelf<'_>,
    ) -> Option<Setup> {
        let sheet = shelf.sheet;
        let at = |name: &str| format!("{key}.{name}");
        if self.name.is_none() {
            sheet.missing(&at("name"), "add a name, e.g. `name = \"kit-amber\"`");
        }
        let clips = self.clips(&at("clips"), shelf);
        let rig = match (&self.rig, own_rig) {
            (Some(name), _) => shelf.rig(&at("rig"), name),
            (None, Some(rig)) => rig.clone(),
            (None, None) => {
                let remedy = "add `rig = \"…\"` here or at the top of the session file";
                sheet.missing(&at("rig"), remedy);
                None
            }
        };
        let (rig_file, rig) = rig?;
        check_reference(&at("reference"), reference.as_ref(), &rig, sheet);
        let tags = self.tags.iter();
        Some(Setup {
            name: self.name.clone()?,
            tags: tags.map(|(k, Tag(v))| (k.clone(), v.clone())).collect(),
            clips: clips?,
            rig,
            rig_file,
            reference,
        })
    }

    fn reference(&self, key: &str, shelf: &Shelf<'_>) -> Option<Reference> {
        let key = format!("{key}.reference");
        let clip = |key: &str, name: &str| shelf.file(key, name, "a clip focused by hand");
        match self.reference.as_ref()? {
            ReferenceFile::Single(name) => clip(&key, name).map(Reference::Single),
            ReferenceFile::Sides(Sides { near, far }) => {
                if near.is_none() && far.is_none() {
                    let why = "names no clip; write { near = \"…\", far = \"…\" }";
                    shelf.sheet.fault(&key, why);
                    return None;
                }
                let near = near.as_ref().and_then(|n| clip(&format!("{key}.near"), n));
                let far = far.as_ref().and_then(|n| clip(&format!("{key}.far"), n));
                Some(Reference::Sides { near, far })
            }
        }
    }

    /// The clips of the setup, each once.
    fn clips(&self, key: &str, shelf: &mut Shelf<'_>) -> Option<Vec<PathBuf>> {
        let Some(list) = &self.clips else {
            shelf.sheet.missing(key, "add `clips = [\"…\"]`");
            return None;
        };
        if list.is_empty() {
            shelf.sheet.fault(key, "is empty; name at least one clip");
        }
        let setup = self.name.as_deref().unwrap_or("?");
        let mut clips = Vec::new();
        let mut seen = BTreeSet::new();
        for (i, name) in list.iter().enumerate() {
            let Some(ClipName(name)) = name else { continue };
            let key = format!("{key}[{i}]");
            for clip in pattern(&key, name, shelf) {
                let shown = clip.display();
                if !seen.insert(identity(&clip)) {
                    let why = format!("{shown} is in this setup twice; name each clip once");
                    shelf.sheet.fault(&key, why);
                    continue;
                }
                let owner = shelf.owners.insert(identity(&clip), setup.to_owned());
                if let Some(owner) = owner {
                    let (file, line) = (shelf.sheet.file(), shelf.sheet.line(&key));
                    shelf.warnings.push(format!(
                        "{file}:{line}: {shown} is a clip of the setup {owner} and of {setup}"
                    ));
                }
                clips.push(clip);
            }
        }
        (!clips.is_empty()).then_some(clips)
    }
}

fn pattern(key: &str, name: &str, shelf: &Shelf<'_>) -> Vec<PathBuf> {
    let why = match find(shelf.folder, name, shelf.known) {
        Err(complaint) => complaint,
        Ok(Found::File(file)) if !shelf.by_hand.contains(&identity(&file)) => return vec![file],
        Ok(Found::File(_)) => {
            "is a clip to be timed and a reference at once; take it out of one of the two".into()
        }
        Ok(Found::Matches(mut files)) => {
            files.retain(|f| !shelf.by_hand.contains(&identity(f)));
            if !files.is_empty() {
                return files;
            }
            "matches only clips that serve as a reference; name a clip to be timed".into()
        }
    };
    shelf.sheet.fault(key, why);
    Vec::new()
}

/// A swing has two sides, the others have none.
fn check_reference(key: &str, reference: Option<&Reference>, rig: &Rig, sheet: &Sheet) {
    let swing = matches!(rig.stimulus, Stimulus::Swing { .. });
    match reference {
        Some(Reference::Single(_)) if swing => {
            let why =
                "names one clip, but a swing has two sides; write { near = \"…\", far = \"…\" }";
            sheet.fault(key, why);
        }
        Some(Reference::Sides { .. }) if !swing => {
            let why = "names sides, but this rig's trials have none; write reference = \"…\"";
            sheet.fault(key, why);
        }
        _ => {}
    }
}

/// Two setups must not write one file.
fn check_names<'a>(setups: impl Iterator<Item = (String, &'a SetupFile)>, sheet: &Sheet) {
    let mut seen: BTreeMap<String, &str> = BTreeMap::new();
    for (key, setup) in setups {
        let Some(name) = setup.name.as_deref() else {
            continue;
        };
        let why = match seen.insert(file_key(name), name) {
            None => continue,
            Some(other) if other == name => {
                format!("is \"{name}\" like another setup; give every setup its own name")
            }
            Some(other) => format!(
                "\"{name}\" and \"{other}\" would be written to one file; choose names that differ in more than case and separators"
            ),
        };
        sheet.fault(&format!("{key}.name"), why);
    }
}
