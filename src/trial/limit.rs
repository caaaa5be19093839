//! How little blur a film tells from none.
//!
//! In: the courses of blur while the picture rests near focus: what still
//! changes is noise, and detail that compression gives back. Out: [`FilmLimit`].
//! Rest is held against rest of the same trial, so that neither the reference nor
//! where the lens stopped plays a part.

use super::moments::Observed;
use super::trace::Trace;
use crate::limits;
use crate::ranked::nearest_rank as quantile;

/// What a film makes unsure of blur.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmLimit {
    /// The blur that is told from none in 95 % of updates at 5 % false
    /// alarms, ‰.
    pub least: f64,
    /// Standard uncertainty by this film of what a hold shows, ‰² of the blur's
    /// square: how that wanders within a rest, and from rest to rest. The lens may
    /// have its part in the latter, so it widens what is said of a blur and raises
    /// no limit.
    pub square_u: f64,
}

impl FilmLimit {
    /// The least δ that this film allows: its limit rounded up, ‰.
    pub fn raised(&self) -> f64 {
        (self.least / DELTA_STEP - 1e-9).ceil() * DELTA_STEP
    }
}

/// Steps in which δ is raised, ‰.
pub const DELTA_STEP: f64 = 0.5;

/// The limit from trials and the trace each lies in. A rest begins where the
/// trial settled, because compression hides most detail just after motion, and
/// settle is told there. The last of the lens's own way is counted with it; it
/// lies within the δ that the trials were settled by. A rest lasts to the end of
/// window and hold, or to `over_s` (the next stimulus): later the lens may be on
/// its way again.
/// `None` where nothing rests near focus.
pub fn film_limit<'a>(
    trials: impl Iterator<Item = (&'a Observed, &'a Trace, f64)>,
    hold_s: f64,
) -> Option<FilmLimit> {
    let (mut spreads, mut wanders, mut middles) = (Vec::new(), Vec::new(), Vec::new());
    for (seen, trace, over_s) in trials {
        let Some(settle) = seen.settle_s else {
            continue;
        };
        let until = over_s.min(seen.end_s + hold_s);
        let updates = trace.between(settle.max(seen.shown_onset_s), until);
        let blur: Vec<f64> = updates.iter().map(|u| u.permille).collect();
        let Some(centre) = quantile(&blur, 0.5) else {
            continue;
        };
        let rests = |v: f64| (v - centre).abs() < limits::AT_REST.get();
        let from = updates.iter().take_while(|u| !rests(u.permille)).count();
        let updates = &updates[from..];
        let n = updates.iter().take_while(|u| rests(u.permille)).count();
        if n < limits::FEWEST_AT_REST.count() || centre.abs() > limits::NEAR_FOCUS.get() {
            continue;
        }
        let rest = &updates[..n];
        let squares: Vec<f64> = rest.iter().map(|u| u.blur.square).collect();
        spreads.extend(spread(&squares, limits::FALSE_ALARMS.get()));
        // An end is told long after motion.
        let early = rest.partition_point(|u| u.shown_s < rest[0].shown_s + hold_s / 2.0);
        let late = Some(&squares[early..]).filter(|l| !l.is_empty());
        let ends = ends(late.unwrap_or(&squares), hold_s / trace.period_s);
        middles.push(quantile(&ends, 0.5)?);
        wanders.extend(spread(&ends, 0.0));
    }
    let share = limits::OF_RESTS.get();
    let within = quantile(&spreads, share)?;
    let wander = quantile(&wanders, share)? / 2.0;
    let between =
        spread(&middles, ONE_SIGMA).filter(|_| middles.len() >= limits::FEWEST_RESTS.count());
    Some(FilmLimit {
        least: within.sqrt(),
        square_u: wander.hypot(between.unwrap_or(0.0) / 2.0),
    })
}

/// The middles of every stretch of `hold` updates in a rest; of the whole rest
/// where it is no longer than that.
fn ends(rest: &[f64], hold: f64) -> Vec<f64> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let hold = (hold.round() as usize).clamp(1, rest.len());
    let middle = |w: &[f64]| quantile(w, 0.5);
    rest.windows(hold).filter_map(middle).collect()
}

/// What lies between the values at a share from either end.
fn spread(v: &[f64], share: f64) -> Option<f64> {
    Some(quantile(v, 1.0 - share)? - quantile(v, share)?)
}

/// Share of a normal distribution below one standard deviation under its mean.
const ONE_SIGMA: f64 = 0.16;
