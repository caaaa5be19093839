//! One clip from frames to trials and their courses of blur.

use crate::limits;
use std::collections::BTreeMap;

use super::Line;
use super::cues::CueTimes;
use super::evidence::{Shot, shots};
use super::gauge::{Film, Gauge};
use super::graphics;
use super::hygiene;
use super::lag::LagSeen;
use super::nothing::{self, NotFound};
use super::segments;
use super::setup::tidy;
use super::shade::is_shaded;
use super::signals::{Signals, condense};
use super::softness::FilmSoftness;
use super::steady::{Footing, Touched};
use super::subject::{Energy, Seen, sides};
use super::verdicts::observe_by_own;
use crate::clip::{ClipError, ClipIndex, DecodeReport, Turn, decode_until};
use crate::geometry::{Point, Quad, UprightPx};
use crate::rig::Rig;
use crate::store::schema::{self, Side};
use crate::trial::{Bounds, Curve, FilmLimit, Observed, Rules, SwingError};
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
    /// What started and ended each trial, in order.
    pub bounds: Vec<Bounds>,
    /// What the filming camera did during each.
    pub touched: Vec<Touched>,
    /// No trial can be told: near and far look alike, or rows go black.
    pub unclear: bool,
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
    /// Why there is no trial, where there is none.
    pub not_found: Option<NotFound>,
    /// How still the filming camera stood.
    pub footing: Footing,
    /// The raw sharpness signal and the updates of the screen.
    pub curve: Curve,
    /// Energies by band of every update.
    pub energy: Energy,
    /// Areas to leave out because graphics come up there over a blurred picture:
    /// left, top, right, bottom, shares of the screen.
    pub drawn: Vec<[f64; 4]>,
    /// Each side as this clip shows it.
    pub sides: BTreeMap<Option<Side>, Seen>,
    /// Height of the screen, film pixels.
    pub height_px: f64,
    /// The film's own softness, where the screen's edges tell it.
    pub film: Option<FilmSoftness>,
    /// Relative uncertainty of the capture rate.
    pub rate_u: f64,
    /// When the rig's cues were on.
    pub cues: CueTimes,
    /// The trials as far as this clip alone tells: when pictures are taken.
    pub glimpsed: Vec<Observed>,
    /// How little blur its film tells from none, held against its own best.
    pub own_limit: Option<FilmLimit>,
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

/// Decodes a clip, stretch by stretch, and gathers what its frames say.
///
/// # Errors
/// [`WatchError`].
pub fn film(
    ready: &Ready,
    turn: Turn<'_>,
    progress: impl Fn(u64) + Sync,
    stopped: impl Fn() -> bool + Sync,
) -> Result<(Film, DecodeReport), WatchError> {
    let index = &ready.index;
    let threads = index.threads(turn.workers());
    let first = pass(ready, (turn, threads), &progress, &stopped);
    match first {
        Ok((_, report)) if threads > 1 && !report.is_whole(index) => {}
        Err(_) if threads > 1 && !stopped() => {}
        done => return done,
    }
    // Around damage FFmpeg's own threads show other pixels from machine to machine.
    pass(ready, (turn, 1), &progress, &stopped)
}

fn pass(
    ready: &Ready,
    turn: (Turn<'_>, usize),
    progress: impl Fn(u64) + Sync,
    stopped: impl Fn() -> bool + Sync,
) -> Result<(Film, DecodeReport), WatchError> {
    let mut whole = Film::new(&ready.gauge).with_room(ready.index.stamps.len());
    let mut failed = None;
    let report = decode_until(
        &ready.index,
        turn,
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
    turn: Turn<'_>,
    line: &Line<'_>,
    stopped: impl Fn() -> bool + Sync,
) -> Result<Signals, WatchError> {
    let (film, report) = film(ready, turn, line, stopped)?;
    condense(rig, ready, film, report)
}

/// Finds the trials of a clip and how blur runs through them.
///
/// # Errors
/// When temporary files cannot be read back.
pub fn watch(
    rig: &Rig,
    clock: &Clock,
    rules: &Rules,
    mut signals: Signals,
) -> Result<Watched, WatchError> {
    let s = &mut signals;
    let times = s.shot(&clock.scale);
    let mut warnings = s.facts.warnings.clone();
    let curve = s.curve(&times);
    if cfg!(feature = "try-limits") {
        s.find_stimuli(rig, &curve, &times)?;
    }
    let mut started = std::mem::take(&mut s.started);
    warnings.extend(segments::widen(&clock.scale, curve.frame_s, &mut started));
    let not_found = started
        .is_empty()
        .then(|| nothing::no_trial(rig, &curve, &times, s));
    warnings.extend(not_found.iter().map(|m| m.words.clone()));
    let side_clarity = s.facts.side_clarity;
    let mixed_up = side_clarity < limits::LEAST_CLARITY.get() && started.len() > 1;
    if mixed_up {
        warnings.push(format!(
            "near and far could hardly be told apart (clarity {:.2} of 1), so the trials are void; \
             give target and background different, plain-to-see textures, and mask graphics that \
             move",
            side_clarity
        ));
    }
    let black = s.facts.flicker.is_some_and(|f| f.goes_black());
    if black {
        warnings.push(
            "rows of the screen go black in the film, in other places from frame to frame, so blur \
             cannot be told and the trials are void; set the screen to full brightness, or film with \
             a longer exposure"
                .to_owned(),
        );
    }
    warnings.extend(s.facts.lag.warning.clone());
    let bounds = Bounds::of(&started, s.facts.lag.lag, rules.hold_on(curve.period_s));
    let shaded = is_shaded(&s.row_light, &curve, &bounds, rules);
    if shaded {
        warnings.push(
            "rows of the focus area are lit in some trials and dark in others (a band of the \
             screen's backlight that hardly moves), so blur cannot be told and the trials are void; \
             set the screen to full brightness, or film with a longer exposure"
                .to_owned(),
        );
    }
    let spans: Vec<[f64; 2]> = bounds.iter().map(|b| span(b, rules, &curve)).collect();
    let (mut touched, said) = s.facts.footing.touched(&spans, curve.frame_s);
    warnings.extend(said);
    let mut all = sides(&s.energy, &curve, (&bounds, &touched), rules);
    let drawn = graphics::Shown {
        changes: &s.facts.graphics,
        energy: &s.energy,
        curve: &curve,
        bounds: &bounds,
        sides: &all,
    };
    let drawn = graphics::touch(&drawn, &spans, rules.delta, &mut touched);
    if let Some(drawn) = &drawn {
        warnings.push(drawn.words.clone());
        all = sides(&s.energy, &curve, (&bounds, &touched), rules);
    }
    let hygiene = hygiene::record(s.facts.flicker.as_ref(), clock.scale.rate().fps(), &times);
    warnings.extend(hygiene.iter().flat_map(hygiene::warnings));
    warnings.extend(s.facts.cue_warnings.iter().cloned());
    let mut watched = Watched {
        live_view_hz: s.facts.live_view_hz,
        lag: s.facts.lag.clone(),
        found: s.facts.found.map(quad),
        height_px: s.facts.height_px,
        film: FilmSoftness::of(&s.facts, rig.screen.feed),
        frames: times.len() as u64,
        duration_s: times.last().copied().unwrap_or(0.0) + curve.frame_s,
        rate_u: clock.rate_u,
        refresh_hz: s.facts.refresh_hz,
        hygiene,
        warnings,
        not_found,
        glimpsed: Vec::new(),
        own_limit: None,
        shots: Vec::new(),
        drawn: drawn.map(|d| d.masks).unwrap_or_default(),
        sides: all,
        energy: std::mem::take(&mut s.energy),
        bounds,
        touched,
        unclear: mixed_up || black || shaded,
        footing: signals.facts.footing,
        curve,
        cues: signals.facts.cues,
    };
    // Pictures can only be taken now; where a trial settles hardly depends on
    // what it is held against later.
    (watched.glimpsed, watched.own_limit) = observe_by_own(&watched, rules);
    let sights = signals.sights.as_mut();
    watched.shots = shots(sights, &times, &watched.curve, &watched.glimpsed)?;
    Ok(watched)
}

/// From before the move to the end of the hold, seconds as shot.
fn span(b: &Bounds, rules: &Rules, curve: &Curve) -> [f64; 2] {
    let from = b.stimulus.move_s.unwrap_or(b.stimulus.onset_s) - curve.period_s;
    let to = b.shown_onset_s() + rules.window_s + rules.hold_on(curve.period_s);
    [from, to]
}

/// Corners as they are kept.
fn quad(corners: [[f64; 2]; 4]) -> Quad<UprightPx> {
    Quad::new(corners.map(|[x, y]| Point::new(x, y)))
}

/// The screen as the timing file describes it.
pub fn screen_record(rig: &Rig, watched: Option<&Watched>) -> schema::Screen {
    let found = watched.and_then(|w| w.found);
    let corners = found.or(rig.screen.corners);
    schema::Screen {
        corners: corners.map(|q| q.corners.map(|c| [c.x, c.y])),
        refresh_hz: watched.and_then(|w| w.refresh_hz),
        live_view_hz: watched.and_then(|w| w.live_view_hz),
        height_px: watched.map(|w| tidy(w.height_px)),
    }
}
