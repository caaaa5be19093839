//! What a clip's decoding yielded, kept so that it need not be done again.
//!
//! One `.npz` a clip (a ZIP archive of NumPy's `.npy` arrays, NumPy
//! Enhancement Proposal 1) with one more member, [`ABOUT`]: JSON that says
//! which clip, which parts of the rig the arrays depend on, and what made them.
//! This room knows names, shapes and types of numbers; what they mean is known
//! to `job`. Long arrays pass through row by row, never whole.
//!
//! Failures: [`std::io::Error`], with `InvalidData` for a file that is damaged,
//! foreign, or of another version.

mod read;
#[cfg(test)]
mod tests;
mod write;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

pub(crate) use read::SignalsReader;
pub(crate) use write::{SignalsWriter, Unnamed};

/// Name of the JSON member.
pub const ABOUT: &str = "about.json";
/// The `format` of every such file.
pub const FORMAT: &str = "focuslag-signals";
/// Counted up whenever what is kept, or how it is come by before trials are
/// judged, changes: older files are then made anew.
pub const VERSION: u32 = 8;

/// What a file of signals says of itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct About {
    /// [`FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u32,
    /// Programs and their versions.
    pub made_by: BTreeMap<String, String>,
    /// The clip's path as seen from the folder of the signals, with `/`.
    pub clip: String,
    /// SHA-256 of the clip, lower-case hex.
    pub sha256: String,
    /// The parts of the rig that the signals depend on, as in the rig file.
    pub rig: Value,
    /// What is no array.
    pub facts: Value,
}

/// A number an array may hold.
pub trait Number: npyz::AutoSerialize + npyz::Deserialize + Copy {}
impl<T: npyz::AutoSerialize + npyz::Deserialize + Copy> Number for T {}

/// A whole number that may be kept as its change from row to row, modulo its
/// range: where little changes, that takes a fraction of the space. NumPy gets
/// it back by `cumsum(axis=0, dtype=a.dtype)`.
pub trait Code: Number + Default {
    /// The change since `before`.
    fn since(self, before: Self) -> Self;
    /// The number that comes `change` after this one.
    fn after(self, change: Self) -> Self;
}

impl Code for u8 {
    fn since(self, before: Self) -> Self {
        self.wrapping_sub(before)
    }
    fn after(self, change: Self) -> Self {
        self.wrapping_add(change)
    }
}

impl Code for u16 {
    fn since(self, before: Self) -> Self {
        self.wrapping_sub(before)
    }
    fn after(self, change: Self) -> Self {
        self.wrapping_add(change)
    }
}
