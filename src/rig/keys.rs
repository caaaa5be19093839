//! The keys of a rig file, of today and of before.

use crate::written::Known;

/// Every key a rig file may hold.
pub(super) const KEYS: &[&str] = &[
    "name",
    "capture.fps",
    "capture.segments.from_s",
    "capture.segments.fps",
    "capture.frame_size",
    "screen.corners",
    "screen.feed",
    "screen.refresh_hz",
    "screen.af_area",
    "screen.masks",
    "sharpness.measure",
    "sharpness.smoothing_px",
    "sharpness.low_cph",
    "sharpness.high_cph",
    "stimulus.kind",
    "stimulus.at",
    "stimulus.region",
    "trial.window_ms",
    "trial.hold_ms",
    "trial.settle_permille",
    "trial.hit_permille",
    "cue.name",
    "cue.kind",
    "cue.region",
    "cue.color",
    "cue.tolerance",
];

/// Keys of earlier rig files, and what stands in their place.
pub(super) const RETIRED: &[(&str, &str)] = &[
    (
        "trial.tolerance",
        "is no longer a setting: trials are judged by blur, not by sharpness; take it out, or write \
         `settle_permille` (how near to its end the blur must stay, ‰ of the screen's height; 4.0 \
         where nothing is written)",
    ),
    (
        "trial.hit_ratio",
        "is no longer a setting: trials are judged by blur, not by sharpness; take it out, or write \
         `hit_permille` (largest end blur of a hit, ‰ of the screen's height; 4.0 where nothing is \
         written)",
    ),
    (
        "trial.settle",
        "is no longer a setting: every trial is judged by blur; take it out (`settle_permille` says \
         how near to its end the blur must stay)",
    ),
    (
        "trial.blur_permille",
        "is now called `settle_permille`, which goes from 0.5 to 50; rename it",
    ),
];

pub(super) const KNOWN: Known = Known {
    keys: KEYS,
    lists: &["cue"],
    retired: RETIRED,
};
