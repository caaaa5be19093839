//! What a mains line in the film says of the capture rate.
//!
//! Lamps on alternating current flicker at twice its frequency, 100 or 120
//! times a second. A film of `r` frames a second shows that at
//! `|f − k·r|`, so a line tells which rates the film can have.

/// Flicker of lamps on 50 and 60 Hz mains, per second.
const LAMPS: [f64; 2] = [100.0, 120.0];
/// Rates that are taken for one another, frames per second: of slow motion and
/// of the video it is stored as.
const USUAL: [f64; 6] = [30.0, 60.0, 120.0, 240.0, 480.0, 960.0];
/// Share by which mains, and the film's own clock, wander: grids keep within
/// ±1 % (EN 50160, 99.5 % of the year), usually far closer.
const WANDER: f64 = 0.004;

/// Whether a line agrees with the rate.
#[derive(Clone, Debug, PartialEq)]
pub enum Clock {
    /// A lamp of this frequency is seen just so at the claimed rate.
    Agrees {
        /// Flicker of the lamp, per second.
        lamp_hz: f64,
    },
    /// No lamp is, but one would be at another usual rate.
    Disagrees {
        /// Flicker of the lamp, per second.
        lamp_hz: f64,
        /// The rates at which it would be seen so, frames per second, rising.
        rates: Vec<f64>,
    },
    /// It is no line of a lamp, or could be anything.
    Silent,
}

/// Where a film of `fps` frames a second shows a line of `hz`: 0..=`fps`/2.
pub fn alias(hz: f64, fps: f64) -> f64 {
    (hz - (hz / fps).round() * fps).abs()
}

/// Checks a claimed rate by a line seen at `seen_hz` (as shot, by that rate)
/// with a resolution of `resolution_hz`.
pub fn check(seen_hz: f64, fps: f64, resolution_hz: f64) -> Clock {
    let near = |lamp: f64, rate: f64, seen: f64, resolution: f64| {
        (alias(lamp, rate) - seen).abs() <= WANDER * lamp + resolution
    };
    for lamp_hz in LAMPS {
        if near(lamp_hz, fps, seen_hz, resolution_hz) {
            return Clock::Agrees { lamp_hz };
        }
    }
    // Cycles per frame are what the film really tells.
    for lamp_hz in LAMPS {
        let rates: Vec<f64> = USUAL
            .into_iter()
            .filter(|rate| {
                let scale = rate / fps;
                let other = (scale - 1.0).abs() > 0.02;
                other && near(lamp_hz, *rate, seen_hz * scale, resolution_hz * scale)
            })
            .collect();
        if !rates.is_empty() {
            return Clock::Disagrees { lamp_hz, rates };
        }
    }
    Clock::Silent
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Nyquist's folding, by hand: 100 Hz at 120 fps is 20 Hz, 120 Hz at 240
    /// fps stays 120, 120 Hz at 120 fps stands still.
    #[test]
    fn lines_fold_at_half_the_rate() {
        for (hz, fps, seen) in [
            (100.0, 120.0, 20.0),
            (100.0, 240.0, 100.0),
            (120.0, 240.0, 120.0),
            (120.0, 120.0, 0.0),
            (100.0, 30.0, 10.0),
            (120.0, 25.0, 5.0),
        ] {
            assert!((alias(hz, fps) - seen).abs() < 1e-9, "{hz} at {fps}");
        }
    }

    #[test]
    fn a_lamp_confirms_the_claimed_rate() {
        for (lamp_hz, fps) in [
            (100.0, 240.0),
            (120.0, 250.0),
            (100.0, 120.0),
            (100.0, 59.94),
        ] {
            let seen = alias(lamp_hz, fps);
            assert_eq!(check(seen, fps, 0.05), Clock::Agrees { lamp_hz }, "{fps}");
        }
    }

    /// A film of 120 fps that is taken for one of 240 shows a 100 Hz lamp (20
    /// Hz in truth) at 40 Hz, where no lamp is seen at 240.
    #[test]
    fn a_wrong_claim_is_found_by_the_lamp() {
        let got = check(40.0, 240.0, 0.05);
        assert_eq!(
            got,
            Clock::Disagrees {
                lamp_hz: 100.0,
                rates: vec![120.0]
            }
        );
    }

    #[test]
    fn a_line_of_something_else_says_nothing() {
        assert_eq!(check(33.3, 240.0, 0.05), Clock::Silent);
    }
}
