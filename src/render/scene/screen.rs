//! The camera's live view and its rear screen.

use super::checks;
use super::table::table;
use super::upset::{Drift, Flicker, Grid, Pwm};

table! {
    /// The camera's live view.
    LiveView {
        /// Pictures per second; else one per refresh.
        fps: Option<f64> = None; "checks::rate",
        /// From a picture's middle of exposure to the earliest refresh that can
        /// show it, ms.
        lag_ms: f64 = 58.0; "checks::span",
        /// Exposure, ms.
        exposure_ms: f64 = 8.0; "checks::span",
        /// How long before the refresh that shows it a picture is ready, ms; 0 is
        /// a screen in step with the sensor.
        phase_ms: f64 = 0.0; "checks::span",
        /// Its exposure is not held.
        drift: Drift = Drift::default(),
        /// Pixels of a picture; else about as many as the film resolves.
        size: Option<[usize; 2]> = None; "checks::picture_size",
    }

    /// The camera's rear screen as the film sees it.
    Screen {
        /// Refreshes per second.
        refresh_hz: f64 = 60.0; "checks::rate",
        /// First refresh after the first frame's stamp, ms; else drawn.
        phase_ms: Option<f64> = None; "checks::span",
        /// Time a refresh takes from the top row to the bottom row, ms.
        scan_out_ms: f64 = 0.0; "checks::span",
        /// TL TR BR BL in pixels of the upright frame; else a slightly turned
        /// 4:3 quadrilateral in its middle.
        corners: Option<[[f64; 2]; 4]> = None,
        /// Autofocus area: left top right bottom, fractions of the screen.
        af_area: [f64; 4] = [0.35, 0.30, 0.65, 0.70]; "checks::area",
        /// Luminance of white on the screen, linear, 1 = white of the film.
        brightness: f64 = 1.0; "checks::positive",
        /// Width of the dark frame around the screen, px.
        bezel_px: f64 = 22.0; "checks::not_negative",
        /// Its light follows the mains.
        flicker: Flicker = Flicker::default(),
        /// Its backlight is switched; `brightness` is that while it is on.
        pwm: Pwm = Pwm::default(),
        /// Its own pixels.
        grid: Grid = Grid::default(),
    }
}
