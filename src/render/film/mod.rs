//! The filming camera: where screen, desk, light and direct view lie in its
//! frame, how long it exposes, its noise and its tone curve.

mod direct;
mod exposure;
mod frames;
mod scenery;
mod sensor;
mod warp;

pub(crate) use exposure::Clock;
pub(crate) use frames::{FrameMaker, Picture};
pub(crate) use scenery::corners;
pub(crate) use sensor::Samples;
pub(crate) use warp::Warp;
