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
    /// SHA-256 of the timing file that it was written with, lower-case hex, line
    /// ends as LF; missing in older archives.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub timing_sha256: Option<String>,
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
}

impl ClipEvidence {
    /// What in it cannot be, in words: nobody may draw that.
    pub fn fault(&self) -> Option<&'static str> {
        let updates = self.curve.as_ref().map_or(0, |c| c.shown_s.len());
        let odd = |t: &TrialEvidence| {
            !SECONDS.contains(&t.onset_s)
                || t.stills.iter().any(|s| !SECONDS.contains(&s.time_s))
                || t.blur.as_ref().is_some_and(|b| {
                    b.first.saturating_add(b.permille.len()) > updates
                        || b.permille.iter().any(|p| !PERMILLE.contains(p))
                })
        };
        let curve = self.curve.as_ref().and_then(SignalCurve::fault);
        let trial = "a trial's times or blur are out of range";
        curve.or_else(|| self.trials.iter().any(odd).then_some(trial))
    }
}

/// Seconds as shot that a film may have: a day and more.
const SECONDS: std::ops::RangeInclusive<f64> = -1e5..=1e5;
/// Largest value of a raw signal.
const SHARPNESS: std::ops::RangeInclusive<f64> = 0.0..=1e12;
/// Blur, of the whole screen and below.
const PERMILLE: std::ops::RangeInclusive<f64> = -1e3..=1e3;

impl SignalCurve {
    fn fault(&self) -> Option<&'static str> {
        let n = self.shown_s.len();
        if self.sharpness.len() != n {
            return Some("its curve has times and values of two lengths");
        }
        let rising = self.shown_s.windows(2).all(|w| w[0] < w[1]);
        if !rising || !self.shown_s.iter().all(|s| SECONDS.contains(s)) {
            return Some("the times of its curve do not rise, or are beyond a day");
        }
        let values = self.sharpness.iter().all(|v| SHARPNESS.contains(v));
        if !values || !(0.0..=1e3).contains(&self.period_s) {
            return Some("values of its curve are out of range");
        }
        None
    }

    /// Updates shown in `from..to` seconds: their places.
    pub fn between(&self, from: f64, to: f64) -> std::ops::Range<usize> {
        let place = |t: f64| self.shown_s.partition_point(|s| *s < t - 1e-9);
        place(from)..place(to).max(place(from))
    }

    /// The update that is on the screen at an instant: its place.
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
