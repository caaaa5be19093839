//! How sharp the picture inside the autofocus area is, frame by frame.
//!
//! In: luma frames (0..=1) and a [`crate::screen::Region`] of pixels. Out: one [`Reading`] a
//! frame: mean luma, the measure's energy (luma², larger is sharper), and the
//! energy of the difference to the frame before. Two frames that show the same
//! picture differ by noise alone, and the noise of two frames is independent,
//! so half of that is the energy of the noise.
//!
//! Every measure here is a quadratic form of the picture, so energies of
//! picture and noise add, and dividing by the mean squared cancels exposure.
//! Measures: Pertuz, Puig & Garcia, "Analysis of focus measure operators for
//! shape-from-focus", Pattern Recognition 46(5), 2013.
//!
//! Failures: an area too small for the measure ([`MeterError`]).

pub mod across;
mod blur;
mod classic;
pub mod clean;
mod defaults;
mod gradient;
mod grid;
mod lanes;
mod meter;
mod operator;
mod power;
mod spectrum;
mod still;
mod tile_reel;
mod update_tiles;

#[cfg(test)]
mod tests;

pub use blur::BlurScale;
pub use defaults::{MeasureDefaults, defaults};
pub use grid::{COLUMNS, Places, ROWS, TILES, Tiles};
pub use meter::{Meter, MeterError, Reading, Response};
pub use power::{Line, Power};
pub use still::{Averager, Still, Stills};
pub use tile_reel::TileReel;
pub use update_tiles::{TileCodes, UpdateTiles};
