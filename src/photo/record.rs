//! What `NAME.photos.json` holds. Unknown is `null`.

use serde::{Deserialize, Serialize};

use super::screen::OnScreen;
use crate::store::schema::{Rate, ReferenceFrom, Side};

/// What `format` says.
pub const FORMAT: &str = "focuslag-photos";
/// Version of the format.
pub const VERSION: u32 = 1;

/// The photographs of one setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Photos {
    /// Always `focuslag-photos`.
    pub format: String,
    /// Version of the format.
    pub version: u32,
    /// The setup's name.
    pub setup: String,
    /// Focus area: left, top, right, bottom; fractions of the picture.
    pub area: [f64; 4],
    /// Version of what blur means, as in timing files.
    pub blur_version: u32,
    /// Hit limit asked for, ‰ of the picture's height; null: one circle of
    /// confusion, or what the pictures tell where that is more.
    pub asked_permille: Option<f64>,
    /// Two-sided level of the interval, 0..1.
    pub confidence: f64,
    /// What was photographed.
    pub targets: Vec<Target>,
    /// Every picture, in shooting order.
    pub pictures: Vec<Picture>,
    /// Counts over all of them.
    pub summary: PhotoSummary,
    /// The screen's verdicts on the same trials, where a timing file was given.
    #[serde(default)]
    pub screen: Option<OnScreen>,
    /// In plain words.
    pub warnings: Vec<String>,
}

/// One subject that pictures show, and its sharpest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// `near` or `far` where the name of its picture by hand says so, else null.
    pub side: Option<Side>,
    /// Where blur 0 comes from: `hand`, or `setup` for the setup's own best.
    pub reference_from: ReferenceFrom,
    /// The picture that is blur 0; relative to the folder.
    pub reference: String,
    /// Width and height of its pictures, px, upright.
    pub size: [usize; 2],
    /// One circle of confusion: the diagonal ÷ 1500, ‰ of the picture's height.
    pub circle_permille: f64,
    /// Largest blur of a hit, ‰ of the picture's height.
    pub hit_limit_permille: f64,
    /// The least blur that these pictures tell from none, ‰; null where it is not
    /// known.
    pub least_permille: Option<f64>,
    /// By how much the picture by hand is softer than the sharpest of the others, ‰;
    /// null where that is not sure.
    #[serde(default)]
    pub softer_permille: Option<f64>,
    /// Pictures that show it.
    pub pictures: usize,
}

/// What became of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PictureVerdict {
    /// Its blur is within the hit limit.
    Hit,
    /// It is not.
    Miss,
    /// It cannot be judged.
    Void,
}

/// Why a picture cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Why {
    /// No photograph that can be read.
    #[serde(rename = "unreadable")]
    Unreadable,
    /// It shows something else.
    #[serde(rename = "other target")]
    OtherTarget,
    /// Another size or orientation than the picture that it is held against.
    #[serde(rename = "other size")]
    OtherSize,
    /// Too dark, or mostly white.
    #[serde(rename = "no signal")]
    NoSignal,
    /// These pictures tell blur less finely than twice the hit limit.
    #[serde(rename = "cannot tell")]
    CannotTell,
}

impl Why {
    /// The word in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Unreadable => "unreadable",
            Self::OtherTarget => "other target",
            Self::OtherSize => "other size",
            Self::NoSignal => "no signal",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// One picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Picture {
    /// The file's name.
    pub file: String,
    /// Which of [`Photos::targets`] it shows; null where none.
    pub target: Option<usize>,
    /// Correlation with that target at its best place, -1..=1.
    pub likeness: Option<f64>,
    /// The verdict.
    pub verdict: PictureVerdict,
    /// Why it is void.
    pub reason: Option<Why>,
    /// What is wrong with a file that cannot be read.
    pub error: Option<String>,
    /// So blurred that nothing in it can be told apart: a miss whatever it shows.
    #[serde(default)]
    pub beyond_recognition: bool,
    /// Blur against the target's reference; null where there is none.
    pub blur: Option<PictureBlur>,
    /// The blur lies within its expanded uncertainty of the hit limit.
    pub close_call: bool,
    /// The trial that it belongs to, where a timing file was given.
    pub trial: Option<TrialName>,
}

/// Diameter of the blur disc. Negative: sharper than the reference by as much.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PictureBlur {
    /// ‰ of the picture's height.
    pub permille: f64,
    /// Its standard uncertainty (k = 1), ‰.
    pub u_permille: f64,
    /// Pixels of the picture.
    pub px: f64,
    /// Circles of confusion.
    pub circles: f64,
    /// It is so much or more: the scale ends there.
    #[serde(default)]
    pub at_least: bool,
}

/// A trial of a timing file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrialName {
    /// The clip's path as the timing file has it.
    pub clip: String,
    /// From 0 within the clip.
    pub index: u32,
}

/// Counts and what follows from them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PhotoSummary {
    /// All pictures.
    pub pictures: u64,
    /// Hits and misses.
    pub judged: u64,
    /// Hits.
    pub hit: u64,
    /// Misses.
    pub miss: u64,
    /// Not judged.
    pub void: u64,
    /// Close calls among the judged.
    pub close_calls: u64,
    /// Hit ÷ judged with its Wilson interval; null with nothing judged.
    pub hit_rate: Option<Rate>,
    /// Middle of the judged pictures' blur, ‰.
    pub median_permille: Option<f64>,
    /// The point that nine in ten are below, ‰.
    pub p90_permille: Option<f64>,
}
