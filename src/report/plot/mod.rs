//! Plots as SVG, for a page.
//!
//! In: measured numbers and their names. Out: an `svg` element as text that
//! needs no script and no other file: a title and a description for those who
//! do not see it, shapes and words beside colours, colours by class so that the
//! page's light and dark suit it. Scales only; nothing is calculated here.
//! Drawn for a width of 360 px, so that words stay legible on a phone.

mod aligned;
mod blurs;
mod focus;
mod frame;
mod glance;
mod histogram;
mod intervals;
mod moment;
mod strip;

pub(super) use aligned::{Line, aligned};
pub(super) use blurs::blurs;
pub(super) use focus::{FocusLine, focus};
pub(super) use glance::{Row, glance, glance_axis};
pub(super) use histogram::histogram;
pub(super) use intervals::{Span, intervals};
pub(super) use moment::moment;
pub(super) use strip::{Dot, Lane, glyph, strip};
