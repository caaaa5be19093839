//! What a rig file says, checked, with its defaults filled in.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize, Serializer};

use super::{read, read_screen};
use crate::geometry::{Quad, ScreenFrac, UprightPx};
use crate::units::{CaptureRate, Hertz, Millis, StoredTime};

/// Everything that stays the same while a setup is filmed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rig {
    /// What the person calls it.
    pub name: String,
    /// The filming camera.
    pub capture: Capture,
    /// The screen in the frame.
    pub screen: ScreenSpec,
    /// The raw signal that is shown and exported; no verdict rests on it.
    #[serde(rename = "sharpness")]
    pub measure: MeasureSpec,
    /// What starts a trial.
    pub stimulus: Stimulus,
    /// How a trial is judged.
    pub trial: TrialSpec,
    /// What the camera under test shows or sounds of its own accord.
    #[serde(rename = "cue")]
    pub cues: Vec<CueSpec>,
}

/// The filming camera, as far as the clip may not tell.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Capture {
    /// True rate. With `segments` it is the rate before the first of them.
    #[serde(deserialize_with = "read::rate")]
    pub fps: Option<CaptureRate>,
    /// Parts of different true rate, ascending. Where `fps` is `None` and any
    /// are given, the first starts at 0.
    pub segments: Vec<Segment>,
    /// Width and height of the upright frame, px; a clip of another size is refused.
    #[serde(deserialize_with = "read::frame_size")]
    pub frame_size: Option<(usize, usize)>,
}

/// From here on the filming camera ran at this true rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Segment {
    /// Start on the container's time line, ≥ 0.
    #[serde(rename = "from_s", deserialize_with = "read::stored_time")]
    pub from: StoredTime,
    /// True rate.
    #[serde(rename = "fps", deserialize_with = "read::rate")]
    pub rate: CaptureRate,
}

/// The screen of the camera under test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ScreenSpec {
    /// TL TR BR BL as the screen's user reads it; convex, clockwise. `None`: to be found.
    #[serde(serialize_with = "corners", deserialize_with = "read_screen::corners")]
    pub corners: Option<Quad<UprightPx>>,
    /// The whole frame is a recording of the feed; then `corners` is `None`.
    pub feed: bool,
    /// Refreshes per second; `None`: to be measured.
    #[serde(deserialize_with = "read::refresh_rate")]
    pub refresh_hz: Option<Hertz>,
    /// The autofocus area.
    pub af_area: AreaFrac,
    /// Parts left out; together they never cover the whole `af_area`.
    #[serde(deserialize_with = "read_screen::each")]
    pub masks: Vec<AreaFrac>,
}

impl Default for ScreenSpec {
    fn default() -> Self {
        Self {
            corners: None,
            feed: false,
            refresh_hz: None,
            af_area: DEFAULT_AF_AREA,
            masks: Vec::new(),
        }
    }
}

/// An upright rectangle in fractions of the screen, 0..=1, left < right, top < bottom.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(into = "[f64; 4]")]
pub struct AreaFrac {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Bottom edge.
    pub bottom: f64,
}

/// An upright rectangle in pixels of the upright frame, x0 < x1, y0 < y1, all ≥ 0.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(into = "[f64; 4]")]
pub struct PixelRect {
    /// Left edge.
    pub x0: f64,
    /// Top edge.
    pub y0: f64,
    /// Right edge.
    pub x1: f64,
    /// Bottom edge.
    pub y1: f64,
}

/// A sharpness measure and its parameters.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "measure", rename_all = "kebab-case")]
pub enum MeasureSpec {
    /// Squared Sobel gradient after Gaussian smoothing.
    Tenengrad {
        /// Standard deviation of the smoothing in px, 0..=10; 0: none.
        smoothing_px: f64,
    },
    /// Spectral energy between two frequencies.
    MidBand {
        /// Lower limit, cycles per screen height, > 0.
        low_cph: f64,
        /// Upper limit, cycles per screen height, > `low_cph`.
        high_cph: f64,
    },
    /// Variance of the Laplacian.
    VarianceOfLaplacian,
    /// Grey-level variance ÷ mean².
    NormalizedVariance,
    /// Squared difference of pixels two apart.
    Brenner,
}

/// Smoothing of a Tenengrad that names none, px.
const DEFAULT_SMOOTHING_PX: f64 = 1.0;
/// The measure of a rig that names none.
pub const DEFAULT_MEASURE: MeasureSpec = MeasureSpec::Tenengrad {
    smoothing_px: DEFAULT_SMOOTHING_PX,
};

/// What starts a trial.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Stimulus {
    /// The target swings in and out.
    Swing {
        /// When the swing counts as complete.
        at: SwingAt,
        /// Where the target is seen directly, if it is.
        region: Option<PixelRect>,
    },
    /// A trigger light goes on.
    Light {
        /// Where it is.
        region: PixelRect,
    },
    /// A tone starts.
    Tone,
}

/// When a swing is complete.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SwingAt {
    /// The target has come to rest (against a stop).
    Rest,
    /// The target covers, or has left, the AF area (a free pendulum).
    Cover,
}

/// How a trial is judged.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TrialSpec {
    /// From onset to the end of the trial, 100..=60000 ms.
    #[serde(rename = "window_ms")]
    pub window: Millis,
    /// How long the blur must stay, > 0, ≤ `window`.
    #[serde(rename = "hold_ms")]
    pub hold: Millis,
    /// δ: how near to its end blur the blur must stay, ‰ of the screen's
    /// height, within [`PERMILLE`].
    pub settle_permille: f64,
    /// Largest end blur of a hit, ‰ of the screen's height, within
    /// [`PERMILLE`], ≥ `settle_permille`.
    pub hit_permille: f64,
}

/// Something the camera under test shows or sounds of its own accord.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CueSpec {
    /// Unique within the rig.
    pub name: String,
    /// What to look or listen for.
    #[serde(flatten)]
    pub kind: CueKind,
}

/// What a cue is made of.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum CueKind {
    /// A part of the screen takes on a colour (a box that turns green).
    Color {
        /// Where.
        region: AreaFrac,
        /// Red, green, blue.
        #[serde(serialize_with = "hex")]
        color: [u8; 3],
        /// Largest distance from `color` that still counts, share of full scale.
        tolerance: f64,
    },
    /// A part of the screen lights up.
    Light {
        /// Where.
        region: AreaFrac,
        /// Smallest rise of brightness that counts, share of full scale.
        tolerance: f64,
    },
    /// A beep.
    Tone,
}

/// The tolerance of a cue that names none.
pub const DEFAULT_CUE_TOLERANCE: f64 = 0.15;
/// The autofocus area of a rig that names none.
pub const DEFAULT_AF_AREA: AreaFrac = AreaFrac {
    left: 0.35,
    top: 0.30,
    right: 0.65,
    bottom: 0.70,
};
/// The window of a rig that names none.
pub const DEFAULT_WINDOW: Millis = Millis(1500.0);
/// The hold of a rig that names none.
pub const DEFAULT_HOLD: Millis = Millis(200.0);
/// δ of a rig that names none, ‰ of the screen's height: one line of a 480-line
/// screen is 2.1 ‰.
pub const DEFAULT_SETTLE_PERMILLE: f64 = 4.0;
/// The largest end blur of a hit of a rig that names none, ‰ of the screen's
/// height.
pub const DEFAULT_HIT_PERMILLE: f64 = 4.0;
/// Blur a rig may ask for, ‰ of the screen's height.
pub const PERMILLE: RangeInclusive<f64> = 0.5..=50.0;

fn corners<S: Serializer>(quad: &Option<Quad<UprightPx>>, s: S) -> Result<S::Ok, S::Error> {
    quad.map(|q| q.corners.map(|p| [p.x, p.y])).serialize(s)
}

fn hex<S: Serializer>([r, g, b]: &[u8; 3], s: S) -> Result<S::Ok, S::Error> {
    s.serialize_str(&format!("#{r:02x}{g:02x}{b:02x}"))
}

impl From<AreaFrac> for [f64; 4] {
    fn from(a: AreaFrac) -> Self {
        [a.left, a.top, a.right, a.bottom]
    }
}

impl From<PixelRect> for [f64; 4] {
    fn from(r: PixelRect) -> Self {
        [r.x0, r.y0, r.x1, r.y1]
    }
}

impl AreaFrac {
    /// The rectangle as a quadrilateral of the screen.
    pub fn quad(&self) -> Quad<ScreenFrac> {
        Quad::rect(self.left, self.top, self.right, self.bottom)
    }

    /// Whether a point of the screen lies in it.
    pub fn contains(&self, x: f64, y: f64) -> bool {
        x >= self.left && x <= self.right && y >= self.top && y <= self.bottom
    }
}

impl PixelRect {
    /// The rectangle as a quadrilateral of the upright frame.
    pub fn quad(&self) -> Quad<UprightPx> {
        Quad::rect(self.x0, self.y0, self.x1, self.y1)
    }
}

impl MeasureSpec {
    /// The measure's name in files.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Tenengrad { .. } => "tenengrad",
            Self::MidBand { .. } => "mid-band",
            Self::VarianceOfLaplacian => "variance-of-laplacian",
            Self::NormalizedVariance => "normalized-variance",
            Self::Brenner => "brenner",
        }
    }

    /// The measure of this name with its default parameters.
    pub fn named(name: &str) -> Option<Self> {
        Self::all().into_iter().find(|m| m.name() == name)
    }

    /// Every measure with its default parameters.
    pub fn all() -> [Self; 5] {
        [
            Self::Tenengrad {
                smoothing_px: DEFAULT_SMOOTHING_PX,
            },
            Self::MidBand {
                low_cph: 24.0,
                high_cph: 120.0,
            },
            Self::VarianceOfLaplacian,
            Self::NormalizedVariance,
            Self::Brenner,
        ]
    }

    /// Names and values of its parameters, as in files.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        match *self {
            Self::Tenengrad { smoothing_px } => vec![("smoothing_px", smoothing_px)],
            Self::MidBand { low_cph, high_cph } => {
                vec![("low_cph", low_cph), ("high_cph", high_cph)]
            }
            Self::VarianceOfLaplacian | Self::NormalizedVariance | Self::Brenner => Vec::new(),
        }
    }
}
