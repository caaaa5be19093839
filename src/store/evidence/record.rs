//! The index of an evidence archive.

use serde::{Deserialize, Serialize};

/// Everything but the pictures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Index {
    /// Always [`super::FORMAT`].
    pub format: String,
    /// [`super::VERSION`] of the writer.
    pub version: u32,
    /// Name of the setup.
    pub setup: String,
    /// In the order of the timing file.
    pub clips: Vec<ClipEvidence>,
}

/// Evidence of one clip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClipEvidence {
    /// As in the timing file.
    pub path: String,
    /// SHA-256 of the clip, lower-case hex: what it is known by.
    pub sha256: String,
    /// The curve; null where nothing could be read.
    pub curve: Option<SignalCurve>,
    /// In the order of the timing file.
    pub trials: Vec<TrialEvidence>,
}

/// The raw signal, and blur, per update of the screen.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SignalCurve {
    /// Seconds from one update to the next.
    pub period_s: f64,
    /// When each was first seen, seconds as shot, rising.
    pub shown_s: Vec<f64>,
    /// The raw signal, in the measure's own unit; as long as `shown_s`.
    pub sharpness: Vec<f64>,
    /// Diameter of the blur disc, ‰ of the screen's height, against the best
    /// focus of the side then shown; null where it cannot be told. As long as
    /// `shown_s`, or empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub permille: Vec<Option<f64>>,
}

impl SignalCurve {
    /// Updates shown in `from..to` seconds: their places.
    #[must_use]
    pub fn between(&self, from: f64, to: f64) -> std::ops::Range<usize> {
        let place = |t: f64| self.shown_s.partition_point(|s| *s < t - 1e-9);
        place(from)..place(to).max(place(from))
    }

    /// The update that is on the screen at an instant: its place.
    #[must_use]
    pub fn place(&self, t: f64) -> Option<usize> {
        let after = self.shown_s.partition_point(|s| *s <= t + 1e-6);
        after.checked_sub(1)
    }
}

/// Evidence of one trial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrialEvidence {
    /// As in the timing file.
    pub index: u32,
    /// Its onset, by which it is known again.
    pub onset_s: f64,
    /// Blur around the trial, where the subject was seen sharp.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blur: Option<BlurCurve>,
    /// In order of time.
    pub stills: Vec<StillRecord>,
}

/// Blur per update of the screen, for the updates around one trial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlurCurve {
    /// Place of the first value in the clip's curve.
    pub first: usize,
    /// Diameter of the blur disc, ‰ of the screen's height.
    pub permille: Vec<f64>,
}

/// What a picture shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Moment {
    /// The stimulus is complete.
    Onset,
    /// Least sharp between onset and settle, or the end.
    Blurred,
    /// Settled.
    Settled,
    /// The end of the window, of a trial that is no hit.
    End,
}

impl Moment {
    /// In one word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Onset => "onset",
            Self::Blurred => "most blurred",
            Self::Settled => "settled",
            Self::End => "end",
        }
    }
}

/// One picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StillRecord {
    /// What it shows.
    pub moment: Moment,
    /// The frame's own time, seconds as shot.
    pub time_s: f64,
    /// The frame's number in the clip.
    pub frame: u64,
    /// The focus area at the film's own pixels: its name in the archive.
    pub file: String,
    /// The whole screen, small.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub screen: Option<String>,
}
