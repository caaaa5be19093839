//! A scene as written: every key has a sensible default, unknown keys and
//! values out of range are errors that name file, line and key.
//!
//! Lengths on the screen are fractions of its width and height (x right, y
//! down), blur is the disc's diameter in ‰ of the screen's height, spans are
//! milliseconds unless a key ends in `_s`.

mod behaviour;
mod bright;
mod checks;
mod film;
mod layers;
mod light;
mod overlay;
mod read;
mod screen;
mod sound;
mod stack;
mod stage;
mod upset;

pub use behaviour::{Kit, Lens, Outcome, Spread, Trial};
pub(crate) use bright::{Bright, Outline};
pub use film::{Container, Film, Framing, Stored};
pub use layers::{Layer, Target, Texture};
pub(crate) use light::{Flicker, Pwm};
pub(crate) use overlay::{Overlay, Shape, Since};
pub use screen::{LiveView, Screen};
pub(crate) use sound::{Beep, Sound};
pub use stack::{Shot, Stack};
pub use stage::{Light, Motion, Optics, Profile, Side, ThinLens};
pub(crate) use upset::{Bump, Drift, Glare, Grid, Refocus};

use serde::Deserialize;

/// What starts a trial.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Stimulus {
    /// The target swings in and out.
    #[default]
    Swing,
    /// A trigger light goes on.
    Light,
    /// A tone starts.
    Tone,
}

/// Which moment of a swing is the onset.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum At {
    /// The target has come to rest.
    #[default]
    Rest,
    /// The target covers, or has uncovered, the autofocus area.
    Cover,
}

/// A whole scene.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scene {
    /// Where all chance comes from.
    pub seed: u64,
    /// Where the look of card, background and desk comes from; else `seed`.
    /// Clips of one rig share it.
    pub look_seed: Option<u64>,
    /// What starts a trial.
    pub stimulus: Stimulus,
    /// Which moment of a swing is the onset.
    pub at: At,
    /// Length of a trial after onset, ms.
    #[serde(deserialize_with = "checks::window")]
    pub window_ms: f64,
    /// How long a state must last to count, ms.
    #[serde(deserialize_with = "checks::not_negative")]
    pub hold_ms: f64,
    /// δ, ‰ of the screen's height: blur this near to its end is settled.
    #[serde(deserialize_with = "checks::limit_permille")]
    pub settle_permille: f64,
    /// Largest end blur of a hit, ‰; not below `settle_permille`.
    #[serde(deserialize_with = "checks::limit_permille")]
    pub hit_permille: f64,
    /// The near subject: a card that swings in.
    pub near: Target,
    /// What is behind it.
    pub far: Layer,
    /// Photographs instead of card, background and blur.
    pub stack: Stack,
    /// The lamp that lights card, background and desk.
    pub lamp: Flicker,
    /// How the target moves and when.
    pub motion: Motion,
    /// The trigger light.
    pub light: Light,
    /// How defocus becomes blur.
    pub optics: Optics,
    /// How the lens behaves where a trial does not say otherwise.
    pub lens: Lens,
    /// The trials one by one.
    #[serde(rename = "trial")]
    pub trials: Vec<Trial>,
    /// Or: trials drawn from a kit's habits.
    pub kit: Option<Kit>,
    /// The camera's live view.
    pub live_view: LiveView,
    /// The camera's rear screen as the film sees it.
    pub screen: Screen,
    /// What the camera draws over its live view.
    #[serde(rename = "overlay")]
    pub overlays: Vec<Overlay>,
    /// Bright things beside the screen.
    #[serde(rename = "bright")]
    pub brights: Vec<Bright>,
    /// What the camera sounds.
    #[serde(rename = "beep")]
    pub beeps: Vec<Beep>,
    /// The sound track.
    pub sound: Sound,
    /// A lamp mirrored in the screen.
    pub glare: Glare,
    /// The filming camera.
    pub film: Film,
    /// The file.
    pub container: Container,
    /// Where the scene was read, for messages.
    #[serde(skip)]
    pub origin: Origin,
}

impl Scene {
    /// The seed of everything that looks the same in all clips of a rig.
    pub(crate) fn look(&self) -> u64 {
        self.look_seed.unwrap_or(self.seed)
    }
}

/// Where a scene was read, for messages.
#[derive(Clone, Debug, Default)]
pub struct Origin {
    /// The scene file.
    pub file: String,
    /// Line of `near.image`.
    pub near_image: Option<usize>,
    /// Line of `far.image`.
    pub far_image: Option<usize>,
    /// Line of `stack`.
    pub stack: Option<usize>,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            seed: 1,
            look_seed: None,
            stimulus: Stimulus::Swing,
            at: At::Rest,
            window_ms: 1500.0,
            hold_ms: 200.0,
            settle_permille: 2.0,
            hit_permille: 4.0,
            near: Target::default(),
            far: Layer::default(),
            stack: Stack::default(),
            lamp: Flicker::default(),
            motion: Motion::default(),
            light: Light::default(),
            optics: Optics::default(),
            lens: Lens::default(),
            trials: Vec::new(),
            kit: None,
            live_view: LiveView::default(),
            screen: Screen::default(),
            overlays: Vec::new(),
            beeps: Vec::new(),
            sound: Sound::default(),
            brights: Vec::new(),
            glare: Glare::default(),
            film: Film::default(),
            container: Container::default(),
            origin: Origin::default(),
        }
    }
}

#[cfg(test)]
mod tests;
