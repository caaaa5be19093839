//! What the camera looks at: textured layers, or a focal stack (photographs of
//! a real subject at known lens positions).

use serde::Deserialize;

use super::checks;
use super::table::table;

/// Kind of procedural texture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Texture {
    /// Noise whose amplitude falls with spatial frequency (1/f).
    Noise,
    /// Overlapping discs of many sizes and tones ("dead leaves").
    #[default]
    Leaves,
    /// Short dark strokes in lines, like print.
    Strokes,
    /// Nothing to focus on.
    Flat,
}

table! {
    /// A flat textured layer that fills the view.
    Layer {
        /// What is on it, where no image is given.
        texture: Texture = Texture::Leaves,
        /// A PNG or JPEG instead, relative to the scene file.
        image: Option<String> = None,
        /// Mean luminance, linear, 0..=1.
        mean: f64 = 0.28; "checks::share",
        /// Standard deviation ÷ mean, linear.
        contrast: f64 = 0.35; "checks::not_negative",
        /// Size of the texture's details, 1 = as designed.
        scale: f64 = 1.0; "checks::scale",
    }

    /// The near subject: a card with edges.
    Target {
        /// What is on it, where no image is given.
        texture: Texture = Texture::Noise,
        /// A PNG or JPEG instead, relative to the scene file.
        image: Option<String> = None,
        /// Mean luminance, linear, 0..=1.
        mean: f64 = 0.42; "checks::share",
        /// Standard deviation ÷ mean, linear.
        contrast: f64 = 0.30; "checks::not_negative",
        /// Size of the texture's details, 1 = as designed.
        scale: f64 = 1.0; "checks::scale",
        /// Width and height as fractions of the screen's.
        size: [f64; 2] = [0.52, 0.66]; "checks::card",
        /// Its centre when it is in.
        rest: [f64; 2] = [0.5, 0.5]; "checks::place",
        /// Its centre when it is away.
        away: [f64; 2] = [1.0, 0.5]; "checks::place",
    }

    /// Photographs in place of card, background and blur. The lens's position
    /// chooses the photograph; lens keys in ‰ then count the stack's own units.
    Stack {
        /// Folder of the photographs, relative to the scene file; their positions
        /// stand in their names. Without it, and without `pictures`, off.
        folder: Option<String> = None,
        /// What stands right before the position in a name; the first number
        /// where it is empty.
        marker: String = String::new(),
        /// Or: photographs one by one, relative to the folder or the scene file.
        pictures: Vec<Shot> = Vec::new(),
        /// Position in best focus.
        focus: f64 = 0.0; "checks::position",
        /// Position the lens is set to while the light is off.
        start: f64 = 20.0; "checks::position",
        /// Film pixels of blur that a unit of position makes, as far as known: the
        /// truth's blur.
        px_per_unit: f64 = 1.0; "checks::positive",
    }
}

/// One photograph.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shot {
    /// A PNG or JPEG.
    pub file: String,
    /// Its position.
    #[serde(deserialize_with = "checks::position")]
    pub position: f64,
}

impl Target {
    /// The surface alone.
    pub(crate) fn layer(&self) -> Layer {
        Layer {
            texture: self.texture,
            image: self.image.clone(),
            mean: self.mean,
            contrast: self.contrast,
            scale: self.scale,
        }
    }
}

impl Stack {
    /// Whether the subject is a stack.
    pub fn on(&self) -> bool {
        self.folder.is_some() || !self.pictures.is_empty()
    }
}
