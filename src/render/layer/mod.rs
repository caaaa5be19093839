//! The camera's picture of the scene: two flat layers, blurred by a uniform
//! disc in the frequency domain and put one over the other.

mod compose;
mod disc;
mod fft2;
mod surface;
mod texture;

pub(crate) use compose::{Composer, Stage, State};
pub(crate) use surface::{Canvas, noise};

#[cfg(test)]
mod tests;
