//! Reads an evidence archive back.

use std::io::Read;
use std::path::{Path, PathBuf};

use super::record::{ClipEvidence, Index, StillRecord, TrialEvidence};
use super::{FORMAT, INDEX, VERSION, beside, timing_sha256};
use crate::store::archive::{self, Archive};
use crate::store::schema::{Clip, Timing, Trial};

/// Largest index read, bytes: 400 clips of 20 s.
const LARGEST_INDEX: u64 = 16 << 20;
/// Largest picture read, bytes: thirty times that of a large focus area.
const LARGEST_PICTURE: u64 = 2 << 20;
/// Onsets this near are the same trial's, s.
const SAME_S: f64 = 1e-3;

/// Why there is no evidence to show.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoEvidence {
    /// No such file.
    #[error("{0}: no evidence file beside the timing file; it holds the curves and stills")]
    Missing(String),
    /// A file that cannot be used.
    #[error("{file}: cannot be used as evidence: {why}; time the clips again to have it")]
    Unusable {
        /// The file.
        file: String,
        /// What is wrong.
        why: String,
    },
}

/// An open evidence archive.
pub struct Evidence {
    path: PathBuf,
    index: Index,
    /// Written with another timing file than the one beside it.
    foreign: bool,
    zip: Archive,
}

impl Evidence {
    /// Opens what lies beside a timing file.
    ///
    /// # Errors
    /// [`NoEvidence`], in words for a person.
    pub fn of(timing: &Path) -> Result<Self, NoEvidence> {
        let mut found = Self::open(&beside(timing))?;
        found.foreign = found.index.timing_sha256.is_some()
            && found.index.timing_sha256 != timing_sha256(timing);
        Ok(found)
    }

    /// Opens an archive.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn open(path: &Path) -> Result<Self, NoEvidence> {
        let name = path.display().to_string();
        let unusable = |why: String| NoEvidence::Unusable {
            file: name.clone(),
            why,
        };
        let mut zip = match archive::open(path) {
            Ok(zip) => zip,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                return Err(NoEvidence::Missing(name));
            }
            Err(e) => return Err(unusable(e.to_string())),
        };
        let bytes = entry(&mut zip, INDEX, LARGEST_INDEX).map_err(unusable)?;
        let index: Index = serde_json::from_slice(&bytes).map_err(|e| unusable(e.to_string()))?;
        if index.format != FORMAT {
            return Err(unusable(format!("`format` does not say \"{FORMAT}\"")));
        }
        if index.version > VERSION {
            return Err(unusable(format!(
                "`version` is {}, this build reads up to {VERSION}",
                index.version
            )));
        }
        let fault = |c: &ClipEvidence| c.fault().map(|why| format!("{}: {why}", c.path));
        if let Some(why) = index.clips.iter().find_map(fault) {
            return Err(unusable(why));
        }
        Ok(Self {
            path: path.to_path_buf(),
            index,
            foreign: false,
            zip,
        })
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What is known of a clip, by its content.
    pub fn clip(&self, clip: &Clip) -> Option<&ClipEvidence> {
        self.of_hash(&clip.sha256)
    }

    /// The same by SHA-256.
    pub fn of_hash(&self, sha256: &str) -> Option<&ClipEvidence> {
        let known = |c: &&ClipEvidence| !sha256.is_empty() && c.sha256 == sha256;
        self.index.clips.iter().find(known)
    }

    /// What is known of a trial; nothing where its onset has moved since.
    pub fn trial(&self, clip: &Clip, trial: &Trial) -> Option<&TrialEvidence> {
        let same = |t: &&TrialEvidence| {
            t.index == trial.index && (t.onset_s - trial.onset_s).abs() < SAME_S
        };
        self.clip(clip)?.trials.iter().find(same)
    }

    /// A picture's bytes (JPEG), where it is there and sound enough to show.
    pub fn picture(&mut self, name: &str) -> Option<Vec<u8>> {
        let bytes = entry(&mut self.zip, name, LARGEST_PICTURE).ok()?;
        bytes.starts_with(&[0xff, 0xd8, 0xff]).then_some(bytes)
    }

    /// Pictures of a trial that it names and does not have.
    pub fn gone(&self, trial: &TrialEvidence) -> usize {
        let gone = |s: &&StillRecord| self.zip.index_for_name(&s.file).is_none();
        trial.stills.iter().filter(gone).count()
    }

    /// What of a timing file this does not fit, in words.
    pub fn misfits(&self, timing: &Timing) -> Vec<String> {
        let file = self.path.display();
        let mut said = Vec::new();
        if self.foreign {
            said.push(format!(
                "{file}: was kept with another result than this timing file (a run was cut short \
                 between the two, or one was changed): curves and stills may not be those of the \
                 numbers; time the clips again"
            ));
        }
        for clip in timing.clips.iter().filter(|c| !c.trials.is_empty()) {
            if self.clip(clip).is_none() {
                said.push(format!(
                    "{file}: knows nothing of clip {} (another film by its SHA-256); time it with \
                     --decode-again to have its curve and stills",
                    clip.path
                ));
                continue;
            }
            let lost = clip.trials.iter().filter(|t| self.trial(clip, t).is_none());
            let lost = lost.count();
            if lost > 0 {
                said.push(format!(
                    "{file}: {lost} of {} trials of {} began elsewhere when the stills were kept; \
                     time the clip with --decode-again",
                    clip.trials.len(),
                    clip.path
                ));
            }
        }
        said
    }
}

fn entry(zip: &mut Archive, name: &str, largest: u64) -> Result<Vec<u8>, String> {
    let file = zip.by_name(name).map_err(|e| format!("{name}: {e}"))?;
    let mut bytes = Vec::new();
    file.take(largest + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| format!("{name}: {e}"))?;
    if bytes.len() as u64 > largest {
        return Err(format!("{name} is larger than any evidence"));
    }
    Ok(bytes)
}
