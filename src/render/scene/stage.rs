//! Motion, trigger light, optics, and bright things beside the screen.

use serde::{Deserialize, Serialize};

use super::checks;
use super::layers::Layer;
use super::table::table;

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

table! {
    /// How the target moves.
    Motion {
        /// Law of the way.
        profile: Profile = Profile::Ease,
        /// Length of one way, ms; of a free pendulum: half its period.
        move_ms: f64 = 350.0; "checks::real_span",
        /// Rest between two ways, ms; 0 makes `ease` a free pendulum.
        pause_ms: f64 = 2000.0; "checks::span",
        /// The rest varies evenly by ± this, ms.
        pause_jitter_ms: f64 = 60.0; "checks::span",
        /// Speed kept at each bounce off the stop (`stop` only).
        bounce: f64 = 0.0; "checks::bounce",
        /// Before the first trial, ms.
        lead_ms: f64 = 800.0; "checks::span",
        /// After the last trial's start of rest, ms; else as long as needed to
        /// judge it.
        tail_ms: Option<f64> = None; "checks::span",
    }

    /// The trigger light (stimulus `light`): filmed directly.
    Light {
        /// Centre in pixels of the upright frame.
        center: [f64; 2] = [64.0, 64.0],
        /// Radius in pixels.
        radius: f64 = 14.0; "checks::positive",
        /// Display values of red, green and blue while it is on.
        color: [f64; 3] = [1.0; 3]; "checks::color",
        /// A textured surface lies around it, this far to each side, px; 0: the
        /// desk alone. The lamp lights it.
        surround_px: f64 = 0.0; "checks::film_px",
        /// What is on that surface.
        surround: Layer = Layer::default(),
        /// How long it stays on, ms.
        on_ms: f64 = 1900.0; "checks::real_span",
        /// From going off to going on again, ms.
        off_ms: f64 = 900.0; "checks::real_span",
        /// Blur the lens is set to while the light is off, ‰.
        start_permille: f64 = 28.0; "checks::permille",
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

table! {
    /// How defocus becomes blur.
    Optics {
        /// Blur of the card while the background is in focus, ‰.
        near_permille: f64 = 34.0; "checks::real_permille",
        /// Blur of the background while the card is in focus, ‰.
        far_permille: f64 = 30.0; "checks::real_permille",
        /// Breathing: the picture is larger by this share with the card in focus
        /// than with the background, and in between evenly; 0 is off.
        breathing: f64 = 0.0; "checks::breathing",
        /// Both from a thin lens instead.
        lens: Option<ThinLens> = None,
    }
}

/// Shape of a bright thing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Outline {
    /// A window.
    #[default]
    Window,
    /// A round lamp.
    Lamp,
}

table! {
    /// One bright thing that stands still; it is drawn over desk and bezel, under
    /// the screen.
    Bright {
        /// Shape.
        shape: Outline = Outline::Window,
        /// x0 y0 x1 y1 in pixels of the upright frame.
        area: [f64; 4] = [8.0, 8.0, 120.0, 160.0],
        /// Its luminance, linear, 1 = white of the film.
        light: f64 = 0.9; "checks::positive",
        /// Width of the dark frame around it, px.
        rim_px: f64 = 0.0; "checks::not_negative",
    }
}
