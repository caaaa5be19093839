//! `focuslag`: how fast and how surely a camera focuses, measured from a film
//! of its rear screen.
//!
//! One way through, left to right; a room knows only what stands to its left:
//!
//! ```text
//! rig ─┐
//!      ├─> clip ──> screen ──> sharpness ──> trial ──> stats ──> report
//! file ┘  frames    region     energy per    moments   rates,    text,
//!         & times   of pixels  frame         verdicts  quantiles JSON
//! ```
//!
//! `scout` looks at a clip and drafts the rig for it. `photo` judges the photographs
//! of a session by the same blur. `store` keeps what `trial` found, `render` makes
//! films whose truth is known (and shares no code with the analysis), `prove` times
//! such films and says how far off it was, `card` lays out the target to print,
//! `cli` is what a person types.

mod beside;
pub mod card;
pub mod cli;
pub mod clip;
pub mod geometry;
pub mod job;
pub mod limits;
pub mod names;
pub mod photo;
pub mod plan;
pub mod prove;
mod ranked;
pub mod render;
pub mod report;
pub mod rig;
pub mod scout;
pub mod screen;
pub mod sharpness;
pub mod stats;
pub mod store;
pub mod trial;
pub mod units;
mod written;
