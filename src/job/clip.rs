//! One clip from frames to observed trials.

use super::Events;
use super::gauge::{Film, Gauge};
use super::hygiene;
use super::signals::{Signals, condense, sides};
use super::steady::Footing;
use super::subject::{Subjects, Widths, subjects};
use crate::clip::{ClipError, ClipIndex, DecodeReport, decode_until};
use crate::rig::{Rig, Stimulus as RigStimulus, SwingAt};
use crate::screen::Reel;
use crate::store::schema;
use crate::trial::{
    Curve, Observed, Settings, SwingError, Swings, View, cover_stimuli, light_stimuli, observe,
    swing_stimuli, tell_sides,
};
use crate::units::TimeScale;

/// How a clip's time is told.
#[derive(Clone, Copy, Debug)]
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
}

/// What a clip showed.
pub struct Watched {
    /// Trials in order.
    pub trials: Vec<Observed>,
    /// The onset was seen directly: world time, not the screen's.
    pub direct_onset: bool,
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

/// Finds and observes the trials of a clip.
///
/// # Errors
/// When temporary files cannot be read back.
pub fn watch(
    rig: &Rig,
    clock: Clock,
    settings: &Settings,
    mut signals: Signals,
) -> Result<Watched, WatchError> {
    let s = &mut signals;
    let times = s.shot(clock.scale);
    let mut warnings = s.facts.warnings.clone();
    let curve = s.curve(&times);
    let settings = &Settings {
        rate_u: clock.rate_u,
        ..*settings
    };
    let (swings, direct_onset) = stimuli(rig, &curve, &times, s, settings)?;
    if swings.side_clarity < 0.5 && swings.stimuli.len() > 1 {
        warnings.push(format!(
            "near and far could hardly be told apart (clarity {:.2} of 1); look at the first \
             trials, and give target and background different, plain-to-see textures",
            swings.side_clarity
        ));
    }
    let found = hygiene::clean_trials(rig, &curve, &swings.stimuli, settings, s)?;
    let curve = found.curve.unwrap_or(curve);
    let subjects = subjects(s, &curve, &swings.stimuli, settings.hit_ratio);
    let widths = Widths::new(rig.trial.settle, settings.tolerance, &subjects);
    if let Some(text) = widths.missing(&swings.stimuli) {
        warnings.push(text);
    }
    let footing = &s.facts.footing;
    let mut trials = observe_all(&curve, &swings.stimuli, settings, &widths);
    warnings.extend(footing.judge(&mut trials, &curve, settings));
    hygiene::mark(&mut trials, &found.found);
    let flicker = s.facts.flicker.as_ref();
    let hygiene = hygiene::record(flicker, &found.found, clock.scale.rate().fps(), &times);
    warnings.extend(hygiene.iter().flat_map(hygiene::warnings));
    Ok(Watched {
        direct_onset,
        frames: times.len() as u64,
        duration_s: times.last().copied().unwrap_or(0.0) + curve.frame_s,
        refresh_hz: s.facts.refresh_hz,
        hygiene,
        warnings,
        trials,
        footing: signals.facts.footing,
        curve,
        subjects,
    })
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

/// The stimuli of a clip, and whether they were seen directly.
fn stimuli(
    rig: &Rig,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
    settings: &Settings,
) -> Result<(Swings, bool), SwingError> {
    match &rig.stimulus {
        RigStimulus::Light { .. } | RigStimulus::Tone => {
            let (times, light) = signals.facts.footing.seen(times, &signals.light);
            let stimuli = light_stimuli(&times, &light, settings.hold_s);
            Ok((
                Swings {
                    stimuli,
                    side_clarity: 1.0,
                },
                true,
            ))
        }
        RigStimulus::Swing { at, .. } => swings(rig, *at, curve, times, signals, settings),
    }
}

fn swings(
    rig: &Rig,
    at: SwingAt,
    curve: &Curve,
    times: &[f64],
    signals: &mut Signals,
    settings: &Settings,
) -> Result<(Swings, bool), SwingError> {
    let is_direct = signals.facts.direct;
    let mut screen = screen_view(&mut signals.pictures, curve);
    // One picture a sample is kept.
    screen.pictures = (0..curve.samples.len()).collect();
    // How the target moves in a direct view is kept, its pictures are not.
    let mut none = Reel::new(1, 1);
    let direct =
        is_direct.then(|| direct_view(&mut none, times, curve.frame_s, &signals.facts.footing));
    let view = direct.as_ref().unwrap_or(&screen);
    let found = match at {
        SwingAt::Rest => {
            let mut stimuli = swing_stimuli(&signals.shifts, view, settings.hold_s);
            let area = sides(&rig.screen.af_area);
            let side_clarity = tell_sides(&mut stimuli, &mut screen, area, is_direct)?;
            Swings {
                stimuli,
                side_clarity,
            }
        }
        SwingAt::Cover => cover_stimuli(&signals.cover, view, settings.hold_s),
    };
    Ok((found, is_direct))
}

/// Uncertainty of the instant of rest read from the screen beyond its step, in
/// updates: on rendered scenes one in seven is an update off.
const SCREEN_FIT: f64 = 0.37;

/// The target on the camera's screen: one picture per update.
pub fn screen_view<'a>(reel: &'a mut Reel, curve: &Curve) -> View<'a> {
    let period = if curve.every_frame {
        0.0
    } else {
        curve.period_s
    };
    View {
        reel,
        pictures: curve
            .samples
            .iter()
            .map(|s| usize::midpoint(s.first, s.end - 1))
            .collect(),
        shown_s: curve.samples.iter().map(|s| s.shown_s).collect(),
        step_s: curve.period_s,
        span: 1,
        instant_u_s: ((curve.frame_s.powi(2) + period.powi(2)) / 12.0
            + (SCREEN_FIT * curve.period_s).powi(2))
        .sqrt(),
    }
}

/// Seconds over which a shift is taken in a direct view.
const DIRECT_SPAN_S: f64 = 1.0 / 60.0;

/// The target seen directly: one picture per frame.
pub fn direct_view<'a>(
    reel: &'a mut Reel,
    times: &[f64],
    frame_s: f64,
    footing: &Footing,
) -> View<'a> {
    let pictures: Vec<usize> = (0..times.len()).collect();
    let (shown_s, pictures) = footing.seen(times, &pictures);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let span = (DIRECT_SPAN_S / frame_s).round().max(2.0) as usize;
    View {
        reel,
        // A frame's stamp is the middle of what it shows.
        shown_s,
        pictures,
        step_s: frame_s,
        span,
        instant_u_s: ((frame_s * frame_s + DIRECT_SPAN_S * DIRECT_SPAN_S) / 12.0).sqrt(),
    }
}

/// The screen as the timing file describes it.
#[must_use]
pub fn screen_record(rig: &Rig, watched: Option<&Watched>) -> schema::Screen {
    schema::Screen {
        corners: rig.screen.corners.map(|q| q.corners.map(|c| [c.x, c.y])),
        refresh_hz: watched.and_then(|w| w.refresh_hz),
        live_view_hz: None,
    }
}
