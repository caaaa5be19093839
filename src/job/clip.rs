//! One clip from frames to observed trials.

use super::cues::{self, CueTimes};
use super::evidence::{Shot, shots};
use super::gauge::{Film, Gauge};
use super::hygiene;
use super::moire;
use super::segments;
use super::steady::Footing;
use super::stimuli::stimuli;
use super::subject::{Subjects, Widths, sharpest, subjects};
use crate::clip::{ClipError, ClipIndex, DecodeReport, decode};
use crate::geometry::{Quad, UprightPx};
use crate::rig::Rig;
use crate::screen::refresh;
use crate::store::schema;
use crate::trial::{Curve, Observed, Settings, SwingError, observe};
use crate::units::TimeScale;

/// A clip that opened, with all it needs to be timed.
pub struct Ready {
    /// Headers and stamps.
    pub index: ClipIndex,
    /// Stored time to true time.
    pub scale: TimeScale,
    /// Relative uncertainty of that scale.
    pub rate_u: f64,
    /// Where everything lies.
    pub gauge: Gauge,
    /// The screen's corners, where they were looked for and found.
    pub found: Option<Quad<UprightPx>>,
}

/// What a clip showed.
pub struct Watched {
    /// Trials in order.
    pub trials: Vec<Observed>,
    /// The onset was seen directly: world time, not the screen's.
    pub direct_onset: bool,
    /// The screen's corners, where they were looked for and found.
    pub found: Option<Quad<UprightPx>>,
    /// Frames used.
    pub frames: u64,
    /// Length as shot, seconds.
    pub duration_s: f64,
    /// Refresh found or stated, per second.
    pub refresh_hz: Option<f64>,
    /// What was found that is not focus.
    pub hygiene: Option<schema::hygiene::Hygiene>,
    /// In plain words.
    pub warnings: Vec<String>,
    /// How still the filming camera stood.
    pub footing: Footing,
    /// The curve, for a reference clip.
    pub curve: Curve,
    /// What blur does to each side's subject.
    pub subjects: Subjects,
    /// What the screen's own lattice added, taken off the curve.
    pub lattice: Option<f64>,
    /// When the rig's cues were on.
    pub cues: CueTimes,
    /// Pictures of the trials' moments, per trial.
    pub shots: Vec<Vec<Shot>>,
}

/// Why a clip could not be watched.
#[derive(Debug, thiserror::Error)]
pub enum WatchError {
    /// It cannot be decoded.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// Temporary pictures cannot be written.
    #[error("temporary files cannot be written: {0}; free some space where temporary files go")]
    Io(#[from] std::io::Error),
    /// Temporary pictures cannot be read back.
    #[error(transparent)]
    Swing(#[from] SwingError),
    /// Trials start by a tone, and there is none to be had.
    #[error(
        "{file}: trials start by a tone, but {why}; film with sound, or start trials by a light"
    )]
    NoTone {
        /// The clip.
        file: String,
        /// Why not.
        why: &'static str,
    },
    /// Not a single frame could be used.
    #[error("{file}: no frame could be decoded; copy the clip anew from the filming camera")]
    NoFrames {
        /// The clip.
        file: String,
    },
}

/// Decodes a clip, two stretches at a time, and gathers what its frames say.
///
/// # Errors
/// [`WatchError`].
pub fn film(
    ready: &Ready,
    workers: usize,
    progress: impl Fn(u64) + Sync,
) -> Result<(Film, DecodeReport), WatchError> {
    let mut whole = Film::new(&ready.gauge).with_room(ready.index.stamps.len());
    let mut failed = None;
    let report = decode(
        &ready.index,
        workers,
        |_| ready.gauge.sink(),
        |part| {
            if let Err(e) = part.and_then(|p| whole.append(p)) {
                failed.get_or_insert(e);
            }
        },
        progress,
    )?;
    match failed {
        Some(e) => Err(e.into()),
        None if whole.times.is_empty() => Err(WatchError::NoFrames {
            file: ready.index.path.display().to_string(),
        }),
        None => Ok((whole, report)),
    }
}

/// Finds and observes the trials of a filmed clip.
///
/// # Errors
/// [`WatchError`].
pub fn watch(
    rig: &Rig,
    ready: &Ready,
    settings: &Settings,
    mut film: Film,
    report: DecodeReport,
) -> Result<Watched, WatchError> {
    let times: Vec<f64> = film.times.iter().map(|t| ready.scale.shot(*t).0).collect();
    let footing = Footing::of(ready.gauge.untracked(), &mut film, &times);
    let mut warnings = ready.index.warnings.clone();
    warnings.extend(report.warnings);
    let places = ready.gauge.places();
    let mut light = hygiene::SteadyLight::of(&times, &mut film, places)?;
    let (whole, change) = segments::rhythm_frames(&ready.scale, &times, &film);
    let stated = rig.screen.refresh_hz.map(|h| h.period_s());
    let mut measured = refresh::measure(&whole, &change);
    let beaten = |m: &refresh::Updates, s: f64| light.is_strong() && !whole_fraction(m.period_s, s);
    if let (Some(m), Some(s)) = (measured, stated)
        && beaten(&m, s)
    {
        measured = refresh::near(&whole, &change, 1.0 / s);
    }
    let rhythm = match (measured, stated) {
        (Some(m), _) => Some((m.period_s, m.phase_s)),
        (None, Some(period)) => Some((period, 0.0)),
        (None, None) => None,
    };
    if let (Some(m), Some(s)) = (measured, stated) {
        disagreement(m.period_s, s, &mut warnings);
    }
    light.share_updates(&mut film, places, Curve::updates(&times, rhythm).as_deref())?;
    let mut curve = Curve::new(&times, &film.readings, rhythm);
    footing.thin(&mut curve);
    let settings = &Settings {
        rate_u: ready.rate_u,
        ..*settings
    };
    hygiene::even_direct(&mut film, curve.frame_s)?;
    let heard = cues::listen(rig, ready)?;
    let seen = (&times[..], &footing, &heard);
    let (mut swings, direct_onset) = stimuli(rig, &curve, seen, &mut film, settings)?;
    warnings.extend(segments::widen(
        &ready.scale,
        curve.frame_s,
        &mut swings.stimuli,
    ));
    if swings.side_clarity < 0.5 && swings.stimuli.len() > 1 {
        warnings.push(format!(
            "near and far could hardly be told apart (clarity {:.2} of 1); look at the first \
             trials, and give target and background different, plain-to-see textures",
            swings.side_clarity
        ));
    }
    let found = hygiene::clean_trials(
        rig,
        &curve,
        &swings.stimuli,
        settings,
        &mut film,
        places,
        &light,
    )?;
    let mut curve = found.curve.unwrap_or(curve);
    footing.thin(&mut curve);
    let sharp = sharpest(&ready.gauge, &mut film, &curve, &swings.stimuli)?;
    let moire = moire::look(&sharp);
    if let Some(m) = &moire {
        m.take_off(&mut curve);
    }
    let subjects = subjects(&ready.gauge, sharp, moire.as_ref(), settings.hit_ratio);
    let widths = Widths::new(rig.trial.settle, settings.tolerance, &subjects);
    if let Some(text) = widths.missing(&swings.stimuli) {
        warnings.push(text);
    }
    let mut trials = observe_all(&curve, &swings.stimuli, settings, &widths);
    warnings.extend(footing.judge(&mut trials, &curve, settings));
    let jumped = hygiene::mark(&mut trials, &found.found, &curve, &film.keys);
    warnings.extend(hygiene::jumped_words(&jumped));
    if let Some(text) = light.hides(&curve) {
        trials.iter_mut().for_each(|t| t.disturbed = true);
        warnings.push(text);
    }
    let hygiene = hygiene::record(
        &light,
        &found.found,
        moire.as_ref(),
        ready.scale.rate().fps(),
        &times,
    );
    warnings.extend(hygiene.iter().flat_map(hygiene::warnings));
    let cues = CueTimes::of(
        rig,
        ready.gauge.cues(),
        &film.cues,
        heard,
        (&times, &footing),
        &mut warnings,
    );
    let refresh_hz = stated.or(measured.map(|m| m.period_s)).map(|p| 1.0 / p);
    Ok(Watched {
        direct_onset,
        found: ready.found,
        frames: times.len() as u64,
        duration_s: times.last().copied().unwrap_or(0.0) + curve.frame_s,
        refresh_hz,
        hygiene,
        warnings,
        footing,
        shots: shots(ready.gauge.eye(), &mut film, &times, &curve, &trials)?,
        trials,
        curve,
        subjects,
        lattice: moire.and_then(|m| m.level),
        cues,
    })
}

fn disagreement(measured_s: f64, stated_s: f64, warnings: &mut Vec<String>) {
    if !whole_fraction(measured_s, stated_s) {
        warnings.push(format!(
            "the screen was seen to change {:.2} times a second, but `screen.refresh_hz` says {}; \
             what was seen is used: correct the rig",
            1.0 / measured_s,
            1.0 / stated_s
        ));
    }
}

/// Whether a period is the stated one or a whole multiple of it: a live view
/// slower than the screen shows as a whole fraction of its rate.
fn whole_fraction(measured_s: f64, stated_s: f64) -> bool {
    let times = measured_s / stated_s;
    (times - times.round()).abs() < 0.03 * times && times.round() >= 1.0
}

fn observe_all(
    curve: &Curve,
    stimuli: &[crate::trial::Stimulus],
    settings: &Settings,
    widths: &Widths<'_>,
) -> Vec<Observed> {
    stimuli
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let next = stimuli.get(i + 1).map(|n| n.move_s.unwrap_or(n.onset_s));
            observe(curve, *s, next, settings, widths.of(s.side))
        })
        .collect()
}

/// The screen as the timing file describes it.
#[must_use]
pub fn screen_record(rig: &Rig, watched: Option<&Watched>) -> schema::Screen {
    let corners = rig.screen.corners.or(watched.and_then(|w| w.found));
    schema::Screen {
        corners: corners.map(|q| q.corners.map(|c| [c.x, c.y])),
        refresh_hz: watched.and_then(|w| w.refresh_hz),
        live_view_hz: None,
    }
}
