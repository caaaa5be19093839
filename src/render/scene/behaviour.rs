//! What the lens does in a trial.

use serde::Deserialize;

use super::{checks, stage::Side};

/// How a trial ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum Outcome {
    /// On the right plane.
    #[default]
    #[serde(rename = "hit")]
    Hit,
    /// On a wrong plane, short of the right one.
    #[serde(rename = "soft")]
    Soft,
    /// On a wrong plane beyond the right one: the lens runs through focus and
    /// stops blurred.
    #[serde(rename = "ran through")]
    RanThrough,
    /// Goes back and forth until the next trial.
    #[serde(rename = "hunted on")]
    HuntedOn,
    /// Stays where it was.
    #[serde(rename = "never moved")]
    NeverMoved,
    /// Settles, then leaves and goes back and forth until the next trial.
    #[serde(rename = "did not stay")]
    DidNotStay,
    /// Settles, leaves, comes back.
    #[serde(rename = "relapse")]
    Relapse,
}

/// How the lens behaves where a trial does not say otherwise.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Lens {
    /// From onset to the first movement, ms; below 0 it begins before onset.
    #[serde(deserialize_with = "checks::offset")]
    pub delay_ms: f64,
    /// Length of the drive to the plane, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub drive_ms: f64,
    /// The last part of the way to the plane dies away with this time
    /// constant, ms; 0 is a lens that stops as briskly as it starts.
    #[serde(deserialize_with = "checks::span")]
    pub landing_ms: f64,
    /// How far short of the plane the lens first rests, ‰ of blur; 0: nowhere.
    #[serde(deserialize_with = "checks::permille")]
    pub halt_permille: f64,
    /// How long it rests there, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub halt_ms: f64,
    /// How far the drive runs past the plane, ‰ of blur.
    #[serde(deserialize_with = "checks::permille")]
    pub overshoot_permille: f64,
    /// What is left of the overshoot at each further swing, 0..=1.
    #[serde(deserialize_with = "checks::share")]
    pub damping: f64,
    /// Length of one swing of overshoot or hunting, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub swing_ms: f64,
    /// Turns of the hunting before the plane is found.
    #[serde(deserialize_with = "checks::turns")]
    pub hunts: u32,
    /// How far the hunting runs to each side, ‰ of blur.
    #[serde(deserialize_with = "checks::permille")]
    pub hunt_permille: f64,
    /// Blur left where the outcome is `soft` or `ran through`, ‰.
    #[serde(deserialize_with = "checks::permille")]
    pub residual_permille: f64,
    /// From settling to leaving (`did not stay`, `relapse`), ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub stay_ms: f64,
    /// How long a relapse lasts, ms.
    #[serde(deserialize_with = "checks::real_span")]
    pub relapse_ms: f64,
    /// How far it leaves (`did not stay`, `relapse`), ‰ of blur.
    #[serde(deserialize_with = "checks::permille")]
    pub leave_permille: f64,
}

impl Default for Lens {
    fn default() -> Self {
        Self {
            delay_ms: 90.0,
            drive_ms: 220.0,
            landing_ms: 0.0,
            halt_permille: 0.0,
            halt_ms: 150.0,
            overshoot_permille: 0.0,
            damping: 0.35,
            swing_ms: 90.0,
            hunts: 0,
            hunt_permille: 9.0,
            residual_permille: 9.0,
            // Longer than the three holds of 200 ms that make a stay.
            stay_ms: 700.0,
            relapse_ms: 250.0,
            leave_permille: 14.0,
        }
    }
}

/// One trial; what it leaves out is taken from `[lens]`.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
#[allow(missing_docs)] // the keys of `Lens`, one by one
pub struct Trial {
    /// Side; else near and far by turns, near first. Not for light.
    pub side: Option<Side>,
    /// How it ends.
    pub outcome: Outcome,
    #[serde(deserialize_with = "checks::offset")]
    pub delay_ms: Option<f64>,
    #[serde(deserialize_with = "checks::real_span")]
    pub drive_ms: Option<f64>,
    #[serde(deserialize_with = "checks::span")]
    pub landing_ms: Option<f64>,
    #[serde(deserialize_with = "checks::permille")]
    pub halt_permille: Option<f64>,
    #[serde(deserialize_with = "checks::real_span")]
    pub halt_ms: Option<f64>,
    #[serde(deserialize_with = "checks::permille")]
    pub overshoot_permille: Option<f64>,
    #[serde(deserialize_with = "checks::real_span")]
    pub swing_ms: Option<f64>,
    #[serde(deserialize_with = "checks::turns")]
    pub hunts: Option<u32>,
    #[serde(deserialize_with = "checks::permille")]
    pub hunt_permille: Option<f64>,
    #[serde(deserialize_with = "checks::permille")]
    pub residual_permille: Option<f64>,
    #[serde(deserialize_with = "checks::real_span")]
    pub stay_ms: Option<f64>,
    #[serde(deserialize_with = "checks::real_span")]
    pub relapse_ms: Option<f64>,
    #[serde(deserialize_with = "checks::permille")]
    pub leave_permille: Option<f64>,
    /// Rest after this trial's way, ms, instead of `motion.pause_ms`.
    #[serde(deserialize_with = "checks::span")]
    pub pause_ms: Option<f64>,
}

impl Trial {
    /// The lens in this trial.
    pub fn lens(&self, base: &Lens) -> Lens {
        let or = |own: Option<f64>, base: f64| own.unwrap_or(base);
        Lens {
            delay_ms: or(self.delay_ms, base.delay_ms),
            drive_ms: or(self.drive_ms, base.drive_ms),
            landing_ms: or(self.landing_ms, base.landing_ms),
            halt_permille: or(self.halt_permille, base.halt_permille),
            halt_ms: or(self.halt_ms, base.halt_ms),
            overshoot_permille: or(self.overshoot_permille, base.overshoot_permille),
            damping: base.damping,
            swing_ms: or(self.swing_ms, base.swing_ms),
            hunts: self.hunts.unwrap_or(base.hunts),
            hunt_permille: or(self.hunt_permille, base.hunt_permille),
            residual_permille: or(self.residual_permille, base.residual_permille),
            stay_ms: or(self.stay_ms, base.stay_ms),
            relapse_ms: or(self.relapse_ms, base.relapse_ms),
            leave_permille: or(self.leave_permille, base.leave_permille),
        }
    }
}

/// A log-normal quantity: median, and standard deviation of its logarithm.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Half of the draws lie below it.
    #[serde(deserialize_with = "checks::positive")]
    pub median: f64,
    /// Standard deviation of the natural logarithm.
    #[serde(deserialize_with = "checks::not_negative")]
    pub log_sd: f64,
}

/// Trials drawn from a kit's habits.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Kit {
    /// How many trials.
    pub count: usize,
    /// Onset to first movement, ms.
    pub delay_ms: Spread,
    /// Drive, ms.
    pub drive_ms: Spread,
    /// Drives towards the far side take this many times as long.
    #[serde(deserialize_with = "checks::positive")]
    pub far_factor: f64,
    /// Share that ends on a wrong plane.
    #[serde(deserialize_with = "checks::share")]
    pub soft: f64,
    /// Share that hunts on past the window.
    #[serde(deserialize_with = "checks::share")]
    pub hunted_on: f64,
    /// Share in which the lens stays where it was.
    #[serde(deserialize_with = "checks::share")]
    pub never_moved: f64,
    /// Share that leaves after settling.
    #[serde(deserialize_with = "checks::share")]
    pub did_not_stay: f64,
    /// Share of the others that overshoots.
    #[serde(deserialize_with = "checks::share")]
    pub overshoot: f64,
    /// Share of the others that hunts before it settles.
    #[serde(deserialize_with = "checks::share")]
    pub hunt: f64,
}

impl Default for Kit {
    fn default() -> Self {
        Self {
            count: 8,
            delay_ms: Spread {
                median: 90.0,
                log_sd: 0.25,
            },
            drive_ms: Spread {
                median: 200.0,
                log_sd: 0.35,
            },
            far_factor: 1.0,
            soft: 0.0,
            hunted_on: 0.0,
            never_moved: 0.0,
            did_not_stay: 0.0,
            overshoot: 0.3,
            hunt: 0.1,
        }
    }
}
