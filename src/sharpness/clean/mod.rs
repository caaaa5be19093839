//! What in the sharpness signal is not focus: found, and taken out.
//!
//! In: readings and tiles of every frame, with times as shot. Out: readings as
//! they would be without the disturbance, and what was found. Nothing is
//! averaged over time but the light itself, so edges stay where they are.
//! A clip without disturbance keeps its readings to the last bit.
//!
//! A mains line in the film is a clock of its own: [`mains`] checks the
//! claimed capture rate by it.

mod bands;
mod flicker;
pub(crate) mod mains;
mod steady;
#[cfg(test)]
mod tests;

pub use flicker::{Flicker, find as find_flicker};
pub(crate) use steady::steady;
