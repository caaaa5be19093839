//! What blur 0 is: yardsticks from clips focused by hand, or a setup's own best.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::clip::Watched;
use super::setup::{Outcome, rules};
use super::softness::FilmSoftness;
use super::subject::{learn, refilmed};
use super::verdicts::{Yardstick, Yardsticks, courses, limit, observe_all, own};
use crate::rig::{Reference, Setup};
use crate::sharpness::{Energies, disc};
use crate::store::schema::{ReferenceFrom, Side};
use crate::trial::Rules;
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
    let same = |e: &&Energies| disc::diameter(subject.blur(e).square).abs() <= hit;
    (2 * updates.iter().filter(same).count() > updates.len()).then_some(sharp)
}

/// The yardsticks of every clip of a setup whose hits are at most `hit` ‰.
#[must_use]
pub fn yardsticks(outcomes: &[Outcome], hand: &ByHand, rules: &Rules) -> Vec<Yardsticks> {
    let hit = rules.hit;
    let clips: Vec<Option<Filmed<'_>>> = outcomes
        .iter()
        .map(|o| Some(Filmed::of(o.watched.as_ref().ok()?, rules)))
        .collect();
    let of = |filmed: &Filmed<'_>| {
        let mut all = own(filmed.watched);
        for (side, yardstick) in &mut all {
            match hand.get(side) {
                Some(sharp) => *yardstick = by_that_hand(filmed.watched, sharp, hit),
                None => by_the_best(filmed, *side, &clips, hit, yardstick),
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
    fn of(watched: &'a Watched, rules: &Rules) -> Self {
        let courses = courses(watched, &own(watched));
        let seen = observe_all(watched, &courses, rules);
        let limit = limit(watched, &courses, &seen, rules);
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
        square_u,
        known: is_known(square_u, hit),
        from: ReferenceFrom::Hand,
    }
}

/// A clip held against the sharpest that any clip of the setup shows of a side:
/// its own best, unless another's is sharper beyond what telling them apart
/// leaves unsure.
fn by_the_best(
    filmed: &Filmed<'_>,
    side: Option<Side>,
    clips: &[Option<Filmed<'_>>],
    hit: f64,
    yardstick: &mut Yardstick,
) {
    let watched = filmed.watched;
    let Some(seen) = watched.sides.get(&side) else {
        return;
    };
    let Some(subject) = learn(&watched.energy, &seen.sharp, &seen.stretches, seen.hold) else {
        return;
    };
    let mut best = 0.0;
    let mut all_known = true;
    for other in clips
        .iter()
        .flatten()
        .filter(|o| !std::ptr::eq(o.watched, watched))
    {
        let Some(theirs) = other.watched.sides.get(&side) else {
            continue;
        };
        let sharp = Sharp {
            energies: theirs.sharp,
            film: other.watched.film,
        };
        let (energies, edges_u) = refilm(watched, &sharp);
        let square_u = edges_u.hypot(filmed.square_u).hypot(other.square_u);
        if !is_known(square_u, hit) {
            all_known = false;
            continue;
        }
        let square = subject.blur(&energies).square + 2.0 * square_u + hit * hit / 4.0;
        if square < best {
            best = square;
            *yardstick = Yardstick {
                sharp: energies,
                own: false,
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
