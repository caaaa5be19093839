//! From a folder to verdicts.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::folder::Folder;
use super::measure::{Read, Seen, read, seen};
use super::pair::Taken;
use super::record::{FORMAT, Photos, Picture, PictureVerdict, Target, VERSION, Why};
use super::summary::summary;
use super::target::{alike, groups, nearest, targets};
use super::thumb::{Placed, Thumb};
use super::yardstick::{Yardstick, sharpest, usual};
use super::{PhotoError, warnings};
use crate::store::schema::{BLUR_VERSION, ReferenceFrom, Side};

/// How photographs are to be judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// Focus area: left, top, right, bottom; fractions of the picture.
    pub area: [f64; 4],
    /// Largest blur of a hit, ‰ of the picture's height; `None`: one circle of
    /// confusion.
    pub hit_permille: Option<f64>,
    /// Two-sided level of intervals, 0.5..1.
    pub confidence: f64,
}

/// One target, and the picture that all others are placed against.
struct Known {
    thumb: Thumb,
    size: (usize, usize),
    side: Option<Side>,
    /// Its pictures by hand, with what their areas hold.
    by_hand: Vec<(PathBuf, Read)>,
}

/// Photographs judged.
pub struct Found {
    /// What became of them.
    pub photos: Photos,
    /// When each was taken, by its camera's clock.
    pub(crate) taken: Vec<Option<Taken>>,
}

/// A picture of the session, looked at.
struct Shot {
    taken: Option<Taken>,
    error: Option<String>,
    size: (usize, usize),
    target: Option<(usize, Placed)>,
    read: Option<Read>,
}

/// Judges a setup's photographs; `done` hears of every picture.
///
/// # Errors
/// No picture by hand can be used though some are there, or the focus area is too
/// small.
pub fn judge(folder: &Folder, ask: &Ask, done: &(dyn Fn() + Sync)) -> Result<Found, PhotoError> {
    let found = match folder.by_hand.is_empty() {
        true => own(folder, ask)?,
        false => by_hand(folder, ask)?,
    };
    let shots: Vec<Shot> = folder
        .shots
        .par_iter()
        .map(|path| {
            let shot = shot(path, &found, ask);
            done();
            shot
        })
        .collect::<Result<_, _>>()?;
    let yardsticks: Vec<Option<Yardstick>> = (0..found.len())
        .map(|k| yardstick(folder, ask, &found[k], k, &shots))
        .collect();
    let pictures: Vec<Picture> = folder
        .shots
        .iter()
        .zip(&shots)
        .map(|(path, shot)| picture(path, shot, &yardsticks))
        .collect();
    let told = found
        .iter()
        .zip(&yardsticks)
        .filter_map(|(known, y)| Some((known, y.as_ref()?)));
    let targets = told
        .enumerate()
        .map(|(k, (known, y))| target(known, y, k, &pictures))
        .collect();
    let mut photos = Photos {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: folder.name.clone(),
        area: ask.area,
        blur_version: BLUR_VERSION,
        asked_permille: ask.hit_permille,
        confidence: ask.confidence,
        targets,
        summary: summary(&pictures, ask.confidence),
        pictures,
        screen: None,
        warnings: Vec::new(),
    };
    photos.warnings = warnings::of(&photos, folder);
    Ok(Found {
        photos,
        taken: shots.iter().map(|s| s.taken).collect(),
    })
}

/// What was focused by hand, target by target.
fn by_hand(folder: &Folder, ask: &Ask) -> Result<Vec<Known>, PhotoError> {
    let looked: Vec<Result<Seen, PhotoError>> = folder
        .by_hand
        .par_iter()
        .map(|path| Ok(seen(path)?.0))
        .collect();
    let first = looked.iter().find_map(|s| s.as_ref().err().cloned());
    let mut known = Vec::new();
    let thumbs: Vec<Option<&Thumb>> = looked
        .iter()
        .map(|s| s.as_ref().ok().map(|s| &s.thumb))
        .collect();
    for group in groups(&thumbs, ask.area) {
        let Ok(one) = &looked[group.first] else {
            continue;
        };
        let alike = group
            .members
            .iter()
            .filter(|(k, _)| looked[*k].as_ref().is_ok_and(|s| s.size == one.size));
        let mut hands = Vec::new();
        for (k, placed) in alike {
            let path = &folder.by_hand[*k];
            let (_, photograph) = seen(path)?;
            let read = read(&photograph, ask.area, placed).map_err(|e| area(path, &e))?;
            if !read.no_signal {
                hands.push((path.clone(), read));
            }
        }
        if !hands.is_empty() {
            known.push(Known {
                thumb: one.thumb.clone(),
                size: one.size,
                side: hands.iter().find_map(|(path, _)| side(path)),
                by_hand: hands,
            });
        }
    }
    let why = || first.map_or("too dark, or mostly white".to_owned(), |e| e.to_string());
    match known.is_empty() {
        true => Err(PhotoError::ByHand {
            folder: folder.path.display().to_string(),
            first: why(),
        }),
        false => Ok(known),
    }
}

/// What the pictures themselves show, where nothing was focused by hand.
fn own(folder: &Folder, ask: &Ask) -> Result<Vec<Known>, PhotoError> {
    let looked: Vec<Option<Seen>> = folder
        .shots
        .par_iter()
        .map(|path| seen(path).ok().map(|s| s.0))
        .collect();
    let thumbs: Vec<Option<&Thumb>> = looked
        .iter()
        .map(|s| s.as_ref().map(|s| &s.thumb))
        .collect();
    let known: Vec<Known> = targets(groups(&thumbs, ask.area))
        .iter()
        .filter_map(|g| looked[g.first].as_ref())
        .map(|s| Known {
            thumb: s.thumb.clone(),
            size: s.size,
            side: None,
            by_hand: Vec::new(),
        })
        .collect();
    if known.is_empty() {
        let first = &folder.shots[0];
        seen(first)?;
    }
    Ok(known)
}

/// `near` or `far`, where the file's name begins so.
fn side(path: &Path) -> Option<Side> {
    let name = path.file_name()?.to_string_lossy().to_ascii_lowercase();
    [("near", Side::Near), ("far", Side::Far)]
        .into_iter()
        .find_map(|(word, side)| name.starts_with(word).then_some(side))
}

fn shot(path: &Path, known: &[Known], ask: &Ask) -> Result<Shot, PhotoError> {
    let (seen, photograph) = match seen(path) {
        Ok(both) => both,
        Err(e) => {
            return Ok(Shot {
                taken: None,
                error: Some(e.to_string()),
                size: (0, 0),
                target: None,
                read: None,
            });
        }
    };
    let thumbs: Vec<&Thumb> = known.iter().map(|k| &k.thumb).collect();
    let target = nearest(&thumbs, &seen.thumb, ask.area);
    let fits = target.filter(|(k, _)| known[*k].size == seen.size);
    let read = match fits {
        Some((_, placed)) => {
            let placed = if alike(&placed) {
                placed
            } else {
                Placed::STILL
            };
            Some(read(&photograph, ask.area, &placed).map_err(|e| area(path, &e))?)
        }
        None => None,
    };
    Ok(Shot {
        taken: seen.taken,
        error: None,
        size: seen.size,
        target,
        read,
    })
}

fn area(path: &Path, error: &crate::sharpness::MeterError) -> PhotoError {
    PhotoError::Area {
        file: path.display().to_string(),
        message: format!(
            "the focus area holds {} usable pixels ({}×{}), too few to tell blur",
            error.pixels, error.width, error.height
        ),
    }
}

/// What a target's pictures are held against; `None` where none can be read.
fn yardstick(
    folder: &Folder,
    ask: &Ask,
    known: &Known,
    k: usize,
    shots: &[Shot],
) -> Option<Yardstick> {
    let of = |s: &&Shot| {
        let shown = s.target.is_some_and(|(t, placed)| t == k && alike(&placed));
        shown && s.read.is_some_and(|r| !r.no_signal)
    };
    let own = || folder.shots.iter().zip(shots).filter(|(_, s)| of(s));
    let all: Vec<Read> = shots.iter().filter(of).filter_map(|s| s.read).collect();
    let held =
        |path: &Path, read: &Read| Yardstick::new(path, read, &all, known.size, ask.hit_permille);
    if known.by_hand.is_empty() {
        let middle = usual(&sharpest(&all)?);
        return held(own().nth(middle)?.0, &all[middle]);
    }
    let hands: Vec<Read> = known.by_hand.iter().map(|h| h.1).collect();
    let (path, read) = &known.by_hand[sharpest(&hands)?[0]];
    let mut yardstick = held(path, read)?;
    yardstick.softer_permille = yardstick.softer(read, &all);
    Some(yardstick)
}

fn target(known: &Known, y: &Yardstick, k: usize, pictures: &[Picture]) -> Target {
    let from = match known.by_hand.is_empty() {
        true => ReferenceFrom::Setup,
        false => ReferenceFrom::Hand,
    };
    Target {
        side: known.side,
        reference_from: from,
        reference: named(&y.path, from),
        size: [known.size.0, known.size.1],
        circle_permille: y.circle_permille(),
        hit_limit_permille: y.limit_permille(),
        least_permille: y.least_permille(),
        softer_permille: y.softer_permille,
        pictures: pictures.iter().filter(|p| p.target == Some(k)).count(),
    }
}

/// The file within the folder.
fn named(path: &Path, from: ReferenceFrom) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    match from {
        ReferenceFrom::Hand => format!("by-hand/{name}"),
        _ => name.into_owned(),
    }
}

fn picture(path: &Path, shot: &Shot, yardsticks: &[Option<Yardstick>]) -> Picture {
    let file = path.file_name().unwrap_or_default().to_string_lossy();
    let mut out = Picture {
        file: file.into_owned(),
        target: None,
        likeness: shot.target.map(|(_, placed)| placed.likeness),
        verdict: PictureVerdict::Void,
        reason: None,
        error: shot.error.clone(),
        beyond_recognition: false,
        blur: None,
        close_call: false,
        trial: None,
    };
    let why = judged(&mut out, shot, yardsticks).err();
    out.reason = why;
    out
}

/// Fills in verdict and blur, or says why there is none.
fn judged(out: &mut Picture, shot: &Shot, yardsticks: &[Option<Yardstick>]) -> Result<(), Why> {
    if shot.error.is_some() {
        return Err(Why::Unreadable);
    }
    let (k, placed) = shot.target.ok_or(Why::OtherTarget)?;
    let yardstick = yardsticks[k].as_ref().ok_or(Why::OtherTarget)?;
    if shot.size != yardstick.size {
        return Err(Why::OtherSize);
    }
    let read = shot.read.ok_or(Why::OtherSize)?;
    if read.no_signal {
        return Err(Why::NoSignal);
    }
    let told = yardstick.told(&read);
    if !alike(&placed) {
        if !told.far_out {
            return Err(Why::OtherTarget);
        }
        out.beyond_recognition = true;
    }
    // Counted among those that have a yardstick, as the targets are.
    out.target = Some(yardsticks[..k].iter().flatten().count());
    out.blur = Some(told.blur);
    if !yardstick.can_tell() {
        return Err(Why::CannotTell);
    }
    out.close_call = told.close_call;
    out.verdict = match told.hit {
        true => PictureVerdict::Hit,
        false => PictureVerdict::Miss,
    };
    Ok(())
}
