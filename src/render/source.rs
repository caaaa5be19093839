//! Where live-view pictures come from.

use std::path::Path;

use super::RenderError;
use super::layer::{Canvas, Composer, Stage, State};
use super::scene::Scene;
use super::stack::Album;

/// Layers that are blurred, or photographs that were.
pub(crate) enum Source {
    Layers(Box<Composer>),
    /// With an empty card: nothing swings.
    Photographs(Album, Canvas),
}

impl Source {
    pub(crate) fn new(
        scene: &Scene,
        dir: &Path,
        stage: &Stage,
        album: Option<Album>,
    ) -> Result<Self, RenderError> {
        Ok(match album {
            None => Self::Layers(Box::new(Composer::new(scene, dir, stage)?)),
            Some(album) => {
                let card = Canvas {
                    w: 2,
                    h: 2,
                    values: vec![0.1; 4],
                };
                Self::Photographs(album, card)
            }
        })
    }

    /// Pictures of two states, linear luminance, row-major.
    pub(crate) fn pair(&self, states: [&State; 2]) -> [Vec<f32>; 2] {
        match self {
            Self::Layers(composer) => composer.pair(states),
            Self::Photographs(album, _) => {
                states.map(|s| album.picture(s.shot.unwrap_or_default()))
            }
        }
    }

    /// The card without blur, for the direct view.
    pub(crate) fn card(&self) -> &Canvas {
        match self {
            Self::Layers(composer) => &composer.card,
            Self::Photographs(_, card) => card,
        }
    }
}
