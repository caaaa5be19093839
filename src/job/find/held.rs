//! A rig that says where the screen is: every clip is held against it.
//!
//! What costs nothing comes first. The clip's first frame mostly shows all
//! four sides where the rig has them; else its first stretch does. Only where
//! neither does is the screen looked for.

use std::path::Path;

use super::{BEGINNING, LookError, glance, look, placed};
use crate::clip::ClipIndex;
use crate::geometry::{Point, Quad, UprightPx};
use crate::job::nothing::{NotFound, places};
use crate::job::source::{Untold, Waiting};
use crate::job::{Events, JobOptions};
use crate::rig::{PixelRect, Rig, Stimulus};
use crate::screen::find::{Found, Picture, Place, Similarity, find, place, play, sides};

/// Largest share of a clip that its first stretch may be for a look at it
/// alone.
const SHARE: usize = 10;
/// How far a region may be carried off and still show what it is for, ÷ its
/// shorter side.
const CARRIED: f64 = 0.25;

/// Whether the first frame shows all four sides where the rig has them.
pub fn at_first_sight(rig: &Rig, index: &ClipIndex) -> bool {
    let (Some(first), Some(corners)) = (&index.first, &rig.screen.corners) else {
        return false;
    };
    let picture = Picture::of(&first.frame());
    sides(&picture, corners, index.orientation) == 4
}

/// What is to be done with a clip.
#[derive(Debug)]
enum Verdict {
    /// Its screen lies where the rig has it.
    Here,
    /// It lies here.
    There(Found),
    /// Nobody can tell.
    Unsure,
    /// What the rig names is no screen.
    Nowhere,
}

/// Holds a clip against its rig. `by_hand`: nothing needs to change in it.
pub fn hold(
    rig: &Rig,
    path: &Path,
    ready: Box<Waiting>,
    by_hand: bool,
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Box<Waiting>, Untold> {
    let Some(corners) = rig.screen.corners else {
        return Ok(ready);
    };
    match judge(&corners, &ready.index, by_hand, options, events) {
        // A clip that cannot be looked at fails where it is decoded.
        Ok(Verdict::Here) | Err(_) => Ok(as_it_is(ready, None)),
        Ok(Verdict::There(found)) => {
            there(rig, &corners, path, ready, &found).map_err(Untold::of_clip)
        }
        Ok(Verdict::Unsure) => Ok(as_it_is(ready, Some(unsure(&corners)))),
        Ok(Verdict::Nowhere) => Err(nowhere(rig, path, &ready.index, &corners)),
    }
}

fn judge(
    corners: &Quad<UprightPx>,
    index: &ClipIndex,
    by_hand: bool,
    options: &JobOptions,
    events: &dyn Events,
) -> Result<Verdict, LookError> {
    let start = index.head(1);
    if start.stamps.len() * SHARE <= index.stamps.len() {
        let looks = look(&start, false, options.workers, |_| {})?;
        if let Some(verdict) = at_once(corners, &place(&looks, corners, index.orientation)) {
            return Ok(verdict);
        }
    }
    let closely = |index: &ClipIndex| {
        let looks = glance(index, options, events)?;
        let place = place(&looks, corners, index.orientation);
        let found = || find(&looks, index.orientation).ok();
        Ok(decide(corners, &place, found, by_hand))
    };
    let head = index.head(BEGINNING);
    match closely(&head)? {
        // What does not change yet may do so later.
        Verdict::Nowhere if head.stamps.len() < index.stamps.len() => closely(index),
        verdict => Ok(verdict),
    }
}

/// What needs no search: the screen is where the rig has it, or, in use and
/// plain to see, right beside.
fn at_once(corners: &Quad<UprightPx>, place: &Place) -> Option<Verdict> {
    if place.sides == 4 || place.near.is_some_and(|f| f.lies_at(corners)) {
        return Some(Verdict::Here);
    }
    let beside = place
        .near
        .filter(|f| f.is_sure() && f.is_in_use() && f.has_shape_of(corners));
    beside.map(Verdict::There)
}

fn decide(
    corners: &Quad<UprightPx>,
    place: &Place,
    search: impl FnOnce() -> Option<Found>,
    by_hand: bool,
) -> Verdict {
    let here = |f: &Found| f.lies_at(corners);
    let like = |f: &Found| f.has_shape_of(corners);
    if place.sides == 4 || place.near.as_ref().is_some_and(here) {
        return Verdict::Here;
    }
    let found = search().map(|f| f.in_order_of(corners));
    if found.as_ref().is_some_and(here) {
        return Verdict::Here;
    }
    // Found in the whole frame it is surely in use; nearby it need not be.
    if let Some(there) = found.filter(like).or(place.near.filter(like)) {
        return Verdict::There(there);
    }
    if place.lifeless && !by_hand {
        return Verdict::Nowhere;
    }
    if place.sides == 3 {
        Verdict::Here
    } else {
        Verdict::Unsure
    }
}

fn as_it_is(mut ready: Box<Waiting>, warning: Option<String>) -> Box<Waiting> {
    ready.index.warnings.extend(warning);
    ready
}

/// The clip, measured where its screen was found.
fn there(
    rig: &Rig,
    corners: &Quad<UprightPx>,
    path: &Path,
    ready: Box<Waiting>,
    found: &Found,
) -> Result<Box<Waiting>, String> {
    let mut with = rig.clone();
    let size = ready.index.orientation.upright_size();
    let move_ = Similarity::between(corners, &found.corners);
    let carried = carry(&mut with.stimulus, &move_, size);
    let off = found.off(corners);
    let warning = format!(
        "the screen lies up to {off:.1} px ({:.0} ‰ of its height) from where the rig has it, \
         more than {:.1} px: measured where it was found ({}), corners {:?}, each to ±{:.1} px\
         {carried}; draft a rig for this clip with `focuslag scout`",
        1000.0 * off / found.corners.height(),
        play(corners),
        found.sureness(),
        found.rounded(),
        2.0 * found.corner_u_px,
    );
    placed(&with, path, ready, found, warning)
}

/// Carries the rig's region along where it would no longer show what it is
/// for; what there is to say.
fn carry(stimulus: &mut Stimulus, by: &Similarity, size: (usize, usize)) -> &'static str {
    let (region, is_light) = match stimulus {
        Stimulus::Swing {
            region: Some(region),
            ..
        } => (region, false),
        Stimulus::Light { region } => (region, true),
        _ => return "",
    };
    let (w, h) = (region.x1 - region.x0, region.y1 - region.y0);
    let middle = Point::new(
        f64::midpoint(region.x0, region.x1),
        f64::midpoint(region.y0, region.y1),
    );
    let to = by.apply(middle);
    let far = (to.x - middle.x).hypot(to.y - middle.y);
    if far <= CARRIED * w.min(h) {
        return "; `stimulus.region` stays where the rig has it";
    }
    let (w, h) = (w * by.growth() / 2.0, h * by.growth() / 2.0);
    let (right, bottom) = (size.0 as f64, size.1 as f64);
    let moved = PixelRect {
        x0: (to.x - w).clamp(0.0, right),
        y0: (to.y - h).clamp(0.0, bottom),
        x1: (to.x + w).clamp(0.0, right),
        y1: (to.y + h).clamp(0.0, bottom),
    };
    if !is_light {
        *region = moved;
        return "; `stimulus.region` was moved along with it";
    }
    // The light may stand with the screen or with the filming camera, and a
    // larger region still shows it go on.
    *region = PixelRect {
        x0: region.x0.min(moved.x0),
        y0: region.y0.min(moved.y0),
        x1: region.x1.max(moved.x1),
        y1: region.y1.max(moved.y1),
    };
    "; `stimulus.region` was enlarged to where it lies now"
}

fn unsure(corners: &Quad<UprightPx>) -> String {
    format!(
        "whether the screen lies where the rig has it is not known: fewer than 3 of its sides \
         stand out within {:.1} px, and no other was found; it was measured there; look at it once \
         with `focuslag scout`",
        play(corners)
    )
}

fn nowhere(rig: &Rig, path: &Path, index: &ClipIndex, corners: &Quad<UprightPx>) -> Untold {
    let [x0, y0, x1, y1] = corners.bounds();
    let words = format!(
        "no screen lies where the rig has it ({x0:.0},{y0:.0} to {x1:.0},{y1:.0} px): no side \
         stands out within {:.1} px, nothing changes there, and no screen of its shape was found \
         elsewhere; draft a rig for this clip with `focuslag scout`",
        play(corners)
    );
    let not_found = NotFound {
        words: words.clone(),
        places: places(rig),
        ..NotFound::default()
    };
    Untold {
        not_found: Some(Box::new(not_found.in_clip(index))),
        ..Untold::of_clip(format!("{}: {words}", path.display()))
    }
}
