//! Letters for pictures: Hack Regular, embedded (MIT and Bitstream Vera
//! licences; the crate that carries it lists them).

use ab_glyph::{Font, FontRef, InvalidFont, PxScale};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};

/// A pen for one picture.
pub struct Pen {
    font: FontRef<'static>,
}

impl Pen {
    /// The embedded font.
    ///
    /// # Errors
    /// Never in practice: the font is part of the program.
    pub fn new() -> Result<Self, InvalidFont> {
        let font = FontRef::try_from_slice(epaint_default_fonts::HACK_REGULAR)?;
        Ok(Self { font })
    }

    /// Letters the font has; a box stands for others.
    fn known(&self, text: &str) -> String {
        let has = |c: char| self.font.glyph_id(c).0 != 0;
        text.chars().map(|c| if has(c) { c } else { '□' }).collect()
    }

    /// Writes a line with its top left at (x, y), `size` px high.
    pub fn write(&self, on: &mut RgbImage, at: (i32, i32), size: f32, ink: Rgb<u8>, text: &str) {
        let scale = PxScale::from(size);
        draw_text_mut(on, ink, at.0, at.1, scale, &self.font, &self.known(text));
    }

    /// How wide a line is, px.
    pub fn width(&self, size: f32, text: &str) -> u32 {
        text_size(PxScale::from(size), &self.font, &self.known(text)).0
    }

    /// The text in lines of at most `width` px, broken between words.
    pub fn lines(&self, size: f32, width: u32, text: &str) -> Vec<String> {
        let letter = self.width(size, "MMMMMMMMMM").max(10) / 10;
        // The font is monospaced; one letter's room is left at the end.
        let columns = (width / letter.max(1)).saturating_sub(2).max(8) as usize;
        textwrap::wrap(text, columns)
            .into_iter()
            .map(std::borrow::Cow::into_owned)
            .collect()
    }
}
