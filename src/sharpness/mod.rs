//! What the picture inside the autofocus area holds: energy by spatial
//! frequency, from which blur is told, and one raw sharpness signal to look at.
//!
//! In: luma frames (0..=1) and the area on the screen. Out, per frame: a
//! [`BandReading`] (energy by band of frequency, ÷ mean light²) and a [`Reading`]
//! (mean luma, energy of the chosen contrast measure in luma², larger is
//! sharper, and the energy of the difference to the frame before). Out, once a
//! side's sharp energies are known: a [`Subject`], which turns an update's
//! energies into blur: the diameter of a uniform disc, ‰ of the screen's
//! height, with its uncertainty. Verdicts rest on blur alone; the contrast
//! measures are shown and exported.
//!
//! Measures: Pertuz, Puig & Garcia, "Analysis of focus measure operators for
//! shape-from-focus", Pattern Recognition 46(5), 2013. The disc: see [`disc`].
//!
//! Failures: an area too small for the measure ([`MeterError`]).

pub(crate) mod across;
mod band_meter;
mod classic;
pub(crate) mod clean;
pub(crate) mod disc;
mod gradient;
mod grid;
mod lanes;
mod meter;
mod operator;
mod spectrum;
mod subject;
mod tile_reel;

#[cfg(test)]
mod tests;

pub(crate) use band_meter::{BANDS, BandMeter, BandReading, EVEN_PX, Grain};
pub use grid::{COLUMNS, Places, ROWS, TILES, Tiles};
pub use meter::{Meter, MeterError, Reading};
pub(crate) use subject::{Blurred, Energies, Subject};
pub(crate) use tile_reel::TileReel;
