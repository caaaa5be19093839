//! What blur 0 is: yardsticks from clips focused by hand, or a setup's own best.

use crate::limits;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::clip::Watched;
use super::setup::{Outcome, rules};
use super::softness::FilmSoftness;
use super::subject::{Seen, learn, refilmed};
use super::verdicts::{Yardstick, Yardsticks, own};
use crate::rig::{Reference, Setup};
use crate::sharpness::{Blurred, Energies, disc};
use crate::store::schema::{ReferenceFrom, Side};
use crate::trial::energies::middle;

/// A sharp subject as one clip filmed it.
#[derive(Clone, Copy, Debug)]
pub struct Sharp {
    energies: Energies,
    film: Option<FilmSoftness>,
}

/// The subjects of the clips focused by hand, by side.
pub type ByHand = BTreeMap<Option<Side>, Sharp>;

/// Reads the clips that were focused by hand.
pub fn by_hand(setup: &Setup, hand: &[(PathBuf, Outcome)], failures: &mut Vec<String>) -> ByHand {
    let wanted: Vec<(Option<Side>, &Path)> = match &setup.reference {
        None => Vec::new(),
        Some(Reference::Single(p)) => vec![(None, p.as_path())],
        Some(Reference::Sides { near, far }) => near
            .iter()
            .map(|p| (Some(Side::Near), p.as_path()))
            .chain(far.iter().map(|p| (Some(Side::Far), p.as_path())))
            .collect(),
    };
    let mut out = BTreeMap::new();
    for (side, path) in wanted {
        let outcome = hand.iter().find(|(p, _)| p == path);
        let Some(watched) = outcome.and_then(|(_, o)| o.watched.as_ref().ok()) else {
            continue;
        };
        match steady(watched, rules(&setup.rig).hit) {
            Some(energies) => {
                let film = watched.film;
                out.insert(side, Sharp { energies, film });
            }
            None => failures.push(format!(
                "{}: {}: this reference clip does not show one sharpness for most of its time; film it again, \
                 focused by hand and left alone. The setup's own best stands in",
                setup.name,
                path.display()
            )),
        }
    }
    out
}

/// The middle energies of a whole clip, if most of it shows them: the target may
/// still come in at its start, or leave at its end. `hit`: how much blur still
/// counts as the same, ‰.
fn steady(watched: &Watched, hit: f64) -> Option<Energies> {
    let updates = &watched.energy.updates;
    let sharp = middle(updates);
    let whole = 0..updates.len();
    let subject = learn(&watched.energy, &sharp, std::slice::from_ref(&whole), 0)?;
    let same = |e: &&Energies| disc::diameter(subject.square(e)).abs() <= hit;
    (2 * updates.iter().filter(same).count() > updates.len()).then_some(sharp)
}

/// The yardsticks of every clip of a setup whose hits are at most `hit` ‰.
pub fn yardsticks(outcomes: &[Outcome], hand: &ByHand, hit: f64) -> Vec<Yardsticks> {
    let clips: Vec<Option<Filmed<'_>>> = outcomes
        .iter()
        .map(|o| Some(Filmed::of(o.watched.as_ref().ok()?)))
        .collect();
    let of = |filmed: &Filmed<'_>| {
        let mut all = own(filmed.watched);
        for (side, seen) in &filmed.watched.sides {
            let Some(yardstick) = all.get_mut(side) else {
                continue;
            };
            match hand.get(side) {
                Some(sharp) => *yardstick = by_that_hand(filmed.watched, sharp, hit),
                None => by_the_best(filmed, (*side, seen), &clips, hit, yardstick),
            }
        }
        all
    };
    clips
        .iter()
        .map(|f| f.as_ref().map(of).unwrap_or_default())
        .collect()
}

/// A clip and how far its film may be off by itself.
struct Filmed<'a> {
    watched: &'a Watched,
    /// Square of the film's limit, ‰².
    square_u: f64,
}

impl<'a> Filmed<'a> {
    fn of(watched: &'a Watched) -> Self {
        let limit = watched.own_limit;
        Self {
            watched,
            square_u: limit.map_or(0.0, |l| l.least * l.least),
        }
    }
}

/// A clip held against a subject that was focused by hand in another.
fn by_that_hand(watched: &Watched, sharp: &Sharp, hit: f64) -> Yardstick {
    let (energies, square_u) = refilm(watched, sharp);
    Yardstick {
        sharp: energies,
        own: false,
        behind: 0.0,
        square_u,
        known: is_known(square_u, hit),
        from: ReferenceFrom::Hand,
    }
}

/// A clip held against the sharpest that any clip of the setup shows of a side.
/// Its own best stays the yardstick, behind another's by as much of the difference
/// as is sure: the whole would be no fairer, because the sharpest of several clips
/// is in part the one that chance favours. A clip that is sure to be out of focus
/// all the time has no picture to measure by, so the other's stands in.
fn by_the_best(
    filmed: &Filmed<'_>,
    (side, seen): (Option<Side>, &Seen),
    clips: &[Option<Filmed<'_>>],
    hit: f64,
    yardstick: &mut Yardstick,
) {
    let watched = filmed.watched;
    let others = clips.iter().flatten();
    let others = others.filter(|o| !std::ptr::eq(o.watched, watched));
    let mut all_known = true;
    for (other, theirs) in others.filter_map(|o| Some((o, o.watched.sides.get(&side)?))) {
        let (sharp, edges_u) = refilm(
            watched,
            &Sharp {
                energies: theirs.sharp,
                film: other.watched.film,
            },
        );
        let films_u = edges_u.hypot(filmed.square_u).hypot(other.square_u);
        let told = best_against(watched, seen, &sharp, hit);
        let (square, square_u) = told.map_or((0.0, f64::INFINITY), |best| {
            (best.square, best.square_u.hypot(films_u))
        });
        let behind = square - limits::SURE.get() * square_u;
        let out_of_focus = behind > hit * hit;
        if !is_known(square_u, hit) && !out_of_focus {
            all_known = false;
            continue;
        }
        if behind > yardstick.behind {
            *yardstick = Yardstick {
                sharp: if out_of_focus { sharp } else { seen.sharp },
                own: !out_of_focus,
                behind,
                square_u,
                known: true,
                from: ReferenceFrom::Setup,
            };
        }
    }
    if all_known {
        yardstick.from = ReferenceFrom::Setup;
    }
}

/// The blur of a clip's own best against `sharp`, the best of another as this
/// film would show it, ‰²; its uncertainty is how far the pictures differ in what
/// no blur makes. `None` where no band tells anything.
fn best_against(watched: &Watched, seen: &Seen, sharp: &Energies, hit: f64) -> Option<Blurred> {
    let subject = learn(&watched.energy, sharp, &seen.stretches, seen.hold)?;
    Some(subject.blur_of_another(&seen.sharp, hit))
}

/// A subject as a clip's film would show it, and the uncertainty of that, ‰².
fn refilm(watched: &Watched, sharp: &Sharp) -> (Energies, f64) {
    match (sharp.film, watched.film) {
        (Some(from), Some(to)) => {
            let (softer, square_u) = from.towards(&to);
            let frequencies = &watched.energy.frequencies;
            (refilmed(&sharp.energies, frequencies, softer), square_u)
        }
        _ => (sharp.energies, f64::INFINITY),
    }
}

/// Whether a reference is known well enough: to half of the hit limit, at it.
fn is_known(square_u: f64, hit: f64) -> bool {
    square_u <= hit * hit
}
