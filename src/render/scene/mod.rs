//! A scene as written: every key has a sensible default, unknown keys and
//! values out of range are errors that name file, line and key.
//!
//! Lengths on the screen are fractions of its width and height (x right, y
//! down), blur is the disc's diameter in ‰ of the screen's height, spans are
//! milliseconds unless a key ends in `_s`.

mod behaviour;
mod checks;
mod cues;
mod film;
mod layers;
mod read;
mod screen;
mod stage;
mod table;
mod upset;

pub use behaviour::{Kit, Lens, Outcome, Spread, Trial};
pub(crate) use cues::{Beep, Overlay, Shape, Since, Sound};
pub use film::{Container, Film, Framing, Stored};
pub use layers::{Layer, Shot, Stack, Target, Texture};
pub use screen::{LiveView, Screen};
pub(crate) use stage::{Bright, Outline};
pub use stage::{Light, Motion, Optics, Profile, Side, ThinLens};
pub(crate) use upset::{Bump, Drift, Flicker, Glare, Grid, Pwm, Refocus};

use serde::Deserialize;

use table::table;

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

table! {
    /// A whole scene.
    Scene {
        /// Where all chance comes from.
        seed: u64 = 1,
        /// Where the look of card, background and desk comes from; else `seed`.
        /// Clips of one rig share it.
        look_seed: Option<u64> = None,
        /// What starts a trial.
        stimulus: Stimulus = Stimulus::Swing,
        /// Which moment of a swing is the onset.
        at: At = At::Rest,
        /// Length of a trial after onset, ms.
        window_ms: f64 = 1500.0; "checks::window",
        /// How long a state must last to count, ms.
        hold_ms: f64 = 200.0; "checks::not_negative",
        /// δ, ‰ of the screen's height: blur this near to its end is settled.
        settle_permille: f64 = 2.0; "checks::limit_permille",
        /// Largest end blur of a hit, ‰; not below `settle_permille`.
        hit_permille: f64 = 4.0; "checks::limit_permille",
        /// The near subject: a card that swings in.
        near: Target = Target::default(),
        /// What is behind it.
        far: Layer = Layer::default(),
        /// Photographs instead of card, background and blur.
        stack: Stack = Stack::default(),
        /// The lamp that lights card, background and desk.
        lamp: Flicker = Flicker::default(),
        /// How the target moves and when.
        motion: Motion = Motion::default(),
        /// The trigger light.
        light: Light = Light::default(),
        /// How defocus becomes blur.
        optics: Optics = Optics::default(),
        /// How the lens behaves where a trial does not say otherwise.
        lens: Lens = Lens::default(),
        /// The trials one by one.
        #[serde(rename = "trial")]
        trials: Vec<Trial> = Vec::new(),
        /// Or: trials drawn from a kit's habits.
        kit: Option<Kit> = None,
        /// The camera's live view.
        live_view: LiveView = LiveView::default(),
        /// The camera's rear screen as the film sees it.
        screen: Screen = Screen::default(),
        /// What the camera draws over its live view.
        #[serde(rename = "overlay")]
        overlays: Vec<Overlay> = Vec::new(),
        /// Bright things beside the screen.
        #[serde(rename = "bright")]
        brights: Vec<Bright> = Vec::new(),
        /// What the camera sounds.
        #[serde(rename = "beep")]
        beeps: Vec<Beep> = Vec::new(),
        /// The sound track.
        sound: Sound = Sound::default(),
        /// A lamp mirrored in the screen.
        glare: Glare = Glare::default(),
        /// The filming camera.
        film: Film = Film::default(),
        /// The file.
        container: Container = Container::default(),
        /// Where the scene was read, for messages.
        #[serde(skip)]
        origin: Origin = Origin::default(),
    }
}

impl Scene {
    /// The seed of everything that looks the same in all clips of a rig.
    pub(crate) fn look(&self) -> u64 {
        self.look_seed.unwrap_or(self.seed)
    }
}

/// Where a scene was read, for messages.
#[derive(Clone, Debug, Default, PartialEq)]
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

#[cfg(test)]
mod tests;
