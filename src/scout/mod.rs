//! From a clip alone to a rig that works.
//!
//! In: one clip, and what a person may say of it ([`Request`]). Out: a
//! [`Draft`]: every value with how sure it is and what to check by eye, as
//! commented TOML that the rig's own reader takes, and a picture of the frame
//! with everything drawn in. What is not plain is refused with a reason
//! ([`ScoutError`]) rather than guessed.
//!
//! The clip is decoded twice: once to look for the screen and at what is
//! beside it (`screen::find`, `around`), once to time it with the draft
//! ([`crate::job::rehearse`]): the rig is known to work on its own clip.

mod around;
mod blink;
mod draft;
mod findings;
mod graphics;
mod letters;
mod parts;
pub(crate) mod session;
mod still;

use std::path::Path;

pub(crate) use around::Around;
pub use draft::{Draft, Kind};
pub(crate) use findings::Finding;
pub(crate) use parts::Part;

use crate::clip::{ClipError, ClipIndex, ProbeOptions, probe};
use crate::geometry::{Homography, Quad, ScreenFrac, StoredPx, whole_screen};
use crate::job::find::{LookError, look};
use crate::job::{NotFound, RateFrom, Rehearsed, rehearse, true_rate, upright};
use crate::rig::{DEFAULT_AF_AREA, DEFAULT_HOLD, DEFAULT_WINDOW, Rig};
use crate::screen::find::{Found, Looks, find};
use crate::units::{Millis, TimeScale};
use parts::Parts;

/// Frames that are looked at: 25 s at 240 a second.
const FRAMES: usize = 6000;
/// Rate a clip is looked at with where nothing tells it.
const ASSUMED_FPS: f64 = 240.0;
/// Trials that show that a stimulus was told right.
const FEWEST_TRIALS: usize = 2;
/// Side of the focus area below which sharpness is hard to judge, px.
const SMALL_AREA_PX: f64 = 256.0;

/// What a person says.
#[derive(Clone, Debug, Default)]
pub struct Request {
    /// The rig's name; else the clip's.
    pub name: Option<String>,
    /// True rate of the filming camera.
    pub fps: Option<f64>,
    /// The clip is a recording of the feed itself.
    pub feed: bool,
    /// Threads that decode.
    pub workers: usize,
}

/// Why there is no draft.
#[derive(Debug, thiserror::Error)]
pub enum ScoutError {
    /// The clip cannot be read.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// The clip cannot be looked at.
    #[error(transparent)]
    Look(#[from] LookError),
    /// Temporary pictures cannot be read back.
    #[error("temporary files cannot be read back: {0}")]
    Io(#[from] std::io::Error),
    /// No screen, or not for sure.
    #[error("{file}: {reason}")]
    Screen {
        /// The clip.
        file: String,
        /// In words.
        reason: String,
        /// What there is, to be drawn.
        not_found: Box<NotFound>,
    },
    /// The draft does not work on its own clip.
    #[error("{file}: {reason}")]
    Draft {
        /// The clip.
        file: String,
        /// In words.
        reason: String,
    },
}

impl ScoutError {
    /// What was looked for and not found.
    pub fn not_found(&self) -> Option<&NotFound> {
        match self {
            Self::Screen { not_found, .. } => Some(not_found),
            _ => None,
        }
    }
}

/// Looks at a clip; `progress` hears how many frames of how many are done.
///
/// # Errors
/// [`ScoutError`].
pub fn scout(
    clip: &Path,
    request: &Request,
    progress: &(dyn Fn(u64, u64) + Sync),
) -> Result<(Draft, image::RgbImage), ScoutError> {
    let index = probe(clip, &ProbeOptions::default())?;
    let mut head = index.head(FRAMES);
    head.first.clone_from(&index.first);
    let frames = head.stamps.len() as u64;
    let workers = request.workers.max(1);
    let mut looks = look(&head, true, workers, |n| progress(n, 2 * frames))?;
    let file = clip.display().to_string();
    let found = if request.feed {
        None
    } else {
        Some(
            find(&looks, head.orientation).map_err(|r| ScoutError::Screen {
                file: file.clone(),
                reason: r.words(),
                not_found: Box::new(NotFound {
                    words: r.words(),
                    places: r.places(),
                    picture: Some(upright(&looks.mean(), index.orientation)),
                    course: None,
                }),
            })?,
        )
    };
    let mut draft = Draft::new(clip, &index, request, found);
    let screen = stored_screen(&index, found.as_ref());
    let scale = time_scale(&mut draft, &index, &head, &mut looks, &screen)?;
    let beside = match found {
        Some(_) => around::around(&mut looks, &screen, &scale, head.orientation)?,
        None => Around::default(),
    };
    let a = DEFAULT_AF_AREA;
    if let Some(map) = Homography::between(&whole_screen(), &screen) {
        let map: Homography<ScreenFrac, StoredPx> = map;
        let area = [a.left, a.top, a.right, a.bottom];
        draft.graphics = graphics::graphics(&looks, &map, area);
    }
    let step = |n: u64| progress(frames + n.min(frames), 2 * frames);
    let mut seen = try_out(&mut draft, &beside, &head, workers, &step)
        .map_err(|reason| refused(&index, &reason))?;
    if !seen.drawn.is_empty() {
        // A box that comes up may pass for focus, and for the target.
        draft.graphics.masks.append(&mut seen.drawn);
        seen = try_out(&mut draft, &beside, &head, workers, &step)
            .map_err(|reason| refused(&index, &reason))?;
    }
    draft.take(&seen);
    let parsed = Rig::parse(&draft.toml(), "draft").map_err(|e| ScoutError::Draft {
        file,
        reason: format!("the draft does not read as a rig: {e}"),
    })?;
    let picture = still::still(&looks, &head, &parsed, &draft);
    Ok((draft, picture))
}

/// How the clip's time runs, its parts told where it has some.
fn time_scale(
    draft: &mut Draft,
    index: &ClipIndex,
    head: &ClipIndex,
    looks: &mut Looks,
    screen: &Quad<StoredPx>,
) -> Result<TimeScale, ScoutError> {
    let said = draft.rate.filter(|r| r.1 != Some(RateFrom::Stamps));
    let mut why = String::new();
    match parts::parts(index, said.map(|r| r.0), looks, screen)? {
        Parts::One => {}
        Parts::Told(parts) => draft.take_parts(parts),
        Parts::Unclear(reason) => why = format!(". Scout could not tell them: {reason}"),
    }
    let tried = Rig::parse(&draft.trial_toml(end_of(head)), "draft");
    let rig = tried.map_err(|e| refused(index, &e.to_string()))?;
    let (scale, _) = true_rate(&rig, head).map_err(|e| refused(index, &format!("{e}{why}")))?;
    Ok(scale)
}

/// The last stamp.
fn end_of(index: &ClipIndex) -> f64 {
    index.stamps.last().copied().unwrap_or(0.0)
}

/// No draft, and why; a reason names the file once.
fn refused(index: &ClipIndex, reason: &str) -> ScoutError {
    let file = index.path.display().to_string();
    let reason = reason.strip_prefix(&format!("{file}: ")).unwrap_or(reason);
    ScoutError::Draft {
        reason: reason.to_owned(),
        file,
    }
}

/// The screen in the stored picture; the whole of it for a feed.
fn stored_screen(index: &ClipIndex, found: Option<&Found>) -> Quad<StoredPx> {
    let o = index.orientation;
    let upright = found.map_or_else(
        || {
            let (w, h) = o.upright_size();
            Quad::rect(0.0, 0.0, w as f64, h as f64)
        },
        |f| f.corners,
    );
    let mut corners = upright.corners.map(|p| o.to_stored(p));
    if o.mirrored {
        corners.reverse();
    }
    Quad::new(corners)
}

/// Times the clip with what may start a trial, the plainest first, and keeps
/// the first that shows trials. Many things blink: a light counts before a
/// swing only if the screen's picture answers it, as a focus that moves makes
/// it, and of several the one that is answered most.
fn try_out(
    draft: &mut Draft,
    beside: &Around,
    head: &ClipIndex,
    workers: usize,
    progress: &(dyn Fn(u64) + Sync),
) -> Result<Rehearsed, String> {
    let tried = |draft: &mut Draft, kind: Kind| {
        draft.kind = kind;
        let rig = Rig::parse(&draft.trial_toml(end_of(head)), "draft");
        let mut rig = rig.map_err(|e| e.to_string())?;
        if matches!(kind, Kind::Light(_)) {
            rig.trial.window = Millis(ANSWER_MS);
        }
        rehearse(&rig, head, workers, progress)
    };
    let mut best: Option<(f64, Kind, Rehearsed)> = None;
    for light in &beside.lights {
        let kind = Kind::Light(*light);
        let Ok(seen) = tried(draft, kind) else {
            continue;
        };
        let share = answered(&seen);
        let better = best.as_ref().is_none_or(|b| share > b.0);
        if seen.trials.len() >= FEWEST_TRIALS && better {
            best = Some((share, kind, seen));
        }
    }
    let mut last = Err("nothing was tried".to_owned());
    if best.as_ref().is_none_or(|b| b.0 < ANSWERED) {
        let direct = beside.direct.map(|d| Kind::Swing(Some(d)));
        for kind in direct.into_iter().chain([Kind::Swing(None)]) {
            last = tried(draft, kind);
            if last.as_ref().is_ok_and(|r| r.trials.len() >= FEWEST_TRIALS) {
                return last;
            }
        }
    }
    match best {
        Some((_, kind, seen)) => {
            draft.kind = kind;
            Ok(seen)
        }
        None => last,
    }
}

/// Longest that a camera takes to answer its trigger on the screen, ms: a
/// live-view lag of 0.2 s and 0.4 s until the lens starts (common practice, no
/// source).
const ANSWER_MS: f64 = 600.0;
/// Least share of a light's trials that the screen answers. What blinks on its
/// own is followed by a trial's start in as much of the time as [`ANSWER_MS`] is
/// of the time between trials: a quarter, if they are 2.4 s apart.
const ANSWERED: f64 = 0.5;

fn answered(seen: &Rehearsed) -> f64 {
    let n = seen.trials.iter().filter(|t| t.answered).count();
    n as f64 / seen.trials.len().max(1) as f64
}

/// Smallest side of the focus area in the film, px.
fn area_px(screen: &Quad<crate::geometry::UprightPx>) -> f64 {
    let a = DEFAULT_AF_AREA;
    let w = (a.right - a.left) * screen.width();
    w.min((a.bottom - a.top) * screen.height())
}
