//! What pictures are drawn with: colours, lines and letters. The letters are Hack
//! Regular, embedded (MIT and Bitstream Vera licences; the crate that carries it
//! lists them).

use std::io::Cursor;

use ab_glyph::{Font, FontRef, PxScale};
use image::{ImageFormat, Rgb, RgbImage};
use imageproc::drawing::{draw_line_segment_mut, draw_text_mut, text_size};

pub const PAPER: Rgb<u8> = Rgb([250, 250, 247]);
pub const INK: Rgb<u8> = Rgb([24, 37, 46]);
pub const SOFT_INK: Rgb<u8> = Rgb([84, 99, 109]);
pub const RULE: Rgb<u8> = Rgb([203, 211, 214]);
pub const BLUE: Rgb<u8> = Rgb([29, 90, 134]);
pub const AMBER: Rgb<u8> = Rgb([138, 90, 0]);
pub const BRICK: Rgb<u8> = Rgb([162, 59, 42]);

/// Why there is no picture.
#[derive(Debug, thiserror::Error)]
#[error("the picture cannot be drawn: {0}")]
pub struct DrawError(String);

/// A picture as PNG.
///
/// # Errors
/// If it cannot be encoded, which memory alone could cause.
pub fn png(picture: &RgbImage) -> Result<Vec<u8>, DrawError> {
    let mut bytes = Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, ImageFormat::Png)
        .map_err(|e| DrawError(e.to_string()))?;
    Ok(bytes.into_inner())
}

/// A level line at `y` of dashes and gaps of this length, px.
pub fn dashed(
    on: &mut RgbImage,
    (left, right): (f32, f32),
    y: f32,
    (dash, gap): (f32, f32),
    ink: Rgb<u8>,
) {
    let mut x = left;
    while x < right {
        draw_line_segment_mut(on, (x, y), ((x + dash).min(right), y), ink);
        x += dash + gap;
    }
}

/// A pen for one picture.
pub struct Pen {
    font: FontRef<'static>,
}

impl Pen {
    /// The embedded font.
    ///
    /// # Errors
    /// Never in practice: the font is part of the program.
    pub fn new() -> Result<Self, DrawError> {
        let font = FontRef::try_from_slice(epaint_default_fonts::HACK_REGULAR);
        let font = font.map_err(|e| DrawError(e.to_string()))?;
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
        // The font is monospaced; many letters, so that a fraction of a pixel
        // counts, and one letter's room is left at the end.
        let letter = (self.width(size, &"M".repeat(100)) as f32 / 100.0).max(1.0);
        let columns = (width as f32 / letter) as usize;
        let columns = columns.saturating_sub(1).max(8);
        textwrap::wrap(text, columns)
            .into_iter()
            .map(std::borrow::Cow::into_owned)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_it_may_be() {
        let pen = Pen::new().unwrap();
        let text = "in focus 933 ± 200 ms after onset and still so at the end ".repeat(6);
        for size in [13.0, 14.0, 15.0, 17.0, 18.0, 30.0] {
            for width in [300, 1040, 1041] {
                let lines = pen.lines(size, width, &text);
                assert!(lines.len() > 1);
                for line in lines {
                    assert!(pen.width(size, &line) <= width, "{size} {width} {line}");
                }
            }
        }
    }
}
