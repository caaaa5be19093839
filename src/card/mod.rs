//! A printable target card, true to scale.
//!
//! In: a [`CardSpec`] (side, paper, seed, finest detail in mm). Out: a [`Card`]
//! of marks in mm from the page's top left corner, and its bytes as `pdf` or
//! `svg`, the same for the same spec. No files are written here.
//!
//! The texture is a *dead leaves* picture: overlapping discs, number ∝
//! radius⁻³ (Lee, Mumford and Huang 2001, Int. J. Comput. Vision 41, 35; cited
//! from memory). It has something in every octave and every direction, and
//! nothing comes again. It is black and white alone: greys are printed as a
//! lattice of dots, and a lattice can alias. The spectrum of dead leaves has
//! the same shape whatever the tones, for it hangs on where two points lie on
//! one leaf.
//!
//! Failures: a detail out of range ([`CardError`]).

mod cover;
mod face;
mod leaves;
mod pdf;
mod ruler;
mod spec;
mod svg;

#[cfg(test)]
mod tests;

pub use self::svg::svg;
pub use leaves::{Disc, Leaves};
pub(crate) use pdf::pdf;
pub use spec::{CardError, CardSpec, FINEST_MM, Paper, Side};

/// A card, laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Card {
    /// What was asked.
    pub spec: CardSpec,
    /// The texture.
    pub leaves: Leaves,
    /// All else on the page, in the order of painting; nothing of it lies on
    /// the texture.
    pub marks: Vec<Mark>,
}

/// Black ink or bare paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Ink.
    Black,
    /// Paper.
    White,
}

/// An upright rectangle of the page, mm from its top left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Left.
    pub x: f64,
    /// Top.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Area {
    /// The area `by` mm larger on every side, smaller where negative.
    pub fn grown(self, by: f64) -> Self {
        Self {
            x: self.x - by,
            y: self.y - by,
            width: self.width + 2.0 * by,
            height: self.height + 2.0 * by,
        }
    }
}

/// Something plain on the page.
#[derive(Clone, Debug, PartialEq)]
pub enum Mark {
    /// A filled rectangle.
    Bar(Area, Tone),
    /// A line of ASCII text.
    Text {
        /// Left end of the baseline, mm.
        x: f64,
        /// Baseline, mm.
        y: f64,
        /// Size of the type, mm.
        size: f64,
        /// Bold, or plain.
        bold: bool,
        /// Colour.
        tone: Tone,
        /// The words.
        words: String,
    },
}

impl Card {
    /// Lays a card out.
    ///
    /// # Errors
    /// A finest detail out of range.
    pub fn new(spec: CardSpec) -> Result<Self, CardError> {
        spec.check()?;
        Ok(Self {
            spec,
            leaves: Leaves::grown(face::texture(spec.paper), &spec),
            marks: face::marks(&spec),
        })
    }
}
