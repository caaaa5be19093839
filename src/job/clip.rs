//! One clip from frames to observed trials.

use super::Events;
use super::black;
use super::cues::CueTimes;
use super::evidence::{Shot, shots};
use super::gauge::{Film, Gauge};
use super::hygiene;
use super::lag::LagSeen;
use super::moire;
use super::segments;
use super::signals::{Signals, condense};
use super::steady::Footing;
use super::stimuli::stimuli;
use super::subject::{Subjects, Widths, sharpest, subjects};
use crate::clip::{ClipError, ClipIndex, DecodeReport, decode_until};
use crate::geometry::{Point, Quad, UprightPx};
use crate::rig::Rig;
use crate::sharpness::Response;
use crate::store::schema;
use crate::trial::{Curve, Observed, Settings, SwingError, observe};
use crate::units::TimeScale;

/// How a clip's time is told.
#[derive(Clone, Debug)]
pub struct Clock {
    /// Stored time to true time.
    pub scale: TimeScale,
    /// Relative uncertainty of that scale.
    pub rate_u: f64,
}

/// A clip that opened, with all it needs to be timed.
pub struct Ready {
    /// Headers and stamps.
    pub index: ClipIndex,
    /// How its time is told.
    pub clock: Clock,
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
    /// New live-view pictures per second, where slower than the refresh.
    pub live_view_hz: Option<f64>,
    /// How late the screen shows the world.
    pub lag: LagSeen,
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
    stopped: impl Fn() -> bool + Sync,
) -> Result<(Film, DecodeReport), WatchError> {
    let mut whole = Film::new(&ready.gauge).with_room(ready.index.stamps.len());
    let mut failed = None;
    let report = decode_until(
        &ready.index,
        workers,
        |_| ready.gauge.sink(),
        |part| {
            if let Err(e) = part.and_then(|p| whole.append(p)) {
                failed.get_or_insert(e);
            }
        },
        progress,
        stopped,
    )?;
    match failed {
        Some(e) => Err(e.into()),
        None if whole.times.is_empty() => Err(WatchError::NoFrames {
            file: ready.index.path.display().to_string(),
        }),
        None => Ok((whole, report)),
    }
}

/// Decodes a clip and keeps what judging needs.
///
/// # Errors
/// [`WatchError`].
pub fn condense_film(
    rig: &Rig,
    ready: &Ready,
    workers: usize,
    events: &dyn Events,
) -> Result<Signals, WatchError> {
    let progress = |n| events.frames(n);
    let (film, report) = film(ready, workers, progress, || events.stopped())?;
    condense(rig, ready, film, report)
}

/// Least clarity with which trials are put to a side.
const LEAST_CLARITY: f64 = 0.5;

/// Finds and observes the trials of a clip.
///
/// # Errors
/// When temporary files cannot be read back.
pub fn watch(
    rig: &Rig,
    clock: &Clock,
    settings: &Settings,
    mut signals: Signals,
) -> Result<Watched, WatchError> {
    let s = &mut signals;
    let times = s.shot(&clock.scale);
    let mut warnings = s.facts.warnings.clone();
    let curve = s.curve(&times);
    let settings = &Settings {
        rate_u: clock.rate_u,
        ..*settings
    };
    let (mut swings, direct_onset) = stimuli(rig, &curve, &times, s, settings)?;
    warnings.extend(segments::widen(
        &clock.scale,
        curve.frame_s,
        &mut swings.stimuli,
    ));
    let mixed_up = swings.side_clarity < LEAST_CLARITY && swings.stimuli.len() > 1;
    if mixed_up {
        warnings.push(format!(
            "near and far could hardly be told apart (clarity {:.2} of 1), so the trials are void; \
             give target and background different, plain-to-see textures, and mask graphics that \
             move",
            swings.side_clarity
        ));
    }
    warnings.extend(s.facts.lag.warning.clone());
    let found = hygiene::clean_trials(rig, &curve, &swings.stimuli, settings, s)?;
    let mut curve = found.curve.unwrap_or(curve);
    s.facts.footing.thin(&mut curve);
    let response = Response::new(&rig.measure, 1000.0 * s.facts.px_per_permille);
    let sharp = sharpest(s, &response, &curve, &swings.stimuli);
    let moire = moire::look(&sharp);
    if let Some(m) = &moire {
        m.take_off(&mut curve);
    }
    let subjects = subjects(
        &response,
        s.facts.px_per_permille,
        sharp,
        moire.as_ref(),
        settings.hit_ratio,
    );
    let widths = Widths::new(rig.trial.settle, settings.tolerance, &subjects);
    if let Some(text) = widths.missing(&swings.stimuli) {
        warnings.push(text);
    }
    let footing = &s.facts.footing;
    let mut trials = observe_all(&curve, &swings.stimuli, settings, &widths);
    warnings.extend(footing.judge(&mut trials, &curve, settings));
    if mixed_up {
        trials.iter_mut().for_each(|t| t.unclear = true);
    }
    let jumped = hygiene::mark(&mut trials, &found.found, &curve, &s.facts.keys);
    warnings.extend(hygiene::jumped_words(&jumped));
    let flicker = s.facts.flicker.as_ref();
    let banded = flicker.and_then(|f| {
        let hidden = s.facts.hidden;
        black::hides(f, hidden, &curve, &swings.stimuli, settings.tolerance)
    });
    let shaded = black::shaded(&mut s.tiles, &s.places, &curve, &swings.stimuli)?;
    if let Some(text) = banded.or(shaded) {
        trials.iter_mut().for_each(|t| t.unclear = true);
        warnings.push(text);
    }
    let hygiene = hygiene::record(
        flicker,
        &found.found,
        moire.as_ref(),
        clock.scale.rate().fps(),
        &times,
    );
    warnings.extend(hygiene.iter().flat_map(hygiene::warnings));
    warnings.extend(s.facts.cue_warnings.iter().cloned());
    Ok(Watched {
        live_view_hz: s.facts.live_view_hz,
        lag: s.facts.lag.clone(),
        direct_onset,
        found: s.facts.found.map(quad),
        frames: times.len() as u64,
        duration_s: times.last().copied().unwrap_or(0.0) + curve.frame_s,
        refresh_hz: s.facts.refresh_hz,
        hygiene,
        warnings,
        shots: shots(s.sights.as_mut(), &times, &curve, &trials)?,
        trials,
        footing: signals.facts.footing,
        curve,
        subjects,
        lattice: moire.and_then(|m| m.level),
        cues: signals.facts.cues,
    })
}

/// Corners as they are kept.
fn quad(corners: [[f64; 2]; 4]) -> Quad<UprightPx> {
    Quad::new(corners.map(|[x, y]| Point::new(x, y)))
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
        live_view_hz: watched.and_then(|w| w.live_view_hz),
    }
}
