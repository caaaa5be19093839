//! The filming camera: where screen, desk, light and direct view lie in its
//! frame, how long it exposes, its noise and its tone curve.

mod direct;
mod exposure;
mod frames;
mod props;
mod rough;
mod scenery;
mod drift;
mod sensor;
mod tint;
mod warp;
mod waves;

pub(crate) use drift::LiveGain;
pub(crate) use exposure::Clock;
pub(crate) use frames::{FrameMaker, Picture, World};

pub(crate) use scenery::corners;
pub(crate) use sensor::Samples;
pub(crate) use tint::{Frame, Tint};
pub(crate) use warp::Warp;

