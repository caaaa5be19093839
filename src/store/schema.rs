//! The timing file, key by key. Trials are the truth; the summary is derived.

pub mod hygiene;
mod measured;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// Highest version of the timing file this build reads and the one it writes.
pub const VERSION: u32 = 1;
/// What `format` says.
pub const FORMAT: &str = "focuslag-timing";

/// What [`Timing::measure`] calls the measurand.
pub const BLUR: &str = "blur";
/// Raised whenever the same film would give other blur or other verdicts.
pub const BLUR_VERSION: u32 = 1;

/// A whole `NAME.timing.json`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Timing {
    /// Always [`FORMAT`].
    pub format: String,
    /// Version of the format, at most [`VERSION`].
    pub version: u32,
    /// Name and tags.
    pub setup: Setup,
    /// The rig as used, defaults filled in.
    pub rig: serde_json::Value,
    /// `blur`, [`BLUR_VERSION`], δ and the hit limit asked for, and the raw
    /// signal that is shown beside it with its parameters.
    pub measure: serde_json::Value,
    /// Versions of the tool and of FFmpeg.
    pub made_by: BTreeMap<String, String>,
    /// The clips in the order given.
    pub clips: Vec<Clip>,
    /// Clips focused by hand, which the references are from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_hand: Vec<HandClip>,
    /// Derived from the trials; may be missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub summary: Option<Summary>,
}

/// A setup: name and free tags.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Setup {
    /// Name.
    pub name: String,
    /// Free `key = value` tags.
    #[serde(default)]
    pub tags: BTreeMap<String, String>,
}

/// A clip that was focused by hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandClip {
    /// The side it serves; null for light and tone.
    pub side: Option<Side>,
    /// Relative to the timing file's folder, with `/`.
    pub path: String,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
}

/// One clip and its trials.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clip {
    /// Relative to the timing file's folder, with `/`.
    pub path: String,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    /// Frames used.
    pub frames: u64,
    /// Length as shot, seconds.
    pub duration_s: f64,
    /// True rate, frames per second; null only where `error` is set.
    pub capture_fps: Option<f64>,
    /// The screen in the film.
    pub screen: Screen,
    /// The film's limit: the least blur that is told from none in 95 % of
    /// updates at 5 % false alarms, ‰ of the screen's height. Null where it is
    /// not known.
    #[serde(default)]
    pub least_permille: Option<f64>,
    /// How still the filming camera stood; missing where nobody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steadiness: Option<Steadiness>,
    /// Live-view lag in ms: how much later a change in the world first appears
    /// on the screen. Null where unknown.
    pub live_view_lag_ms: Option<f64>,
    /// Standard uncertainty (k = 1) of that lag.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub live_view_lag_u_ms: Option<f64>,
    /// The mean lag seen: the lag and half of the time a picture is held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub live_view_mean_lag_ms: Option<f64>,
    /// What was found in it that is not focus; missing where nothing was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hygiene: Option<hygiene::Hygiene>,
    /// In plain words.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// Why the clip could not be judged, else null.
    pub error: Option<String>,
    /// In the order of their stimuli.
    #[serde(default)]
    pub trials: Vec<Trial>,
}

/// Where the screen lies and how often it changes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Screen {
    /// TL TR BR BL, pixels of the upright frame; null for a feed.
    pub corners: Option<[[f64; 2]; 4]>,
    /// Refreshes per second; null where it could not be measured.
    pub refresh_hz: Option<f64>,
    /// New live-view pictures per second where slower than the refresh.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub live_view_hz: Option<f64>,
    /// Height of the screen in the film, px; null where it is not known.
    #[serde(default)]
    pub height_px: Option<f64>,
}

/// How still the filming camera stood, and whether it kept its focus.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Steadiness {
    /// Whether the screen was followed.
    pub tracked: bool,
    /// Farthest that the screen was from where it began, film px.
    pub moved_max_px: Option<f64>,
    /// Root mean square distance from its mean place, film px.
    pub moved_rms_px: Option<f64>,
    /// Frames in which it was lost.
    pub lost_frames: u64,
    /// When the filming camera was out of its best focus: from, to, seconds as
    /// shot.
    pub refocused_s: Vec<[f64; 2]>,
}

/// Which way the subject changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The target has come in.
    Near,
    /// The target has gone; the background is the subject.
    Far,
}

impl Side {
    /// The other side.
    pub fn other(self) -> Self {
        match self {
            Self::Near => Self::Far,
            Self::Far => Self::Near,
        }
    }
}

impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Near => "near",
            Self::Far => "far",
        })
    }
}

/// How a trial ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Settled, sharp, and still there at the end.
    Hit,
    /// Settled on the wrong plane.
    Soft,
    /// Did not settle in the window.
    Lost,
    /// Cannot be judged.
    Void,
}

/// One trial.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// From 0 within the clip.
    pub index: u32,
    /// Null for light and tone.
    pub side: Option<Side>,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, for lost and void.
    pub reason: Option<String>,
    /// Already sharp at onset (swing only); null with the lag unknown.
    pub early: Option<bool>,
    /// When the target began to move, seconds as shot.
    pub move_s: Option<f64>,
    /// When the stimulus was complete, seconds as shot.
    pub onset_s: f64,
    /// First visible change after onset.
    pub reaction_s: Option<f64>,
    /// First update of the first stay.
    pub settle_s: Option<f64>,
    /// End of the window.
    pub end_s: f64,
    /// Settle − onset as seen, hits only.
    pub latency_ms: Option<f64>,
    /// With the live-view lag taken off where it applies and is known.
    pub latency_corrected_ms: Option<f64>,
    /// Standard uncertainty (k = 1) of the latency, the lag's included where it
    /// was taken off.
    pub uncertainty_ms: Option<f64>,
    /// Turns of the blur between reaction and settle.
    pub reversals: Option<u32>,
    /// Departures from a stay that came back.
    pub relapses: Option<u32>,
    /// Largest blur between first coming within δ of the end blur and settle,
    /// ‰ of the screen's height.
    #[serde(default)]
    pub overshoot_permille: Option<f64>,
    /// Where the onset was seen.
    #[serde(default)]
    pub onset_seen: Option<OnsetSeen>,
    /// δ by which it was judged, ‰ of the screen's height.
    #[serde(default)]
    pub delta_permille: Option<f64>,
    /// Largest end blur of a hit by which it was judged, ‰ of the screen's
    /// height.
    #[serde(default)]
    pub hit_limit_permille: Option<f64>,
    /// Where its side's best focus comes from.
    #[serde(default)]
    pub reference_from: Option<ReferenceFrom>,
    /// The end blur lies within its expanded uncertainty of the hit limit.
    #[serde(default)]
    pub close_call: bool,
    /// Blur of the picture; null where none could be told.
    #[serde(default)]
    pub blur_permille: Option<Blur>,
    /// What the camera itself showed or sounded.
    #[serde(default)]
    pub cues: BTreeMap<String, Cue>,
}

/// Diameter of the blur disc against the same side's best focus, ‰ of the
/// screen's height.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Blur {
    /// When the stimulus was complete.
    pub onset: Option<f64>,
    /// Median over the hold that follows the window; null where it was cut.
    pub end: Option<f64>,
    /// Standard uncertainty (k = 1) of `end`.
    pub end_u: Option<f64>,
}

/// Where an onset was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum OnsetSeen {
    /// In the world beside the screen.
    Direct,
    /// On the screen, so as late as the live view.
    Screen,
    /// In the clip's sound.
    Sound,
}

/// Where a side's best focus, blur 0, comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ReferenceFrom {
    /// A clip that was focused by hand.
    Hand,
    /// The setup's own best.
    Setup,
    /// The clip's own best.
    Clip,
}

/// A cue of the camera under test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cue {
    /// When it was first shown, null where it was not.
    pub shown_s: Option<f64>,
    /// Shown − onset.
    pub latency_ms: Option<f64>,
    /// It had come on before the onset and was still on: no claim about this
    /// trial.
    #[serde(default)]
    pub on_at_onset: bool,
    /// It is heard, not seen on the screen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub heard: bool,
}

/// Everything a table needs, derived from the trials.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Counts, rates and quantiles of all sides together.
    #[serde(flatten)]
    pub all: Tally,
    /// The same per side; empty for light and tone.
    #[serde(default)]
    pub by_side: BTreeMap<Side, Tally>,
    /// HdrHistogram V2 of hit latencies as seen, µs, base64.
    pub hit_latency_us_histogram_v2: String,
}

/// Counts, rates and quantiles of one group of trials.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tally {
    /// All trials, voids included.
    pub trials: u64,
    /// Hit + soft + lost.
    pub judged: u64,
    /// Hits.
    pub hit: u64,
    /// Settled on the wrong plane.
    pub soft: u64,
    /// Did not settle.
    pub lost: u64,
    /// Could not be judged.
    pub void: u64,
    /// Hit ÷ judged with its Wilson interval; null with nothing judged.
    pub hit_rate: Option<Rate>,
    /// Share of judged trials in focus by `250_ms`, `500_ms`, `1000_ms`.
    pub in_focus_by: BTreeMap<String, Option<f64>>,
    /// Quantiles over hits alone.
    pub latency_ms: LatencyQuantiles,
    /// Kaplan–Meier over all judged trials.
    pub time_to_focus_ms: TimeToFocus,
}

/// A share with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rate {
    /// The share, 0..=1.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Two-sided level of the interval, 0..1.
    pub confidence: f64,
}

/// Quantiles of hit latency, null where n is too small for one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LatencyQuantiles {
    /// Number of hits.
    pub n: u64,
    /// 10 % point.
    pub p10: Option<f64>,
    /// Median.
    pub p50: Option<f64>,
    /// 90 % point.
    pub p90: Option<f64>,
    /// 95 % point.
    pub p95: Option<f64>,
    /// Largest.
    pub max: Option<f64>,
}

/// Kaplan–Meier summary, null where not reached.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TimeToFocus {
    /// Median.
    pub median: Option<f64>,
    /// Lower log–log limit of the median.
    pub median_low: Option<f64>,
    /// Upper log–log limit of the median.
    pub median_high: Option<f64>,
    /// Restricted mean to the shortest window.
    pub restricted_mean: Option<f64>,
}
