//! Disturbances of one clip: who looks for them when, and how they are told.

use std::io;

use super::gauge::Film;
use super::moire::Moire;
use super::signals::Signals;
use crate::rig::{Rig, Stimulus as RigStimulus, SwingAt};
use crate::screen::even::{LOOKS_LIKE_MOTION, even_light, unsteady};
use crate::sharpness::clean::mains::{Clock, check};
use crate::sharpness::clean::{Flicker, find_flicker, steady};
use crate::sharpness::{Places, Reading};
use crate::store::schema::hygiene as record;
use crate::store::schema::hygiene::Hygiene;
use crate::trial::clean::{Found, Frames, clean, enters_by_jump};
use crate::trial::{Curve, Observed, Settings, Stimulus};

/// Steps at key frames up to this are evened out and recorded without a word.
const PLAIN_STEP: f64 = 0.1;

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

/// The curve without what disturbs single trials, where anything does.
pub struct Cleaned {
    /// Another curve, where one was made.
    pub curve: Option<Curve>,
    /// What was found.
    pub found: Found,
}

/// Looks at the trials of a clip.
///
/// # Errors
/// When the tiles cannot be read back.
pub fn clean_trials(
    rig: &Rig,
    curve: &Curve,
    stimuli: &[Stimulus],
    settings: &Settings,
    signals: &mut Signals,
) -> io::Result<Cleaned> {
    // A free pendulum goes on moving after its onset.
    let moves_on = matches!(
        rig.stimulus,
        RigStimulus::Swing {
            at: SwingAt::Cover,
            ..
        }
    );
    let mut frames = Frames {
        readings: &signals.readings,
        reel: &mut signals.tiles,
        places: &signals.places,
        keys: &signals.facts.keys,
        flicker: signals.facts.flicker.as_ref(),
    };
    let (curve, found) = clean(curve, stimuli, settings, !moves_on, &mut frames)?;
    Ok(Cleaned { curve, found })
}

/// What stands in the timing file; `None` where nothing was found.
pub fn record(
    light: Option<&Flicker>,
    found: &Found,
    moire: Option<&Moire>,
    fps: f64,
    times: &[f64],
) -> Option<Hygiene> {
    let span = times.last().copied().unwrap_or(0.0);
    let mut out = Hygiene {
        flicker: light.map(|f| flicker(f, fps, span)),
        moire: moire.map(Moire::record),
        ..Hygiene::default()
    };
    if found.left_out > 0.0 || found.drawn_over {
        out.overlay = Some(record::Overlay {
            left_out: round(found.left_out),
            changes_s: found.changes_s.iter().map(|t| round(*t)).collect(),
            drawn_over: found.drawn_over,
        });
    }
    if !found.unsteady.is_empty() {
        let most =
            |f: fn(&(usize, f64, f64)) -> f64| found.unsteady.iter().map(f).fold(0.0, f64::max);
        out.exposure = Some(record::Exposure {
            largest: round(most(|u| u.1)),
            uneven: round(most(|u| u.2)),
            power: found.power.map(round),
            trials: found.unsteady.iter().map(|u| number(u.0)).collect(),
        });
    }
    if !found.key_steps.is_empty() {
        let most = found.key_steps.iter().map(|s| (s.1 - 1.0).abs());
        out.key_frames = Some(record::KeyFrames {
            largest_step: round(most.fold(0.0, f64::max)),
            steps: u32::try_from(found.key_steps.len()).unwrap_or(u32::MAX),
            void_trials: void_by_keys(found).map(number).collect(),
        });
    }
    (out != Hygiene::default()).then_some(out)
}

fn number(trial: usize) -> u32 {
    u32::try_from(trial).unwrap_or(u32::MAX)
}

/// Trials in which a key frame brought up more than can be evened out.
fn void_by_keys(found: &Found) -> impl Iterator<Item = usize> {
    let mut trials: Vec<usize> = found
        .key_steps
        .iter()
        .filter(|s| (s.1 - 1.0).abs() > found.most_at_keys)
        .map(|s| s.0)
        .collect();
    trials.dedup();
    trials.into_iter()
}

/// Marks the trials that cannot be judged for what was found. Gives back those
/// whose sharpness jumped into its band at a key frame.
pub fn mark(trials: &mut [Observed], found: &Found, curve: &Curve, keys: &[usize]) -> Vec<usize> {
    for t in void_by_keys(found) {
        if let Some(o) = trials.get_mut(t) {
            o.disturbed = true;
        }
    }
    let mut jumped = Vec::new();
    for (t, o) in trials.iter_mut().enumerate() {
        let late = o.settle_s.filter(|s| *s > o.stimulus.onset_s);
        if late.is_some_and(|s| enters_by_jump(curve, keys, s)) {
            o.disturbed = true;
            jumped.push(t);
        }
    }
    jumped
}

/// In words: trials that came into focus by a key frame.
#[must_use]
pub fn jumped_words(trials: &[usize]) -> Option<String> {
    let list: Vec<String> = trials.iter().map(ToString::to_string).collect();
    (!list.is_empty()).then(|| {
        format!(
            "trials {}: the picture turned sharp at a key frame of the compression, so when it was \
             sharp on the screen cannot be told; film at a higher bit rate and copy the original \
             file",
            list.join(", ")
        )
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
    let mut out = Vec::new();
    if let Some(f) = &h.flicker {
        out.extend(flicker_words(f));
    }
    if let Some(o) = &h.overlay {
        out.push(if o.drawn_over {
            "graphics are drawn over most of the focus area and could not be left out; film again \
             with them turned off"
                .to_owned()
        } else {
            format!(
                "graphics over the focus area ({} changes seen): {:.0} % of the area is left out \
                 for the whole clip; turn them off, or name them in `screen.masks`",
                o.changes_s.len(),
                100.0 * o.left_out
            )
        });
    }
    if let Some(e) = &h.exposure {
        let what = if e.power.is_some() {
            "and was taken out as the clip itself told how"
        } else {
            "and was taken for pure exposure: the clip did not tell otherwise"
        };
        out.push(format!(
            "the brightness of the focus area changed by up to {:.0} % ({:.0} % in parts of it) \
             within {} trials, {what}; lock the exposure of both cameras and keep reflections off \
             the screen",
            100.0 * e.largest,
            100.0 * e.uneven,
            e.trials.len()
        ));
    }
    if let Some(m) = &h.moire {
        let what = if m.taken_off {
            "its part was taken off"
        } else {
            "or the subject's own pattern: with one subject in the clip they cannot be told apart, \
             and nothing was taken off"
        };
        out.push(format!(
            "a regular pattern makes up to {:.0} % of the sharpness: the screen's own pixels \
             (moire); {what}. Move the filming camera back a little, or to another distance",
            100.0 * m.share
        ));
    }
    let plain = |k: &&record::KeyFrames| k.largest_step > PLAIN_STEP || !k.void_trials.is_empty();
    if let Some(k) = h.key_frames.as_ref().filter(plain) {
        let void = match k.void_trials.len() {
            0 => String::new(),
            n => format!("; {n} trials cannot be told for it"),
        };
        out.push(format!(
            "the compression repaints the picture at its key frames: the sharpness steps by up to \
             {:.0} % at {} of them while nothing moves. Steps were evened out{void}; film at a \
             higher bit rate and copy the original file",
            100.0 * k.largest_step,
            k.steps
        ));
    }
    out
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
         more; it was taken out. Film in daylight or with a longer exposure, and set the screen to \
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
