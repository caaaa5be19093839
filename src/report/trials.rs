//! All trials of many files as one table for a notebook.

use std::collections::BTreeSet;
use std::io::{self, Write};

use serde_json::Value;

use super::cells::cell;
use crate::store::schema::Timing;

/// Columns of the file, by their place in it.
const OF_FILE: [(&str, &str); 4] = [
    ("setup", "/setup/name"),
    ("stimulus", "/rig/stimulus/kind"),
    ("measure", "/measure/name"),
    ("measure_version", "/measure/version"),
];

/// Columns of the clip.
const OF_CLIP: [(&str, &str); 6] = [
    ("clip", "/path"),
    ("clip_sha256", "/sha256"),
    ("capture_fps", "/capture_fps"),
    ("refresh_hz", "/screen/refresh_hz"),
    ("live_view_lag_ms", "/live_view_lag_ms"),
    ("least_permille", "/least_permille"),
];

/// Columns of the trial.
const OF_TRIAL: [(&str, &str); 24] = [
    ("trial", "/index"),
    ("side", "/side"),
    ("verdict", "/verdict"),
    ("reason", "/reason"),
    ("early", "/early"),
    ("close_call", "/close_call"),
    ("move_s", "/move_s"),
    ("onset_s", "/onset_s"),
    ("reaction_s", "/reaction_s"),
    ("settle_s", "/settle_s"),
    ("end_s", "/end_s"),
    ("latency_ms", "/latency_ms"),
    ("latency_corrected_ms", "/latency_corrected_ms"),
    ("uncertainty_ms", "/uncertainty_ms"),
    ("reversals", "/reversals"),
    ("relapses", "/relapses"),
    ("overshoot_permille", "/overshoot_permille"),
    ("blur_onset_permille", "/blur_permille/onset"),
    ("blur_end_permille", "/blur_permille/end"),
    ("blur_end_u_permille", "/blur_permille/end_u"),
    ("delta_permille", "/delta_permille"),
    ("hit_limit_permille", "/hit_limit_permille"),
    ("reference_from", "/reference_from"),
    ("onset_seen", "/onset_seen"),
];

/// Columns of each cue that any trial has.
const OF_CUE: [&str; 3] = ["shown_s", "latency_ms", "on_at_onset"];

/// How every such table begins.
pub const TRIALS_HEAD: &str = "file,setup,stimulus,measure,measure_version,clip,clip_sha256,";

/// Which columns a table has beside the fixed ones: those of the tags and cues
/// of all its files.
#[derive(Debug, Default)]
pub struct TrialsTable {
    tags: BTreeSet<String>,
    cues: BTreeSet<String>,
}

impl TrialsTable {
    /// Makes room for the tags and cues of a file.
    pub fn make_room(&mut self, timing: &Timing) {
        self.tags.extend(timing.setup.tags.keys().cloned());
        self.cues.extend(cues(timing).cloned());
    }

    /// Whether there is room for all tags and cues of a file.
    #[must_use]
    pub fn has_room(&self, timing: &Timing) -> bool {
        let mut tags = timing.setup.tags.keys();
        tags.all(|t| self.tags.contains(t)) && cues(timing).all(|c| self.cues.contains(c))
    }

    /// Heads of the columns.
    #[must_use]
    pub fn head(&self) -> Vec<String> {
        let fixed = OF_FILE.iter().chain(&OF_CLIP).chain(&OF_TRIAL);
        let fixed = fixed.map(|(head, _)| (*head).to_owned());
        let tags = self.tags.iter().map(|key| cell(&format!("tag_{key}")));
        let cues = self.cues.iter();
        let cues = cues.flat_map(|name| OF_CUE.map(|key| cell(&format!("cue_{name}_{key}"))));
        let file = std::iter::once("file".to_owned());
        file.chain(fixed).chain(tags).chain(cues).collect()
    }

    /// Writes the head, CSV (RFC 4180).
    ///
    /// # Errors
    /// What `out` reports.
    pub fn write_head(&self, out: impl Write) -> io::Result<()> {
        let mut out = csv::Writer::from_writer(out);
        out.write_record(self.head()).map_err(of_writing)?;
        out.flush()
    }

    /// Writes a row per trial, voids included, in the order of the file, and
    /// says how many. What is not known is empty; numbers are those of the file.
    ///
    /// # Errors
    /// What `out` reports.
    pub fn write_trials(&self, file: &str, timing: &Timing, out: impl Write) -> io::Result<usize> {
        let all = serde_json::to_value(timing)?;
        let file = std::iter::once(cell(file));
        let of_file: Vec<String> = file.chain(texts(&all, &OF_FILE)).collect();
        let tags = self.tags.iter();
        let tags: Vec<String> = tags.map(|k| text(all["setup"]["tags"].get(k))).collect();
        let mut out = csv::Writer::from_writer(out);
        let mut rows = 0;
        for clip in list(&all["clips"]) {
            let of_clip: Vec<String> = texts(clip, &OF_CLIP).collect();
            for trial in list(&clip["trials"]) {
                let of_trial: Vec<String> = texts(trial, &OF_TRIAL).collect();
                let cues: Vec<String> = self.cues_of(trial).collect();
                let parts = [&of_file, &of_clip, &of_trial, &tags, &cues];
                out.write_record(parts.into_iter().flatten())
                    .map_err(of_writing)?;
                rows += 1;
            }
        }
        out.flush()?;
        Ok(rows)
    }

    fn cues_of<'a>(&'a self, trial: &'a Value) -> impl Iterator<Item = String> + 'a {
        self.cues.iter().flat_map(|name| {
            let cue = trial["cues"].get(name);
            OF_CUE.map(|key| text(cue.and_then(|c| c.get(key))))
        })
    }
}

/// The cause itself: that nobody reads on is told by its kind.
fn of_writing(error: csv::Error) -> io::Error {
    match error.into_kind() {
        csv::ErrorKind::Io(cause) => cause,
        other => io::Error::other(format!("{other:?}")),
    }
}

/// Names of cues, as often as they are there.
fn cues(timing: &Timing) -> impl Iterator<Item = &String> {
    let trials = timing.clips.iter().flat_map(|c| &c.trials);
    trials.flat_map(|t| t.cues.keys())
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn texts<'a>(of: &'a Value, columns: &'a [(&str, &str)]) -> impl Iterator<Item = String> + 'a {
    columns.iter().map(|(_, place)| text(of.pointer(place)))
}

fn text(value: Option<&Value>) -> String {
    match value {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(words)) => cell(words),
        Some(other) => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing};

    #[test]
    fn every_column_is_a_key_of_the_file() {
        let made = timing("kit", vec![clip("a", swings(&[Some(200.0), None]))]);
        let all = serde_json::to_value(&made).unwrap();
        let there = |of: &Value, place: &str| of.pointer(place).is_some();
        for (head, place) in OF_FILE {
            assert!(there(&all, place), "{head}");
        }
        for (head, place) in OF_CLIP {
            assert!(there(&all["clips"][0], place), "{head}");
        }
        for (head, place) in OF_TRIAL.iter().filter(|c| !c.1.starts_with("/blur")) {
            assert!(there(&all["clips"][0]["trials"][0], place), "{head}");
        }
        let head = TrialsTable::default().head().join(",");
        assert!(head.starts_with(TRIALS_HEAD));
    }
}
