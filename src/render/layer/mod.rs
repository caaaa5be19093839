//! The camera's picture of the scene: two flat layers, blurred by a uniform
//! disc in the frequency domain and put one over the other.

mod compose;
mod disc;
mod fft2;
mod paint;
mod surface;
mod texture;

pub(crate) use compose::{Composer, Stage, State};
pub(crate) use disc::DiscTable;
pub(crate) use fft2::{Fft2, frequency, good_size};
pub(crate) use paint::{Ink, Print};
pub(crate) use surface::{Canvas, drawn, noise, photograph};

#[cfg(test)]
mod tests;
