//! Disturbances of one clip: who looks for them when, and how they are told.

use std::io;

use super::gauge::Film;
use crate::screen::even::{LOOKS_LIKE_MOTION, even_light, unsteady};
use crate::sharpness::clean::mains::{Clock, check};
use crate::sharpness::clean::{Flicker, find_flicker, steady};
use crate::sharpness::{Places, Reading};
use crate::store::schema::hygiene as record;
use crate::store::schema::hygiene::Hygiene;

/// Flicker, where there is any, and the readings as filmed.
pub struct SteadyLight {
    found: Option<(Flicker, Vec<Reading>)>,
}

impl SteadyLight {
    /// Looks for flicker and takes it out of the film's readings.
    ///
    /// # Errors
    /// When the tiles cannot be read back.
    pub fn of(times: &[f64], film: &mut Film, places: &Places) -> io::Result<Self> {
        let found = find_flicker(times, &film.readings, &mut film.tiles, places)?;
        let Some(flicker) = found else {
            return Ok(Self { found: None });
        };
        let lit = steady(&film.readings, &mut film.tiles, places, &flicker, None)?;
        let raw = std::mem::replace(&mut film.readings, lit);
        Ok(Self {
            found: Some((flicker, raw)),
        })
    }

    /// Once the screen's updates are known: rows that go black in one frame of
    /// an update are taken from the others, in the small pictures too.
    ///
    /// # Errors
    /// When the tiles cannot be read back.
    pub fn share_updates(
        &mut self,
        film: &mut Film,
        places: &Places,
        updates: Option<&[usize]>,
    ) -> io::Result<()> {
        let Some((flicker, raw)) = &self.found else {
            return Ok(());
        };
        if updates.is_some() {
            film.readings = steady(raw, &mut film.tiles, places, flicker, updates)?;
        }
        // Bands that run through the small pictures look like motion.
        if self.is_strong() {
            film.screen = even_light(
                &mut film.screen,
                flicker.half,
                updates,
                flicker.goes_black(),
            )?;
        }
        Ok(())
    }

    /// Whether the light is so unsteady that it may hide the screen's rhythm.
    pub fn is_strong(&self) -> bool {
        let strong = |f: &Flicker| f.depth.max(f.bands) > LOOKS_LIKE_MOTION;
        self.flicker().is_some_and(strong)
    }

    /// The flicker found.
    pub fn flicker(&self) -> Option<&Flicker> {
        self.found.as_ref().map(|f| &f.0)
    }
}

/// Evens the light of the target's direct view, where a lamp flickers there: a
/// lamp may light the target and not the screen.
///
/// # Errors
/// When temporary files cannot be read or written.
pub fn even_direct(film: &mut Film, frame_s: f64) -> io::Result<()> {
    if let Some(direct) = &mut film.direct
        && let Some(half) = unsteady(direct, frame_s)?
    {
        *direct = even_light(direct, half, None, false)?;
    }
    Ok(())
}

/// What stands in the timing file; `None` where nothing was found.
pub fn record(light: Option<&Flicker>, fps: f64, times: &[f64]) -> Option<Hygiene> {
    let span = times.last().copied().unwrap_or(0.0);
    light.map(|f| Hygiene {
        flicker: Some(flicker(f, fps, span)),
    })
}

fn flicker(f: &Flicker, fps: f64, span_s: f64) -> record::Flicker {
    let clock = f
        .seen_hz
        .map_or(Clock::Silent, |hz| check(hz, fps, 0.5 / span_s.max(1.0)));
    let (lamp_hz, confirms, would_fit) = match clock {
        Clock::Agrees { lamp_hz } => (Some(lamp_hz), Some(true), Vec::new()),
        Clock::Disagrees { lamp_hz, rates } => (Some(lamp_hz), Some(false), rates),
        Clock::Silent => (None, None, Vec::new()),
    };
    record::Flicker {
        seen_hz: f.seen_hz.map(round),
        depth: round(f.depth),
        bands: round(f.bands),
        black: round(f.black),
        power: round(f.exponent),
        lamp_hz,
        confirms_capture_fps: confirms,
        would_fit_fps: would_fit,
    }
}

/// Four significant digits: more would be noise.
fn round(v: f64) -> f64 {
    format!("{v:.3e}").parse().unwrap_or(v)
}

/// What was found, in plain words: the figure, and what to do.
pub fn warnings(h: &Hygiene) -> Vec<String> {
    h.flicker.iter().flat_map(flicker_words).collect()
}

fn flicker_words(f: &record::Flicker) -> Vec<String> {
    let line = match (f.seen_hz, f.lamp_hz, f.confirms_capture_fps) {
        (Some(hz), Some(lamp), Some(true)) => {
            format!(", {hz:.1} times a second as filmed (a lamp's {lamp:.0})")
        }
        (Some(hz), _, _) => format!(", {hz:.1} times a second as filmed"),
        _ => String::new(),
    };
    let bands = if f.bands > 0.3 * f.depth {
        " in bands"
    } else {
        ""
    };
    let black = if f.black > 0.01 {
        ", some of them black"
    } else {
        ""
    };
    let mut out = vec![format!(
        "the light flickers{bands}{black}{line}: by {:.1} % (standard deviation), rows by {:.1} % \
         more; it is evened out of the raw signal and cancels from blur only as a whole. Film in daylight or with a longer exposure, and set the screen to \
         full brightness",
        100.0 * f.depth,
        100.0 * f.bands
    )];
    if let (Some(lamp), Some(false)) = (f.lamp_hz, f.confirms_capture_fps) {
        let rates: Vec<String> = f.would_fit_fps.iter().map(|r| format!("{r:.0}")).collect();
        out.push(format!(
            "the flicker seen at {:.1} Hz fits no lamp at the claimed capture rate, but a lamp's \
             {lamp:.0} Hz at {} frames per second: check `capture.fps`",
            f.seen_hz.unwrap_or(0.0),
            rates.join(" or ")
        ));
    }
    out
}
