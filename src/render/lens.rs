//! The lens's way through a clip: S-shaped pieces from turn to turn. The last
//! one to the goal may land slowly: its remainder then dies away with a time
//! constant.

use super::optics::Blur;
use super::scene::{Lens, Outcome, Side};

/// One S-shaped piece (raised cosine) of the way.
#[derive(Clone, Copy, Debug)]
struct Piece {
    start_s: f64,
    span_s: f64,
    from: f64,
    to: f64,
    /// From some point of it on the way left dies away exponentially: with this
    /// time constant, s, and until it has arrived, s after the piece's start.
    landing: Option<(f64, f64)>,
}

impl Piece {
    fn at(&self, t: f64) -> f64 {
        let since = t - self.start_s;
        let left = match self.landing {
            Some((_, over_s)) if since >= over_s => 0.0,
            Some((constant_s, _)) => self.left_landing(since, constant_s),
            None => self.left(since),
        };
        self.to - left * (self.to - self.from)
    }

    /// Share of the way left on a raised cosine.
    fn left(&self, since: f64) -> f64 {
        let tau = (since / self.span_s).clamp(0.0, 1.0);
        (1.0 + (std::f64::consts::PI * tau).cos()) / 2.0
    }

    /// The same with the end dying away: the two join where the cosine's own
    /// speed ÷ its way left, (π ÷ span)·tan(πu ÷ 2) at the share u of the
    /// span, is 1 ÷ `constant`, so that place and speed have no step.
    fn left_landing(&self, since: f64, constant: f64) -> f64 {
        let join = self.join(constant);
        let cosine = self.left(since.min(join));
        cosine * (-(since - join).max(0.0) / constant).exp()
    }

    /// When the landing begins, s after the start.
    fn join(&self, constant: f64) -> f64 {
        let pi = std::f64::consts::PI;
        2.0 / pi * (self.span_s / (pi * constant)).atan() * self.span_s
    }

    /// When so small a share of the way is left, s after the start.
    fn landed(&self, constant: f64, share: f64) -> f64 {
        let join = self.join(constant);
        join + constant * (self.left(join) / share).ln().max(0.0)
    }
}

/// Lens position over time (see [`super::optics`] for its unit).
#[derive(Clone, Debug)]
pub(crate) struct LensPath {
    rest: f64,
    pieces: Vec<Piece>,
}

/// What a trial's drive comes to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Drive {
    /// First movement, s; `None` where the lens stays.
    pub start_s: Option<f64>,
    /// Where it is meant to end.
    pub goal: f64,
    /// When it leaves the plane again, and whether it comes back.
    pub leaves_s: Option<f64>,
    pub returns: bool,
}

impl LensPath {
    pub(crate) fn new(rest: f64) -> Self {
        Self {
            rest,
            pieces: Vec::new(),
        }
    }

    /// Position at `t`.
    pub(crate) fn at(&self, t: f64) -> f64 {
        let after = self.pieces.partition_point(|p| p.start_s <= t);
        match after.checked_sub(1) {
            None => self.rest,
            Some(i) => self.pieces[i].at(t),
        }
    }

    /// Every place where the lens turns or stops.
    pub(crate) fn turns(&self) -> impl Iterator<Item = f64> {
        std::iter::once(self.rest).chain(self.pieces.iter().flat_map(|p| [p.from, p.to]))
    }

    /// Cuts what was still to come at `t` and goes to `to` from there.
    pub(crate) fn go(&mut self, t: f64, span_s: f64, to: f64) {
        let from = self.at(t);
        self.pieces.retain(|p| p.start_s < t);
        self.pieces.push(Piece {
            start_s: t,
            span_s,
            from,
            to,
            landing: None,
        });
    }

    /// The same, landing with a time constant; it has arrived once no more
    /// than `least` of lens position is left. How long that takes, s.
    fn land(&mut self, t: f64, span_s: f64, to: f64, (constant_s, least): (f64, f64)) -> f64 {
        self.go(t, span_s, to);
        let Some(piece) = self.pieces.last_mut().filter(|_| constant_s > 0.0) else {
            return span_s;
        };
        let way = (piece.to - piece.from).abs().max(1e-12);
        let over_s = piece.landed(constant_s, (least / way).min(1.0));
        piece.landing = Some((constant_s, over_s));
        over_s
    }

    /// Adds what the lens does in a trial on `side` that starts it at `t`;
    /// hunting without end is laid out up to `until_s`.
    pub(crate) fn trial(
        &mut self,
        (side, outcome): (Side, Outcome),
        lens: &Lens,
        blur: Blur,
        t: f64,
        until_s: f64,
    ) -> Drive {
        let unit = blur.per_unit(side);
        let here = self.at(t);
        let plane = Blur::plane(side);
        let way = if plane >= here { 1.0 } else { -1.0 };
        let short = match outcome {
            Outcome::Soft => lens.residual_permille / unit,
            Outcome::RanThrough => -lens.residual_permille / unit,
            _ => 0.0,
        };
        let goal = plane - way * short;
        let mut drive = Drive {
            start_s: None,
            goal,
            leaves_s: None,
            returns: outcome == Outcome::Relapse,
        };
        let still = (goal - here).abs() * unit < STILL_PERMILLE && outcome != Outcome::HuntedOn;
        if outcome == Outcome::NeverMoved || (still && lens.hunts == 0) {
            drive.goal = here;
            return drive;
        }
        drive.start_s = Some(t);
        let swing = lens.swing_ms / 1000.0;
        let mut clock = t;
        let mut span = lens.drive_ms / 1000.0;
        let endless = outcome == Outcome::HuntedOn;
        let turns = turns(lens, endless);
        let last = turns.len() - 1;
        for (k, (offset, rest_s)) in turns.into_iter().enumerate() {
            if endless && clock > until_s {
                break;
            }
            let to = goal + way * offset / unit;
            if k == last && !endless {
                let slow = (lens.landing_ms / 1000.0, LANDED_PERMILLE / unit);
                clock += self.land(clock, span, to, slow);
            } else {
                self.go(clock, span, to);
                clock += span + rest_s;
            }
            span = swing;
        }
        if matches!(outcome, Outcome::DidNotStay | Outcome::Relapse) {
            clock += lens.stay_ms / 1000.0;
            drive.leaves_s = Some(clock);
            self.go(clock, swing, goal - way * lens.leave_permille / unit);
            if drive.returns {
                self.go(clock + swing.max(lens.relapse_ms / 1000.0), swing, goal);
                return drive;
            }
            // From place to place until the end.
            for share in WANDER.into_iter().cycle() {
                clock += swing;
                if clock > until_s {
                    break;
                }
                self.go(
                    clock,
                    swing,
                    goal - way * lens.leave_permille * share / unit,
                );
            }
        }
        drive
    }
}

/// A lens that left for good goes to these shares of how far it left, by turns.
const WANDER: [f64; 2] = [0.4, 1.0];
/// Less than this left to go (‰ of blur) is no drive.
const STILL_PERMILLE: f64 = 0.5;
/// An overshoot that has died down below this (‰ of blur) is over.
const OVER_PERMILLE: f64 = 0.4;
/// A landing that has died down below this (‰ of blur) is over.
const LANDED_PERMILLE: f64 = 0.02;

/// Where the lens turns or rests on its way: beyond the goal along the drive, ‰ of
/// blur, and how long it rests there, s. Ends on the goal.
fn turns(lens: &Lens, endless: bool) -> Vec<(f64, f64)> {
    let sign = |k: usize| if k.is_multiple_of(2) { 1.0 } else { -1.0 };
    // Enough for a minute of the quickest hunting that is laid out.
    let hunts = if endless { 4000 } else { lens.hunts as usize };
    let swings = (0..hunts).map(|k| (sign(k) * lens.hunt_permille, 0.0));
    let mut out: Vec<(f64, f64)> = swings.collect();
    if endless {
        return out;
    }
    // A halt is short of the goal, on the side that the lens then comes from.
    if lens.halt_permille > 0.0 {
        let halt = -sign(hunts) * lens.halt_permille;
        out.push((halt, lens.halt_ms / 1000.0));
    }
    let mut size = lens.overshoot_permille;
    let mut k = hunts;
    while size > OVER_PERMILLE && k < hunts + 12 {
        out.push((sign(k) * size, 0.0));
        size *= lens.damping;
        k += 1;
    }
    out.push((0.0, 0.0));
    out
}

#[cfg(test)]
mod tests;
