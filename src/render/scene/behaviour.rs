//! What the lens does in a trial.

use serde::Deserialize;

use super::table::table;
use super::{checks, stage::Side};

/// How a trial ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// On the right plane.
    #[default]
    Hit,
    /// On a wrong plane, short of the right one.
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
    Relapse,
}

table! {
    /// How the lens behaves where a trial does not say otherwise.
    Lens {
        /// From onset to the first movement, ms; below 0 it begins before onset.
        delay_ms: f64 = 90.0; "checks::offset",
        /// Length of the drive to the plane, ms.
        drive_ms: f64 = 220.0; "checks::real_span",
        /// The last part of the way to the plane dies away with this time
        /// constant, ms; 0 is a lens that stops as briskly as it starts.
        landing_ms: f64 = 0.0; "checks::span",
        /// How far short of the plane the lens first rests, ‰ of blur; 0: nowhere.
        halt_permille: f64 = 0.0; "checks::permille",
        /// How long it rests there, ms.
        halt_ms: f64 = 150.0; "checks::real_span",
        /// How far the drive runs past the plane, ‰ of blur.
        overshoot_permille: f64 = 0.0; "checks::permille",
        /// What is left of the overshoot at each further swing, 0..=1.
        damping: f64 = 0.35; "checks::share",
        /// Length of one swing of overshoot or hunting, ms.
        swing_ms: f64 = 90.0; "checks::real_span",
        /// Turns of the hunting before the plane is found.
        hunts: u32 = 0; "checks::turns",
        /// How far the hunting runs to each side, ‰ of blur.
        hunt_permille: f64 = 9.0; "checks::permille",
        /// Blur left where the outcome is `soft` or `ran through`, ‰.
        residual_permille: f64 = 9.0; "checks::permille",
        /// From settling to leaving (`did not stay`, `relapse`), ms.
        // Longer than the three holds of 200 ms that make a stay.
        stay_ms: f64 = 700.0; "checks::real_span",
        /// How long a relapse lasts, ms.
        relapse_ms: f64 = 250.0; "checks::real_span",
        /// How far it leaves (`did not stay`, `relapse`), ‰ of blur.
        leave_permille: f64 = 14.0; "checks::permille",
    }
}

table! {
    /// One trial; what it leaves out is taken from `[lens]`.
    #[allow(missing_docs)] // the keys of `Lens`, one by one
    Trial {
        /// Side; else near and far by turns, near first. Not for light.
        side: Option<Side> = None,
        /// How it ends.
        outcome: Outcome = Outcome::default(),
        delay_ms: Option<f64> = None; "checks::offset",
        drive_ms: Option<f64> = None; "checks::real_span",
        landing_ms: Option<f64> = None; "checks::span",
        halt_permille: Option<f64> = None; "checks::permille",
        halt_ms: Option<f64> = None; "checks::real_span",
        overshoot_permille: Option<f64> = None; "checks::permille",
        swing_ms: Option<f64> = None; "checks::real_span",
        hunts: Option<u32> = None; "checks::turns",
        hunt_permille: Option<f64> = None; "checks::permille",
        residual_permille: Option<f64> = None; "checks::permille",
        stay_ms: Option<f64> = None; "checks::real_span",
        relapse_ms: Option<f64> = None; "checks::real_span",
        leave_permille: Option<f64> = None; "checks::permille",
        /// Rest after this trial's way, ms, instead of `motion.pause_ms`.
        pause_ms: Option<f64> = None; "checks::span",
    }
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

table! {
    /// Trials drawn from a kit's habits.
    Kit {
        /// How many trials.
        count: usize = 8,
        /// Onset to first movement, ms.
        delay_ms: Spread = Spread { median: 90.0, log_sd: 0.25 },
        /// Drive, ms.
        drive_ms: Spread = Spread { median: 200.0, log_sd: 0.35 },
        /// Drives towards the far side take this many times as long.
        far_factor: f64 = 1.0; "checks::positive",
        /// Share that ends on a wrong plane.
        soft: f64 = 0.0; "checks::share",
        /// Share that hunts on past the window.
        hunted_on: f64 = 0.0; "checks::share",
        /// Share in which the lens stays where it was.
        never_moved: f64 = 0.0; "checks::share",
        /// Share that leaves after settling.
        did_not_stay: f64 = 0.0; "checks::share",
        /// Share of the others that overshoots.
        overshoot: f64 = 0.3; "checks::share",
        /// Share of the others that hunts before it settles.
        hunt: f64 = 0.1; "checks::share",
    }
}
