//! Films timed through the command line, their timing files read by the
//! contract's keys alone, and held against the lens that made them.

// Every bench uses a part of it.
#![allow(dead_code)]

pub mod course;
pub mod found;
pub mod framing;
pub mod quantile;
pub mod rendered;
pub mod row;
pub mod table;
pub mod tool;
pub mod truth;
