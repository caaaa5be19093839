//! What upsets filming and the camera under test: exposure that drifts,
//! glare, a filming camera that moves or refocuses, the screen's own pixels,
//! light that is not steady.

use super::checks;
use super::table::table;

table! {
    /// Exposure that is not held: slow drift, and steps that follow the trials.
    Drift {
        /// Largest relative departure of a slow sinusoid; 0 is off.
        depth: f64 = 0.0; "checks::share",
        /// Its period, s.
        period_s: f64 = 5.0; "checks::period",
        /// Relative change of gain at the onset of every other trial (the card
        /// is in), taken back at the next; 0 is off.
        step: f64 = 0.0; "checks::step",
        /// Time constant of that change, ms.
        step_ms: f64 = 300.0; "checks::real_span",
    }

    /// A lamp mirrored in the screen's glass: light added to it.
    Glare {
        /// Luminance added, linear, 1 = white; 0 is off. It flickers with the lamp.
        level: f64 = 0.0; "checks::share",
        /// Where: left top right bottom, fractions of the screen.
        area: [f64; 4] = [0.0, 0.0, 1.0, 1.0]; "checks::area",
        /// Width of its soft edge, fraction of the screen.
        soft: f64 = 0.1; "checks::share",
        /// Its level varies by ± this share of it.
        drift: f64 = 0.0; "checks::share",
        /// It wanders to both sides by this fraction of the screen's width.
        wander: f64 = 0.0; "checks::share",
        /// Period of both, s.
        period_s: f64 = 4.0; "checks::period",
    }

    /// The filming camera loses its own focus for a while: everything in the
    /// frame is blurred, bezel included.
    Refocus {
        /// Disc diameter at its worst, film px; 0 is off.
        blur_px: f64 = 0.0; "checks::film_px",
        /// When it begins, ms after each trial's onset.
        at_ms: f64 = 300.0; "checks::offset",
        /// How long it lasts: a quarter out, half blurred, a quarter back, ms.
        for_ms: f64 = 400.0; "checks::real_span",
        /// Trials it happens in, counted from 0; none listed: in all.
        trials: Vec<usize> = Vec::new(),
    }

    /// A hand that holds the filming camera.
    Tremor {
        /// Root mean square of each direction's shift, film px; 0 is off.
        px: f64 = 0.0; "checks::film_px",
        /// About how often, Hz.
        hz: f64 = 6.0; "checks::light_rate",
        /// Root mean square of the roll about the frame's middle, mrad.
        roll_mrad: f64 = 0.0; "checks::film_px",
    }

    /// A knock at the start of a trial: the picture swings and dies down.
    Bump {
        /// Amplitude of the swing, film px (x right, y down); 0 is off.
        px: [f64; 2] = [0.0; 2]; "checks::shift",
        /// Its frequency, Hz.
        hz: f64 = 12.0; "checks::light_rate",
        /// Time constant of its dying down, ms.
        decay_ms: f64 = 120.0; "checks::real_span",
        /// Shift that stays, added at every bump, film px.
        stay_px: [f64; 2] = [0.0; 2]; "checks::shift",
        /// When, ms after each trial's onset.
        at_ms: f64 = 0.0; "checks::offset",
        /// Trials it happens in, counted from 0; none listed: in all.
        trials: Vec<usize> = Vec::new(),
    }

    /// The screen's own pixels.
    Grid {
        /// Columns and rows; 0 and 0 is off.
        pixels: [usize; 2] = [0, 0]; "checks::grid",
        /// Lit share of a pixel's width and height, 0..=1.
        fill: f64 = 0.7; "checks::share",
        /// Standard deviation of the filming camera's own blur of it, film px.
        film_blur_px: f64 = 0.3; "checks::film_px",
    }

    /// The light of a lamp, or of a screen, that follows the mains: a sinusoid
    /// about its mean.
    Flicker {
        /// Frequency of the light, Hz: twice that of the mains.
        hz: f64 = 100.0; "checks::light_rate",
        /// (Most − least) ÷ (most + least) of the light, 0..=1; 0 is off.
        depth: f64 = 0.0; "checks::share",
    }

    /// A backlight dimmed by switching it on and off.
    Pwm {
        /// How often it goes on, Hz.
        hz: f64 = 240.0; "checks::light_rate",
        /// Share of the time it is on, 0..=1; 1 is off (never switched).
        duty: f64 = 1.0; "checks::share",
        /// What is lost while it is off, 0..=1: 1 goes black.
        depth: f64 = 1.0; "checks::share",
    }
}
