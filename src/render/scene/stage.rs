//! Motion, trigger light and optics.

use serde::{Deserialize, Serialize};

use super::checks;
use super::layers::Layer;

/// The two subjects.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The card.
    Near,
    /// What is behind it.
    Far,
}

impl Side {
    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Self::Near => Self::Far,
            Self::Far => Self::Near,
        }
    }
}

/// Law of the target's way from one state to the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Profile {
    /// Half a period of a sinusoid: a swing caught at its turning point.
    #[default]
    Ease,
    /// Falls with constant acceleration against a stop.
    Stop,
}

/// How the target moves.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Motion {
    /// Law of the way.
    pub profile: Profile,
    /// Length of one way, ms; of a free pendulum: half its period.
    #[serde(deserialize_with = "checks::real_span")]
    pub move_ms: f64,
    /// Rest between two ways, ms; 0 makes `ease` a free pendulum.
    #[serde(deserialize_with = "checks::span")]
    pub pause_ms: f64,
    /// The rest varies evenly by ± this, ms.
    #[serde(deserialize_with = "checks::span")]
    pub pause_jitter_ms: f64,
    /// Speed kept at each bounce off the stop (`stop` only).
    #[serde(deserialize_with = "checks::bounce")]
    pub bounce: f64,
    /// Before the first trial, ms.
    #[serde(deserialize_with = "checks::span")]
    pub lead_ms: f64,
    /// After the last trial's start of rest, ms; else as long as needed to
    /// judge it.
    #[serde(deserialize_with = "checks::span")]
    pub tail_ms: Option<f64>,
}

impl Default for Motion {
    fn default() -> Self {
        Self {
            profile: Profile::Ease,
            move_ms: 350.0,
            pause_ms: 2000.0,
            pause_jitter_ms: 60.0,
            bounce: 0.0,
            lead_ms: 800.0,
            tail_ms: None,
        }
    }
}

/// The trigger light (stimulus `light`): filmed directly.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Light {
    /// Centre in pixels of the upright frame.
    pub center: [f64; 2],
    /// Radius in pixels.
    #[serde(deserialize_with = "checks::positive")]
    pub radius: f64,
    /// Display values of red, green and blue while it is on.
    #[serde(deserialize_with = "checks::color")]
    pub color: [f64; 3],
    /// A textured surface lies around it, this far to each side, px; 0: the
    /// desk alone. The lamp lights it.
    #[serde(deserialize_with = "checks::film_px")]
    pub surround_px: f64,
    /// What is on that surface.
    pub surround: Layer,
    /// How long it stays on, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub on_ms: f64,
    /// From going off to going on again, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub off_ms: f64,
    /// Blur the lens is set to while the light is off, ‰.
    #[serde(deserialize_with = "checks::permille")]
    pub start_permille: f64,
}

impl Default for Light {
    fn default() -> Self {
        Self {
            center: [64.0, 64.0],
            radius: 14.0,
            color: [1.0; 3],
            surround_px: 0.0,
            surround: Layer::default(),
            on_ms: 1900.0,
            off_ms: 900.0,
            start_permille: 28.0,
        }
    }
}

/// A thin lens that gives both blurs at once.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ThinLens {
    /// Focal length, mm.
    #[serde(deserialize_with = "checks::positive")]
    pub focal_mm: f64,
    /// Relative aperture.
    #[serde(deserialize_with = "checks::positive")]
    pub f_number: f64,
    /// Distance of the card from the lens, mm.
    #[serde(deserialize_with = "checks::positive")]
    pub near_mm: f64,
    /// Distance of the background from the lens, mm.
    #[serde(deserialize_with = "checks::positive")]
    pub far_mm: f64,
    /// Height of the picture on the sensor, mm.
    #[serde(deserialize_with = "checks::positive")]
    pub sensor_mm: f64,
}

/// How defocus becomes blur.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Optics {
    /// Blur of the card while the background is in focus, ‰.
    #[serde(deserialize_with = "checks::real_permille")]
    pub near_permille: f64,
    /// Blur of the background while the card is in focus, ‰.
    #[serde(deserialize_with = "checks::real_permille")]
    pub far_permille: f64,
    /// Breathing: the picture is larger by this share with the card in focus
    /// than with the background, and in between evenly; 0 is off.
    #[serde(deserialize_with = "checks::breathing")]
    pub breathing: f64,
    /// Both from a thin lens instead.
    pub lens: Option<ThinLens>,
}

impl Default for Optics {
    fn default() -> Self {
        Self {
            near_permille: 34.0,
            far_permille: 30.0,
            breathing: 0.0,
            lens: None,
        }
    }
}
