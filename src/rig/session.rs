//! A session: which setups were filmed, with which rig, in which clips.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::clips::{Found, find, identity};
use super::names::name_complaint;
use super::spec::Rig;
use crate::written::{Fault, Faults, read_text};

/// Everything one session file names, checked against the disk.
#[derive(Clone, Debug, PartialEq)]
pub struct Session {
    /// In the order of the file; never empty, no two share a file name.
    pub setups: Vec<Setup>,
    /// Trials the user takes out.
    pub excludes: Vec<Exclude>,
    /// Worth a word, no reason to stop.
    pub warnings: Vec<String>,
}

/// One setup and its clips.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// As written; [`super::safe_name`] makes it part of a file name.
    pub name: String,
    /// Free `key = value` tags.
    pub tags: BTreeMap<String, String>,
    /// Existing files, each once; never empty. In the order of the patterns,
    /// sorted within each.
    pub clips: Vec<PathBuf>,
    /// The rig it was filmed with.
    pub rig: Rig,
    /// Where that rig is written.
    pub rig_file: PathBuf,
    /// Clips focused by hand, if any.
    pub reference: Option<Reference>,
}

/// Clips in best focus, focused by hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reference {
    /// For a swing: one per side, either may be missing, not both.
    Sides {
        /// The target.
        near: Option<PathBuf>,
        /// The background.
        far: Option<PathBuf>,
    },
    /// For light and tone.
    Single(PathBuf),
}

/// One trial taken out by the user.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exclude {
    /// The clip, by the path it has in [`Setup::clips`].
    pub clip: PathBuf,
    /// The trial's index in it, from 0.
    pub trial: u32,
    /// The user's reason.
    pub reason: String,
}

impl Reference {
    /// The clips it names.
    pub fn clips(&self) -> Vec<&Path> {
        match self {
            Self::Sides { near, far } => near.iter().chain(far).map(PathBuf::as_path).collect(),
            Self::Single(clip) => vec![clip],
        }
    }
}

impl Session {
    /// One setup of one clip, its rig at hand rather than in a file.
    pub fn of_one(name: &str, clip: PathBuf, rig: Rig) -> Self {
        Self::of_setup(Setup {
            name: name.to_owned(),
            tags: BTreeMap::new(),
            clips: vec![clip],
            rig,
            rig_file: "rig".into(),
            reference: None,
        })
    }

    fn of_setup(setup: Setup) -> Self {
        Self {
            setups: vec![setup],
            excludes: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// Reads a session file, its rigs, and looks its clips up.
    ///
    /// # Errors
    /// Every fault of the session file and of the rig files it names at once.
    pub fn read(path: &Path) -> Result<Self, Faults> {
        Self::read_knowing(path, &[])
    }

    /// The same where the clips `known` (by their [`identity`]) count as there.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn read_knowing(path: &Path, known: &[PathBuf]) -> Result<Self, Faults> {
        let folder = path.parent().unwrap_or(Path::new(""));
        let name = path.display().to_string();
        Self::parse_knowing(&read_text(path)?, &name, folder, known)
    }

    /// The session of a single setup named on the command line. `tags` are
    /// `KEY=VALUE`; a clip that is not there is tried as a pattern.
    ///
    /// # Errors
    /// Every fault of the request and of the rig file at once.
    pub fn from_flags(
        rig: &Path,
        setup: &str,
        tags: &[String],
        clips: &[PathBuf],
    ) -> Result<Self, Faults> {
        Self::from_flags_knowing(rig, setup, tags, clips, &[])
    }

    /// The same where the clips `known` (by their [`identity`]) count as there.
    ///
    /// # Errors
    /// As [`Self::from_flags`].
    pub fn from_flags_knowing(
        rig: &Path,
        setup: &str,
        tags: &[String],
        clips: &[PathBuf],
        known: &[PathBuf],
    ) -> Result<Self, Faults> {
        let mut flags = Flags::default();
        if let Some(complaint) = name_complaint(setup) {
            flags.fault("--setup", complaint);
        }
        let tags = flags.tags(tags);
        let clips = flags.clips(clips, known);
        let rig_read = Rig::read(rig).map_err(|e| flags.0.extend(e.list)).ok();
        match rig_read {
            Some(rig_read) if flags.0.is_empty() => Ok(Self::of_setup(Setup {
                name: setup.to_owned(),
                tags,
                clips,
                rig: rig_read,
                rig_file: rig.to_owned(),
                reference: None,
            })),
            _ => Err(Faults { list: flags.0 }),
        }
    }
}

/// The faults of a command line.
#[derive(Default)]
struct Flags(Vec<Fault>);

impl Flags {
    fn fault(&mut self, key: &str, message: impl Into<String>) {
        self.0.push(Fault::of_file("command line", key, message));
    }

    fn tags(&mut self, written: &[String]) -> BTreeMap<String, String> {
        let mut tags = BTreeMap::new();
        for tag in written {
            match tag.split_once('=').map(|(k, v)| (k.trim(), v.trim())) {
                Some((key, value)) if !key.is_empty() => {
                    if tags.insert(key.to_owned(), value.to_owned()).is_some() {
                        self.fault(
                            "--tag",
                            format!("\"{key}\" is given twice; give each tag once"),
                        );
                    }
                }
                _ => self.fault("--tag", format!("is \"{tag}\"; write it as KEY=VALUE")),
            }
        }
        tags
    }

    fn clips(&mut self, written: &[PathBuf], known: &[PathBuf]) -> Vec<PathBuf> {
        let mut clips = Vec::new();
        let mut seen = BTreeSet::new();
        if written.is_empty() {
            self.fault("CLIP", "is missing; name at least one clip");
        }
        for name in written {
            let found = match name.to_str() {
                Some(text) => find(Path::new(""), text, known),
                None if name.is_file() => Ok(Found::File(name.clone())),
                None => Err(format!("{} is not there; check the path", name.display())),
            };
            let found = match found {
                Ok(Found::File(file)) => vec![file],
                Ok(Found::Matches(files)) => files,
                Err(complaint) => {
                    self.fault("CLIP", complaint);
                    continue;
                }
            };
            for clip in found {
                if seen.insert(identity(&clip)) {
                    clips.push(clip);
                } else {
                    self.fault(
                        "CLIP",
                        format!("{} is named twice; name each clip once", clip.display()),
                    );
                }
            }
        }
        clips
    }
}
