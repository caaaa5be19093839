//! All clips: the likeliest alignment of all bursts, and its nearest rival.
//!
//! Bursts are given to the clips in order, so many to each; before the first one
//! of a clip and after the last of all some may lie outside (a photograph to
//! try). What an alignment costs is the sum of what its clips' fits cost, and
//! [`CLEAR`] for each burst outside. Found by dynamic programming (Bellman 1957)
//! over clip and burst, the two best kept throughout.

use std::ops::Range;

use super::align::{Fit, Look};
use super::order::other_side;
use super::sound::sound;
use super::stretch::Stretches;
use super::times::Times;
use super::{PairError, Shot, Slot};

/// How much more a rival must cost, and how much less than nothing the likeliest
/// alignment: the logarithm of a million. Let photographs come evenly over some
/// time, or by any law that is nowhere denser. Then n of them, put down to some
/// wrong trials, come within a share s of that time in n s^(n−1) of all sessions at
/// most. So chance makes a wrong alignment as steady as is asked here in n of a
/// million.
const CLEAR: f64 = 13.815_510_557_964_274;

/// What the times tell.
pub(super) struct Found {
    /// The slot of every photograph.
    pub slots: Vec<Option<usize>>,
    /// Whether they come more steadily than by chance.
    pub sure: bool,
    /// Another answer that fits about as well.
    pub rival: Option<Vec<Option<usize>>>,
}

/// Bursts in a clip.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Which clip.
    pub clip: usize,
    /// Which bursts.
    pub bursts: Range<usize>,
    /// Time of the photographs at which its first frame was taken, seconds.
    pub offset_s: f64,
}

/// One way on from a clip and a burst, with all that follows.
#[derive(Clone, Debug)]
struct Step {
    cost: f64,
    run: Option<Run>,
    /// The burst that the next clip goes on with, and which of its ways.
    next: (usize, usize),
}

/// Finds the alignment.
///
/// # Errors
/// None fits, or the best one breaks up a burst, or has photographs come too
/// unevenly for times to tell.
pub(super) fn search(
    shots: &[Shot],
    slots: &[Slot],
    stretches: &Stretches,
    times: &Times,
) -> Result<Found, PairError> {
    let look = |sides| Look {
        shots,
        times,
        shortest_s: stretches.shortest_s,
        sides,
    };
    likeliest(&look(true), slots, stretches).map_err(|error| {
        // Is it a side that keeps the photographs from where they fall?
        let without = likeliest(&look(false), slots, stretches).ok();
        let sure = without.filter(|found| found.sure && found.rival.is_none());
        sure.and_then(|found| other_side(shots, slots, found.slots.into_iter()))
            .unwrap_or(error)
    })
}

fn likeliest(look: &Look, slots: &[Slot], stretches: &Stretches) -> Result<Found, PairError> {
    let ways = ways(look, stretches);
    let Some(best) = ways[0][0].first() else {
        return Err(PairError::NoFit {
            pictures: look.shots.len(),
            trials: slots.len(),
        });
    };
    sound(look, slots, stretches, &runs(&ways, 0))?;
    let given = |rank| given(look, stretches, &runs(&ways, rank));
    let near = |rival: &&Step| rival.cost - best.cost < CLEAR;
    Ok(Found {
        slots: given(0),
        sure: best.cost < -CLEAR,
        rival: ways[0][0].get(1).filter(near).map(|_| given(1)),
    })
}

/// How many bursts may lie outside: one to try before each clip, and one after
/// the last.
fn spare(stretches: &Stretches) -> usize {
    stretches.clips.len() + 1
}

/// Which bursts a clip may begin with: those before it have had no more than a
/// burst for each trial, and those after it have no more to take, but for the
/// few outside. A row for each clip, and one for the end.
fn open(stretches: &Stretches, bursts: usize) -> Vec<Range<usize>> {
    let spare = spare(stretches);
    let all: usize = stretches.clips.iter().map(|c| c.onsets_s.len()).sum();
    let mut before = vec![0];
    for clip in &stretches.clips {
        before.push(clip.first + clip.onsets_s.len());
    }
    let range = |&before: &usize| {
        bursts.saturating_sub(all - before + spare)..(before + spare).min(bursts) + 1
    };
    before.iter().map(range).collect()
}

/// The two best ways on, for every clip and burst; after the last clip all that
/// is left lies outside.
fn ways(look: &Look, stretches: &Stretches) -> Vec<Vec<Vec<Step>>> {
    let n = look.times.bursts.len();
    let open = open(stretches, n);
    let clips = stretches.clips.len();
    let end = |burst: usize| Step {
        cost: (n - burst) as f64 * CLEAR,
        run: None,
        next: (n, 0),
    };
    let ends = (0..=n).map(|burst| match open[clips].contains(&burst) {
        true => vec![end(burst)],
        false => Vec::new(),
    });
    let mut all = vec![ends.collect::<Vec<_>>()];
    for clip in (0..clips).rev() {
        let after = &all[all.len() - 1];
        let fits: Vec<_> = (0..n.min(open[clip].end))
            .map(|from| fits_from(look, stretches, clip, from, after))
            .collect();
        let here = (0..=n).map(|burst| match open[clip].contains(&burst) {
            true => ways_on(clip, burst, &fits, after, spare(stretches)),
            false => Vec::new(),
        });
        let here = here.collect();
        all.push(here);
    }
    all.reverse();
    all
}

/// Fits of the bursts from one on in a clip, by where they end: where there is a
/// way on from.
fn fits_from(
    look: &Look,
    stretches: &Stretches,
    clip: usize,
    from: usize,
    after: &[Vec<Step>],
) -> Vec<(usize, Vec<Fit>)> {
    let stretch = &stretches.clips[clip];
    let within = |to: &usize| {
        let (first, last) = look.span(&(from..*to));
        last - first < stretch.span_s()
    };
    let ends = (from + 1..=look.times.bursts.len()).take_while(within);
    let ends = ends.filter(|&to| !after[to].is_empty());
    ends.map(|to| (to, look.fits(stretch, from..to))).collect()
}

fn ways_on(
    clip: usize,
    burst: usize,
    fits: &[Vec<(usize, Vec<Fit>)>],
    after: &[Vec<Step>],
    spare: usize,
) -> Vec<Step> {
    let on = |cost: f64, run: Option<Run>, next: usize| {
        let ranked = after[next].iter().enumerate();
        ranked
            .map(|(rank, way)| Step {
                cost: cost + way.cost,
                run: run.clone(),
                next: (next, rank),
            })
            .collect::<Vec<_>>()
    };
    // The clip has none.
    let mut found = on(0.0, None, burst);
    // Some outside, then the clip's own.
    let begins = fits.iter().enumerate().skip(burst).take(spare + 1);
    for (from, fits) in begins {
        let outside = (from - burst) as f64 * CLEAR;
        for (to, fits) in fits {
            for fit in fits {
                let run = Run {
                    clip,
                    bursts: from..*to,
                    offset_s: fit.offset_s,
                };
                found.extend(on(outside + fit.cost, Some(run), *to));
            }
        }
    }
    found.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    found.truncate(2);
    found
}

/// The runs of the best alignment (0) or of its rival (1).
fn runs(ways: &[Vec<Vec<Step>>], rank: usize) -> Vec<Run> {
    let (mut burst, mut rank) = (0, rank);
    let mut found = Vec::new();
    for clip in &ways[..ways.len() - 1] {
        let way = &clip[burst][rank];
        found.extend(way.run.clone());
        (burst, rank) = way.next;
    }
    found
}

/// The slot of every photograph.
fn given(look: &Look, stretches: &Stretches, runs: &[Run]) -> Vec<Option<usize>> {
    let mut slots = vec![None; look.shots.len()];
    for run in runs {
        let clip = &stretches.clips[run.clip];
        for burst in &look.times.bursts[run.bursts.clone()] {
            for shot in burst.shots.clone() {
                let place = clip.at(look.times.s[shot] - run.offset_s);
                slots[shot] = place.map(|(place, _)| clip.first + place);
            }
        }
    }
    slots
}
