//! The camera's live view and its rear screen.

use serde::Deserialize;

use super::checks;
use super::light::{Flicker, Pwm};
use super::upset::{Drift, Grid};

/// The camera's live view.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LiveView {
    /// Pictures per second; else one per refresh.
    #[serde(deserialize_with = "checks::rate")]
    pub fps: Option<f64>,
    /// From a picture's middle of exposure to the earliest refresh that can
    /// show it, ms.
    #[serde(deserialize_with = "checks::span")]
    pub lag_ms: f64,
    /// Exposure, ms.
    #[serde(deserialize_with = "checks::span")]
    pub exposure_ms: f64,
    /// How long before the refresh that shows it a picture is ready, ms; 0 is
    /// a screen in step with the sensor.
    #[serde(deserialize_with = "checks::span")]
    pub phase_ms: f64,
    /// Its exposure is not held.
    pub drift: Drift,
    /// Pixels of a picture; else about as many as the film resolves.
    #[serde(deserialize_with = "checks::picture_size")]
    pub size: Option<[usize; 2]>,
}

impl Default for LiveView {
    fn default() -> Self {
        Self {
            fps: None,
            lag_ms: 58.0,
            exposure_ms: 8.0,
            phase_ms: 0.0,
            drift: Drift::default(),
            size: None,
        }
    }
}

/// The camera's rear screen as the film sees it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Screen {
    /// Refreshes per second.
    #[serde(deserialize_with = "checks::rate")]
    pub refresh_hz: f64,
    /// First refresh after the first frame's stamp, ms; else drawn.
    #[serde(deserialize_with = "checks::span")]
    pub phase_ms: Option<f64>,
    /// Time a refresh takes from the top row to the bottom row, ms.
    #[serde(deserialize_with = "checks::span")]
    pub scan_out_ms: f64,
    /// TL TR BR BL in pixels of the upright frame; else a slightly turned
    /// 4:3 quadrilateral in its middle.
    pub corners: Option<[[f64; 2]; 4]>,
    /// Autofocus area: left top right bottom, fractions of the screen.
    #[serde(deserialize_with = "checks::area")]
    pub af_area: [f64; 4],
    /// Luminance of white on the screen, linear, 1 = white of the film.
    #[serde(deserialize_with = "checks::positive")]
    pub brightness: f64,
    /// Width of the dark frame around the screen, px.
    #[serde(deserialize_with = "checks::not_negative")]
    pub bezel_px: f64,
    /// Its light follows the mains.
    pub flicker: Flicker,
    /// Its backlight is switched; `brightness` is that while it is on.
    pub pwm: Pwm,
    /// Its own pixels.
    pub grid: Grid,
}

impl Default for Screen {
    fn default() -> Self {
        Self {
            refresh_hz: 60.0,
            phase_ms: None,
            scan_out_ms: 0.0,
            corners: None,
            af_area: [0.35, 0.30, 0.65, 0.70],
            brightness: 1.0,
            bezel_px: 22.0,
            flicker: Flicker::default(),
            pwm: Pwm::default(),
            grid: Grid::default(),
        }
    }
}
