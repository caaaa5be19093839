//! What kept signals are named after, and whether they fit a rig.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value};

use crate::rig::Rig;

/// Tables of the rig that signals depend on. What is in no other may change
/// without decoding again.
const DEPENDS_ON: &[&str] = &["capture", "screen", "sharpness", "stimulus", "cue"];

/// The parts of the rig that signals depend on.
pub(super) fn depends(rig: &Rig) -> Value {
    let whole = rig.to_json();
    let parts = DEPENDS_ON.iter().filter_map(|key| {
        let part = whole.get(*key)?.clone();
        Some(((*key).to_owned(), part))
    });
    Value::Object(parts.collect::<Map<_, _>>())
}

/// The keys in which two tables differ, such as `screen.af_area`.
pub(super) fn differences(a: &Value, b: &Value) -> Vec<String> {
    fn walk(at: &str, a: &Value, b: &Value, out: &mut Vec<String>) {
        if let (Value::Object(x), Value::Object(y)) = (a, b) {
            let mut keys: Vec<&String> = x.keys().chain(y.keys()).collect();
            keys.sort();
            keys.dedup();
            for key in keys {
                let inner = if at.is_empty() {
                    key.clone()
                } else {
                    format!("{at}.{key}")
                };
                let of = |m: &Map<String, Value>| m.get(key).cloned().unwrap_or(Value::Null);
                walk(&inner, &of(x), &of(y), out);
            }
        } else if a != b {
            out.push(at.to_owned());
        }
    }
    let mut out = Vec::new();
    walk("", a, b, &mut out);
    out
}

pub(super) fn file_name(sha256: &str, parts: &Value) -> String {
    use sha2::{Digest, Sha256};
    let mut rig = String::new();
    for byte in Sha256::digest(parts.to_string()).iter().take(4) {
        let _ = write!(rig, "{byte:02x}");
    }
    format!("{}-{rig}.npz", beginning(sha256))
}

/// How the names of a clip's files begin.
pub(super) fn beginning(sha256: &str) -> &str {
    sha256.get(..16).unwrap_or(sha256)
}

/// A path without `.` and `..`.
pub(super) fn plain(path: &Path) -> PathBuf {
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            std::path::Component::ParentDir => {
                out.pop();
            }
            std::path::Component::CurDir => {}
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_that_differ_are_named() {
        let rig = |more: &str| {
            let text = format!(
                "name = \"r\"\n[stimulus]\nkind = \"swing\"\n[screen]\nfeed = true\n{more}"
            );
            depends(&Rig::parse(&text, "rig").unwrap())
        };
        let plain = rig("");
        assert!(differences(&plain, &rig("[trial]\nhold_ms = 300\n")).is_empty());
        let area = rig("af_area = [0.3, 0.3, 0.6, 0.6]\n[sharpness]\nmeasure = \"brenner\"\n");
        assert_eq!(
            differences(&plain, &area),
            [
                "screen.af_area",
                "sharpness.measure",
                "sharpness.smoothing_px"
            ]
        );
        assert_ne!(file_name("ab", &plain), file_name("ab", &area));
    }

    #[test]
    fn paths_are_made_plain() {
        let p = plain(Path::new("/a/b/../c/./d.mp4"));
        assert_eq!(p, Path::new("/a/c/d.mp4"));
    }
}
