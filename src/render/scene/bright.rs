//! Bright things beside the screen: a lamp, a window.

use serde::Deserialize;

use super::checks;

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

/// One bright thing that stands still; it is drawn over desk and bezel, under
/// the screen.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Bright {
    /// Shape.
    pub shape: Outline,
    /// x0 y0 x1 y1 in pixels of the upright frame.
    pub area: [f64; 4],
    /// Its luminance, linear, 1 = white of the film.
    #[serde(deserialize_with = "checks::positive")]
    pub light: f64,
    /// Width of the dark frame around it, px.
    #[serde(deserialize_with = "checks::not_negative")]
    pub rim_px: f64,
}

impl Default for Bright {
    fn default() -> Self {
        Self {
            shape: Outline::Window,
            area: [8.0, 8.0, 120.0, 160.0],
            light: 0.9,
            rim_px: 0.0,
        }
    }
}
