//! From courses of blur to verdicts: a clip's trials held against yardsticks.

use crate::limits;
use std::collections::BTreeMap;
use std::ops::Range;

use super::clip::Watched;
use super::subject::{Seen, learn, sharper, trace};
use crate::sharpness::{Blurred, Energies};
use crate::store::schema::{ReferenceFrom, Side};
use crate::trial::{
    Bounds, FilmLimit, Judged, Observed, Rules, Trace, film_limit, judge, median, observe,
};

/// What a side of a clip is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct Yardstick {
    /// The sharp subject's energies, as this clip's film would see it.
    pub sharp: Energies,
    /// Whether the sharpest update may be sharper than that (the reference is
    /// the clip's own best, passes through focus included).
    pub own: bool,
    /// What the clip's own best is behind another clip's at least, as the square
    /// of a disc's diameter, ‰² ≥ 0.
    pub behind: f64,
    /// Standard uncertainty of the reference, ‰² of the blur's square (k = 1).
    pub square_u: f64,
    /// Whether it is known to half of the hit limit; else no trial is judged
    /// by it.
    pub known: bool,
    /// Where it is from.
    pub from: ReferenceFrom,
}

/// Yardsticks of one clip, by side.
pub type Yardsticks = BTreeMap<Option<Side>, Yardstick>;

/// Each side of a clip held against its own best.
pub fn own(watched: &Watched) -> Yardsticks {
    let of = |seen: &Seen| Yardstick {
        sharp: seen.sharp,
        own: true,
        behind: 0.0,
        square_u: 0.0,
        known: true,
        from: ReferenceFrom::Clip,
    };
    watched
        .sides
        .iter()
        .map(|(side, s)| (*side, of(s)))
        .collect()
}

/// One side's course of blur in a clip.
pub struct Course {
    /// Update by update.
    pub trace: Trace,
    /// By how much its sharpest update is sharper than the reference, ‰² ≤ 0.
    pub sharper: f64,
    /// Standard uncertainty of its reference, ‰² (k = 1).
    reference_u: f64,
    /// What the film makes unsure of this side; `None` until it is told, and
    /// where nothing of it rests near focus.
    pub film: Option<FilmLimit>,
    /// Updates that show the side, of trials whose film can be trusted.
    shown: Vec<Range<usize>>,
}

impl Course {
    /// Largest blur while the side is shown, ‰.
    fn largest(&self) -> f64 {
        let shown = self
            .shown
            .iter()
            .flat_map(|s| &self.trace.updates[s.clone()]);
        shown.map(|u| u.permille).fold(0.0, f64::max)
    }
}

/// The courses of a clip's sides. A side without a yardstick is left out.
pub fn courses(watched: &Watched, yardsticks: &Yardsticks) -> BTreeMap<Option<Side>, Course> {
    let of = |side: &Option<Side>, seen: &Seen| {
        let yardstick = yardsticks.get(side)?;
        let energy = &watched.energy;
        let subject = learn(energy, &yardstick.sharp, &seen.stretches, seen.hold)?;
        let mut trace = trace(energy, &watched.curve, &subject);
        let sharper = sharper(&trace, &seen.stretches);
        if yardstick.own {
            trace = trace.lowered(sharper);
        }
        let trials = watched.bounds.iter().zip(&watched.touched);
        let own = trials.filter(|(b, _)| b.stimulus.side == *side);
        let shown = own
            .zip(&seen.stretches)
            .filter(|((_, touched), _)| !touched.spoilt())
            .map(|(_, stretch)| stretch.clone())
            .collect();
        Some((
            *side,
            Course {
                trace,
                sharper,
                reference_u: if yardstick.known {
                    yardstick.square_u
                } else {
                    0.0
                },
                film: None,
                shown,
            },
        ))
    };
    watched
        .sides
        .iter()
        .filter_map(|(side, s)| of(side, s))
        .collect()
}

/// Takes off what chance selection adds to a side's own best: the luckiest of
/// several rests was taken, and the others, of a lens that focuses alike every
/// time, lie above it by what the film scatters. No more than the film's limit
/// is taken off.
pub fn unselect(
    yardsticks: &Yardsticks,
    courses: &mut BTreeMap<Option<Side>, Course>,
    seen: &[Observed],
    limit: &FilmLimit,
) {
    for (side, course) in courses {
        if yardsticks.get(side).is_some_and(|y| y.own) {
            let told = |o: &&Observed| o.stimulus.side == *side && !o.cut && !o.unclear;
            let ends = seen.iter().filter(told).filter_map(|o| o.end);
            let ends = ends.filter(|e| e.abs() < limits::NEAR_FOCUS.get());
            let middle = median(ends.map(|e| e * e.abs()).collect()).unwrap_or(0.0);
            let lucky = middle.clamp(0.0, limit.least * limit.least);
            course.trace = course.trace.lowered(lucky);
        }
    }
}

/// Adds what a clip's best is behind the setup's, where it is held against its own.
pub fn set_behind(yardsticks: &Yardsticks, courses: &mut BTreeMap<Option<Side>, Course>) {
    for (side, course) in courses {
        if let Some(y) = yardsticks.get(side).filter(|y| y.own) {
            course.trace = course.trace.lowered(-y.behind);
        }
    }
}

/// Observes the trials of a clip in its sides' courses.
pub fn observe_all(
    watched: &Watched,
    courses: &BTreeMap<Option<Side>, Course>,
    rules: &Rules,
) -> Vec<Observed> {
    let each = watched.bounds.iter().zip(&watched.touched);
    each.map(|(bounds, touched)| {
        let side = bounds.stimulus.side;
        let other = side.and_then(|s| courses.get(&Some(s.other())));
        let mut seen = match courses.get(&side) {
            Some(own) => {
                let rules = Rules {
                    reference_u: own.reference_u,
                    film_u: own.film.map_or(rules.film_u, |f| f.square_u),
                    ..*rules
                };
                observe(&own.trace, other.map(|c| &c.trace), bounds, &rules)
            }
            None => unseen(watched, bounds, rules),
        };
        if touched.lost {
            (seen.cut, seen.end) = (true, None);
        }
        seen.unclear |= touched.refocused || touched.drawn_over || watched.unclear;
        seen
    })
    .collect()
}

/// A trial of a side whose blur nothing in the clip tells.
fn unseen(watched: &Watched, bounds: &Bounds, rules: &Rules) -> Observed {
    let nothing = |_| Blurred {
        square: 0.0,
        square_u: 0.0,
    };
    Observed {
        unclear: true,
        onset: None,
        end: None,
        settle_s: None,
        ..observe(&Trace::new(&watched.curve, nothing), None, bounds, rules)
    }
}

/// The trials held against the clip's own best, at what its own film tells: for
/// what does not wait for the rest of the setup; and that film's limit.
pub fn observe_by_own(watched: &Watched, rules: &Rules) -> (Vec<Observed>, Option<FilmLimit>) {
    let yardsticks = own(watched);
    let mut courses = courses(watched, &yardsticks);
    let coarse = observe_all(watched, &courses, &rules.coarse());
    let limit = tell_films(watched, &mut courses, &coarse, rules);
    if let Some(l) = &limit {
        unselect(&yardsticks, &mut courses, &coarse, l);
    }
    let seen = observe_all(watched, &courses, &rules.filmed(limit));
    (seen, limit)
}

/// Tells each side's film, and how little blur this clip tells from none: that of
/// the side that tells less. `None` where nothing rests near focus in it.
pub fn tell_films(
    watched: &Watched,
    courses: &mut BTreeMap<Option<Side>, Course>,
    seen: &[Observed],
    rules: &Rules,
) -> Option<FilmLimit> {
    let hold_s = rules.hold_on(watched.curve.period_s);
    for (side, course) in courses.iter_mut() {
        let own = seen.iter().zip(&watched.bounds);
        let own = own.filter(|(o, _)| o.stimulus.side == *side && !o.unclear && !o.cut);
        course.film = film_limit(
            own.map(|(o, b)| (o, &course.trace, b.over_s.unwrap_or(f64::MAX))),
            hold_s,
        );
    }
    let each = courses.values().filter_map(|c| c.film);
    each.max_by(|a, b| a.least.total_cmp(&b.least))
}

/// Verdicts of a clip's trials.
pub fn judge_all(
    seen: &[Observed],
    courses: &BTreeMap<Option<Side>, Course>,
    hit: f64,
) -> Vec<Judged> {
    // While a side is in focus a lens that is out of it for the other has moved:
    // what one side shows holds for both.
    let displaced = courses.values().any(|c| c.largest() > hit);
    seen.iter().map(|o| judge(o, hit, displaced)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::schema::OnsetSeen;
    use crate::trial::{Stimulus, Update};

    fn course(permille: f64) -> Course {
        let update = |k: usize| Update {
            shown_s: k as f64 / 60.0,
            permille,
            blur: Blurred {
                square: permille * permille,
                square_u: 0.1,
            },
            mean: 0.5,
            white: 0.0,
        };
        Course {
            trace: Trace {
                updates: (0..60).map(update).collect(),
                ..Trace::default()
            },
            sharper: 0.0,
            reference_u: 0.0,
            film: None,
            shown: std::iter::once(10..50).collect(),
        }
    }

    fn in_focus_from_onset() -> Observed {
        let bounds = Bounds {
            stimulus: Stimulus {
                side: Some(Side::Near),
                move_s: Some(0.1),
                onset_s: 0.2,
                seen: OnsetSeen::Screen,
                onset_u_s: 0.0,
                off_s: None,
            },
            lag: None,
            over_s: None,
        };
        let rules = Rules {
            window_s: 0.5,
            hold_s: 0.1,
            delta: 4.0,
            hit: 4.0,
            rate_u: 0.0,
            film_u: 0.0,
            film_limit: 0.0,
            reference_u: 0.0,
        };
        let mut seen = observe(&course(0.0).trace, None, &bounds, &rules);
        (seen.cut, seen.end, seen.ready) = (false, Some(0.0), Some(true));
        seen.within_from_onset = true;
        seen
    }

    /// The side itself is only ever seen in focus: what the other shows of the
    /// lens decides whether anything was tested.
    #[test]
    fn early_needs_a_lens_that_was_seen_to_move() {
        let verdict = |far: f64| {
            let courses = BTreeMap::from([
                (Some(Side::Near), course(0.5)),
                (Some(Side::Far), course(far)),
            ]);
            judge_all(&[in_focus_from_onset()], &courses, 4.0).remove(0)
        };
        assert_eq!(verdict(20.0), Judged::Hit { early: true });
        assert!(matches!(verdict(1.0), Judged::Void(_)));
    }
}
