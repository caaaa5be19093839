//! Evidence kept beside a timing file: `NAME.evidence.zip`.
//!
//! In: per clip the curves of blur and of the raw signal, per trial a few small pictures (JPEG,
//! luma, the film's own pixels). Out: one archive of fixed bytes (entries in
//! order, one fixed time stamp), found again by name beside the timing file and
//! by the clips' SHA-256 inside. Evidence is never needed for a number: where it
//! is missing or belongs to other clips that is said, and work goes on.

mod picture;
mod read;
mod record;
mod write;

pub use picture::{Grey, PictureError};
pub use read::{Evidence, NoEvidence};
pub use record::{BlurCurve, ClipEvidence, Index, Moment, SignalCurve, StillRecord, TrialEvidence};
pub use write::{Pack, write_evidence};

use std::path::{Path, PathBuf};

/// What the index says it is.
pub const FORMAT: &str = "focuslag-evidence";
/// Version of the index.
pub const VERSION: u32 = 1;
/// Name of the index in the archive.
const INDEX: &str = "evidence.json";

/// Where the evidence of a timing file is looked for.
pub fn beside(timing: &Path) -> PathBuf {
    let name = timing
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let stem = name
        .strip_suffix(".timing.json")
        .or_else(|| name.strip_suffix(".json"))
        .unwrap_or(&name);
    timing.with_file_name(format!("{stem}.evidence.zip"))
}

/// By this an archive knows the timing file it was written with: SHA-256 of its
/// bytes, line ends as LF.
fn timing_sha256(timing: &Path) -> Option<String> {
    use sha2::{Digest, Sha256};
    let mut bytes = std::fs::read(timing).ok()?;
    bytes.retain(|b| *b != b'\r');
    let digest = Sha256::digest(&bytes);
    Some(digest.iter().map(|b| format!("{b:02x}")).collect())
}

#[cfg(test)]
mod tests;
