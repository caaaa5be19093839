//! What the camera looks at.

use serde::Deserialize;

use super::checks;

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

/// A flat textured layer that fills the view.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Layer {
    /// What is on it, where no image is given.
    pub texture: Texture,
    /// A PNG or JPEG instead, relative to the scene file.
    pub image: Option<String>,
    /// Mean luminance, linear, 0..=1.
    #[serde(deserialize_with = "checks::share")]
    pub mean: f64,
    /// Standard deviation ÷ mean, linear.
    #[serde(deserialize_with = "checks::not_negative")]
    pub contrast: f64,
    /// Size of the texture's details, 1 = as designed.
    #[serde(deserialize_with = "checks::scale")]
    pub scale: f64,
}

impl Default for Layer {
    fn default() -> Self {
        Self {
            texture: Texture::Leaves,
            image: None,
            mean: 0.28,
            contrast: 0.35,
            scale: 1.0,
        }
    }
}

/// The near subject: a card with edges.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Target {
    /// What is on it, where no image is given.
    pub texture: Texture,
    /// A PNG or JPEG instead, relative to the scene file.
    pub image: Option<String>,
    /// Mean luminance, linear, 0..=1.
    #[serde(deserialize_with = "checks::share")]
    pub mean: f64,
    /// Standard deviation ÷ mean, linear.
    #[serde(deserialize_with = "checks::not_negative")]
    pub contrast: f64,
    /// Size of the texture's details, 1 = as designed.
    #[serde(deserialize_with = "checks::scale")]
    pub scale: f64,
    /// Width and height as fractions of the screen's.
    #[serde(deserialize_with = "checks::card")]
    pub size: [f64; 2],
    /// Its centre when it is in.
    #[serde(deserialize_with = "checks::place")]
    pub rest: [f64; 2],
    /// Its centre when it is away.
    #[serde(deserialize_with = "checks::place")]
    pub away: [f64; 2],
}

impl Default for Target {
    fn default() -> Self {
        Self {
            texture: Texture::Noise,
            image: None,
            mean: 0.42,
            contrast: 0.30,
            scale: 1.0,
            size: [0.52, 0.66],
            rest: [0.5, 0.5],
            away: [1.0, 0.5],
        }
    }
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
