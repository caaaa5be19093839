//! TOML that a person writes: rigs, sessions, policies, scenes.
//!
//! In: text and the keys it may hold. Out: a type that serde derives, or
//! [`Faults`]: all of them at once, each with file, line, key, what is wrong
//! and what to do.
//!
//! [`Sheet::read`] fills the type. What a value must be says its type, or one
//! of the readers in [`values`]. A value that is refused is told and left out,
//! and the rest is read on; so a field that can be left out has a default or is
//! an `Option`. What goes together the caller checks on what was read, and tells
//! it by [`Sheet::fault`].
//!
//! Source of the syntax: TOML 1.1 (toml.io), read by the `toml` crate.

mod fault;
mod keys;
mod node;
mod refusal;
mod sheet;
pub(crate) mod values;

pub(crate) use fault::{Fault, Faults};
pub(crate) use keys::Known;
pub(crate) use sheet::{Sheet, read_text};
