//! Evidence gathered while a clip is timed.
//!
//! While decoding, every n-th frame leaves a raw crop of the focus area on the
//! disk ([`Kept`]); once the trials are observed, the crops nearest to their
//! moments become small pictures ([`shots`]); once the setup is judged, those
//! that its verdicts call for are packed ([`pack`]). Without crops (a clip judged
//! from kept signals) those kept beside the signals ([`stills`]) or by an earlier
//! run serve where their frames still lie at the moments; else there are none,
//! which is no fault.

mod keep;
mod pack;
mod shots;

pub(crate) use keep::{Eye, Kept};
pub(crate) use pack::{earlier, lacking, occupied, pack, stills};
pub use shots::{Shot, Sights, shots};
