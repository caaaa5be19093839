//! The folder of kept signals: which clip's are there, and whether they fit.
//!
//! A file is named after what it holds: the first digits of the SHA-256 of the
//! clip, and of the parts of the rig that its signals depend on. So signals
//! made with another focus area stand side by side. The stills of its trials lie
//! beside it, as evidence of the same name.

mod parts;

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::Events;
use super::clip::{Clock, Watched};
use super::evidence;
use super::output::relative;
use super::pack::{pack, unpack};
use super::rate;
use super::signals::{Facts, Signals};
use crate::clip::{ClipIndex, ffmpeg_version, sha256};
use crate::rig::{Rig, identity};
use crate::store::evidence::{Evidence, beside, write_evidence};
use crate::store::signals::{About, FORMAT, SignalsReader, Unnamed, VERSION};
use crate::units::StoredTime;
use parts::{beginning, depends, differences, file_name, plain};

/// What is to be kept, and what is to be used of what was kept.
#[derive(Clone, Debug, Default)]
pub struct Keeping {
    /// Where signals are; `None`: none are kept or used.
    pub folder: Option<PathBuf>,
    /// Decode though there are signals.
    pub again: bool,
    /// Judge from signals alone.
    pub only: bool,
    /// Signals whose stills are not there do not count: they are made anew.
    pub with_stills: bool,
    /// Use what is kept, and keep nothing.
    pub read_only: bool,
}

/// What there is of a clip.
#[derive(Debug, PartialEq)]
pub enum Found {
    /// A file of signals made with these parts of the rig.
    Fits(PathBuf),
    /// Signals made with other parts: the keys that differ.
    Differs(Vec<String>),
    /// None.
    Nothing,
}

fn held<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The files of a folder.
pub struct Kept {
    keeping: Keeping,
    /// What the files that were read say, by their clip's SHA-256; those of this
    /// run come on top.
    files: Mutex<BTreeMap<String, Vec<(PathBuf, About)>>>,
    /// Files that were not read yet, by name.
    unread: Mutex<BTreeMap<String, PathBuf>>,
    /// Files that could not be used, by why.
    useless: Mutex<BTreeMap<String, Vec<PathBuf>>>,
}

impl Kept {
    /// Lists the folder; no file of it is read before its clip is asked for.
    pub fn look(keeping: &Keeping) -> Self {
        let folder = keeping.folder.as_ref().filter(|_| !keeping.again);
        let entries = folder.map(std::fs::read_dir).into_iter().flatten();
        let paths = entries.flatten().flatten().map(|e| e.path());
        let named = |p: PathBuf| Some((p.file_name()?.to_string_lossy().into_owned(), p));
        let unread = paths
            .filter(|p| p.extension().is_some_and(|e| e == "npz"))
            .filter_map(named)
            .collect();
        Self {
            keeping: keeping.clone(),
            files: Mutex::default(),
            unread: Mutex::new(unread),
            useless: Mutex::default(),
        }
    }

    /// Reads what the files whose names begin so say of themselves.
    fn read(&self, start: &str) {
        let mut unread = held(&self.unread);
        let names = unread.range(start.to_owned()..).map(|(name, _)| name);
        let of_it = names.take_while(|n| n.starts_with(start));
        let of_it: Vec<String> = of_it.cloned().collect();
        for path in of_it.iter().filter_map(|name| unread.remove(name)) {
            if self.keeping.with_stills && !beside(&as_timing(&path)).is_file() {
                continue;
            }
            match SignalsReader::open(&path) {
                Ok(file) => {
                    let about = file.about().clone();
                    let mut files = self.files();
                    let of_clip = files.entry(about.sha256.clone()).or_default();
                    of_clip.push((path, about));
                }
                Err(e) => {
                    let mut useless = held(&self.useless);
                    useless.entry(e.to_string()).or_default().push(path);
                }
            }
        }
    }

    /// Files that were asked for and could not be used, and why; each is told
    /// once.
    pub fn complaints(&self) -> Vec<String> {
        let useless = std::mem::take(&mut *held(&self.useless));
        useless
            .iter()
            .map(|(why, all)| unusable(all, why))
            .collect()
    }

    /// Tells them.
    pub fn complain(&self, events: &dyn Events) {
        for text in self.complaints() {
            events.warning(&format!("{text}; they are passed over"));
        }
    }

    fn files(&self) -> MutexGuard<'_, BTreeMap<String, Vec<(PathBuf, About)>>> {
        held(&self.files)
    }

    /// The clips whose signals are kept, by their identity.
    pub fn clips(&self) -> Vec<PathBuf> {
        let Some(folder) = &self.keeping.folder else {
            return Vec::new();
        };
        self.read("");
        let mut out: Vec<PathBuf> = self
            .files()
            .values()
            .flatten()
            .map(|(_, about)| plain(&identity(folder).join(&about.clip)))
            .collect();
        out.sort();
        out.dedup();
        out
    }

    /// What there is of a clip by its content.
    pub fn find(&self, sha256: &str, rig: &Rig) -> Found {
        self.read(beginning(sha256));
        choose(rig, self.files().get(sha256).into_iter().flatten())
    }

    /// What there is of a clip that may not be there: by its content if it is,
    /// else by its path.
    pub fn find_path(&self, clip: &Path, rig: &Rig) -> Found {
        if let Ok(sha256) = sha256(clip) {
            return self.find(&sha256, rig);
        }
        let Some(folder) = &self.keeping.folder else {
            return Found::Nothing;
        };
        // By its path alone: any of them may be its own.
        self.read("");
        let (folder, wanted) = (identity(folder), identity(clip));
        let files = self.files();
        let all = files.values().flatten();
        choose(
            rig,
            all.filter(|(_, a)| plain(&folder.join(&a.clip)) == wanted),
        )
    }

    fn folder_to_keep_in(&self) -> Option<&PathBuf> {
        let folder = self.keeping.folder.as_ref();
        folder.filter(|_| !self.keeping.read_only)
    }

    /// Writes the signals of a clip, if any are to be kept.
    ///
    /// # Errors
    /// What cannot be written, in words.
    pub fn write(
        &self,
        clip: &Path,
        name: Option<&str>,
        index: &ClipIndex,
        rig: &Rig,
        clock: &Clock,
        signals: &mut Signals,
    ) -> Result<Option<Fresh>, String> {
        let Some(folder) = self.folder_to_keep_in() else {
            return Ok(None);
        };
        let parts = depends(rig);
        let path = folder.join(file_name(&index.sha256, &parts));
        let written = std::fs::create_dir_all(folder).and_then(|()| {
            let about = About {
                format: FORMAT.to_owned(),
                version: VERSION,
                made_by: made_by(),
                clip: name.map_or_else(|| relative(clip, folder), str::to_owned),
                sha256: index.sha256.clone(),
                rig: parts,
                facts: serde_json::to_value(&signals.facts)?,
            };
            let file = pack(&path, &about, signals, &clock.scale)?;
            Ok(Some(Fresh { file, about }))
        });
        written.map_err(|e| unkept(&path, &e))
    }

    /// Keeps what was written. From here on the clip is not decoded again, so
    /// its stills are kept before.
    ///
    /// # Errors
    /// What cannot be written, in words.
    pub fn keep(&self, fresh: Fresh) -> Result<(), String> {
        let path = fresh.file.path().to_path_buf();
        fresh.file.keep().map_err(|e| unkept(&path, &e))?;
        let mut files = self.files();
        let of_clip = files.entry(fresh.about.sha256.clone()).or_default();
        of_clip.retain(|(p, _)| *p != path);
        of_clip.push((path, fresh.about));
        Ok(())
    }
}

/// Signals of a clip that was decoded, written and not kept yet.
pub struct Fresh {
    file: Unnamed,
    about: About,
}

fn unkept(path: &Path, error: &io::Error) -> String {
    format!(
        "{}: the signals cannot be kept: {error}; this clip is decoded again the next time (free \
         some space or name another folder with --signals; --no-signals keeps none)",
        path.display()
    )
}

/// Which of a clip's files fits a rig.
fn choose<'a>(rig: &Rig, files: impl Iterator<Item = &'a (PathBuf, About)>) -> Found {
    let parts = depends(rig);
    let mut nearest: Option<Vec<String>> = None;
    for (path, about) in files {
        let keys = differences(&about.rig, &parts);
        if keys.is_empty() {
            return Found::Fits(path.clone());
        }
        if nearest.as_ref().is_none_or(|n| keys.len() < n.len()) {
            nearest = Some(keys);
        }
    }
    nearest.map_or(Found::Nothing, Found::Differs)
}

impl Kept {
    /// Where a clip's signals are, or would be; `None` where none are kept.
    #[must_use]
    pub fn place(&self, sha256: &str, rig: &Rig) -> Option<PathBuf> {
        let folder = self.keeping.folder.as_ref()?;
        Some(folder.join(file_name(sha256, &depends(rig))))
    }

    /// Keeps the stills of a clip beside its signals.
    ///
    /// # Errors
    /// What cannot be written, in words.
    pub fn keep_stills(&self, sha256: &str, rig: &Rig, watched: &Watched) -> Result<(), String> {
        if self.folder_to_keep_in().is_none() {
            return Ok(());
        }
        let Some(path) = self.place(sha256, rig).filter(|_| !sha256.is_empty()) else {
            return Ok(());
        };
        let pack = evidence::stills(sha256, watched);
        let written = write_evidence(&as_timing(&path), &pack);
        written.map(|_| ()).map_err(|e| e.to_string())
    }

    /// The stills of a clip, where they are kept.
    #[must_use]
    pub fn stills(&self, sha256: &str, rig: &Rig) -> Option<Evidence> {
        let path = self.place(sha256, rig).filter(|_| !sha256.is_empty())?;
        Evidence::of(&as_timing(&path)).ok()
    }
}

/// The name of a timing file beside which evidence of signals would lie.
fn as_timing(signals: &Path) -> PathBuf {
    signals.with_extension("timing.json")
}

/// Reads kept signals: they, and the version of FFmpeg that decoded them.
///
/// # Errors
/// When the file is damaged.
pub fn load(path: &Path, rig: &Rig) -> io::Result<(Signals, Clock, String)> {
    let mut file = SignalsReader::open(path)?;
    let ffmpeg = file.about().made_by.get("ffmpeg").cloned();
    let signals = unpack(&mut file, |facts, times| {
        Ok(clock(facts, times, rig, path)?.scale)
    })?;
    let clock = clock(&signals.facts, &signals.times, rig, path)?;
    Ok((signals, clock, ffmpeg.unwrap_or_default()))
}

/// SHA-256 of the clip whose signals a file holds.
pub fn sha_of(path: &Path) -> String {
    SignalsReader::open(path).map_or_else(|_| String::new(), |f| f.about().sha256.clone())
}

fn clock(facts: &Facts, times: &[StoredTime], rig: &Rig, path: &Path) -> io::Result<Clock> {
    let mut index = ClipIndex::default();
    index.path = path.to_path_buf();
    index.stored_fps = facts.stored_fps;
    index.stated_fps = facts.stated_fps;
    index.stamps = times.iter().map(|t| t.0).collect();
    let (scale, rate_u) = rate::true_rate(rig, &index)
        .map_err(|e| io::Error::new(io::ErrorKind::InvalidData, e.to_string()))?;
    Ok(Clock { scale, rate_u })
}

/// Programs that make signals.
pub fn made_by() -> BTreeMap<String, String> {
    BTreeMap::from([
        ("focuslag".to_owned(), env!("CARGO_PKG_VERSION").to_owned()),
        ("ffmpeg".to_owned(), ffmpeg_version()),
    ])
}

/// Why files are passed over: one is named, and how many more there are.
pub fn unusable(all: &[PathBuf], why: &str) -> String {
    let first = all.first().map(|p| p.display().to_string());
    let more = match all.len().saturating_sub(1) {
        0 => String::new(),
        1 => " and one file more beside it".to_owned(),
        n => format!(" and {n} files more beside it"),
    };
    format!(
        "{}{more}: these kept signals cannot be used ({why})",
        first.unwrap_or_default()
    )
}
