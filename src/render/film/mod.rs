//! The filming camera: where screen, desk, light and direct view lie in its
//! frame, how long it exposes, its noise and its tone curve.

mod blur;
mod direct;
mod drift;
mod exposure;
mod frames;
mod framing;
mod glare;
mod grid;
mod moved;
mod props;
mod rough;
mod sample;
mod scenery;
mod sensor;
mod shake;
mod tint;
mod warp;
mod waves;

pub(crate) use drift::LiveGain;
pub(crate) use exposure::Clock;
pub(crate) use frames::{FrameMaker, Picture, World};

pub(crate) use scenery::{corners, seen_corners};
pub(crate) use sensor::Samples;
pub(crate) use shake::Shake;
pub(crate) use tint::{Frame, Tint};
pub(crate) use warp::Warp;
