//! A focal stack: photographs of a real subject at known lens positions.

use serde::Deserialize;

use super::checks;

/// Photographs in place of card, background and blur. The lens's position
/// chooses the photograph; lens keys in ‰ then count the stack's own units.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Stack {
    /// Folder of the photographs, relative to the scene file; their positions
    /// stand in their names. Without it, and without `pictures`, off.
    pub folder: Option<String>,
    /// What stands right before the position in a name; the first number
    /// where it is empty.
    pub marker: String,
    /// Or: photographs one by one, relative to the folder or the scene file.
    pub pictures: Vec<Shot>,
    /// Position in best focus.
    #[serde(deserialize_with = "checks::position")]
    pub focus: f64,
    /// Position the lens is set to while the light is off.
    #[serde(deserialize_with = "checks::position")]
    pub start: f64,
    /// Film pixels of blur that a unit of position makes, as far as known: the
    /// truth's blur.
    #[serde(deserialize_with = "checks::positive")]
    pub px_per_unit: f64,
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

impl Default for Stack {
    fn default() -> Self {
        Self {
            folder: None,
            marker: String::new(),
            pictures: Vec::new(),
            focus: 0.0,
            start: 20.0,
            px_per_unit: 1.0,
        }
    }
}

impl Stack {
    /// Whether the subject is a stack.
    pub fn on(&self) -> bool {
        self.folder.is_some() || !self.pictures.is_empty()
    }
}
