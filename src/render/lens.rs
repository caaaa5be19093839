//! The lens's way through a clip: S-shaped pieces from turn to turn.

use super::optics::Blur;
use super::scene::{Lens, Outcome, Side};

/// One S-shaped piece (raised cosine) of the way.
#[derive(Clone, Copy, Debug)]
struct Piece {
    start_s: f64,
    span_s: f64,
    from: f64,
    to: f64,
}

impl Piece {
    fn at(&self, t: f64) -> f64 {
        let tau = ((t - self.start_s) / self.span_s).clamp(0.0, 1.0);
        let s = (1.0 - (std::f64::consts::PI * tau).cos()) / 2.0;
        self.from + s * (self.to - self.from)
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
        });
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
        for offset in turns(lens, endless) {
            if endless && clock > until_s {
                break;
            }
            self.go(clock, span, goal + way * offset / unit);
            clock += span;
            span = swing;
        }
        if matches!(outcome, Outcome::DidNotStay | Outcome::Relapse) {
            clock += lens.stay_ms / 1000.0;
            drive.leaves_s = Some(clock);
            self.go(clock, swing, goal - way * lens.leave_permille / unit);
            if drive.returns {
                self.go(clock + swing.max(lens.relapse_ms / 1000.0), swing, goal);
            }
        }
        drive
    }
}

/// Less than this left to go (‰ of blur) is no drive.
const STILL_PERMILLE: f64 = 0.5;
/// An overshoot that has died down below this (‰ of blur) is over.
const OVER_PERMILLE: f64 = 0.4;

/// Turning points beyond the goal, ‰ of blur, along the drive; ends on 0.
fn turns(lens: &Lens, endless: bool) -> Vec<f64> {
    let sign = |k: usize| if k.is_multiple_of(2) { 1.0 } else { -1.0 };
    // Enough for a minute of the quickest hunting that is laid out.
    let hunts = if endless { 4000 } else { lens.hunts as usize };
    let mut out: Vec<f64> = (0..hunts).map(|k| sign(k) * lens.hunt_permille).collect();
    if endless {
        return out;
    }
    let mut size = lens.overshoot_permille;
    while size > OVER_PERMILLE && out.len() < hunts + 12 {
        out.push(sign(out.len()) * size);
        size *= lens.damping;
    }
    out.push(0.0);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::scene::Optics;

    fn drive(outcome: Outcome, lens: &Lens) -> (LensPath, Drive) {
        let blur = Blur::new(&Optics {
            near_permille: 40.0,
            ..Optics::default()
        });
        let mut path = LensPath::new(0.0);
        let drive = path.trial((Side::Near, outcome), lens, blur, 1.0, 6.0);
        (path, drive)
    }

    fn reversals(path: &LensPath) -> usize {
        let at: Vec<f64> = (0..6000).map(|k| path.at(f64::from(k) * 1e-3)).collect();
        let moves = at
            .windows(2)
            .map(|w| w[1] - w[0])
            .filter(|d| d.abs() > 1e-9);
        let signs: Vec<bool> = moves.map(|d| d > 0.0).collect();
        signs.windows(2).filter(|s| s[0] != s[1]).count()
    }

    #[test]
    fn a_plain_drive_is_a_raised_cosine() {
        let (path, _) = drive(Outcome::Hit, &Lens::default());
        assert!(path.at(1.0).abs() < 1e-12);
        assert!((path.at(1.0 + 0.110) - 0.5).abs() < 1e-12);
        assert!((path.at(1.0 + 0.055) - (1.0 - 0.5_f64.sqrt()) / 2.0).abs() < 1e-12);
        assert!((path.at(1.22) - 1.0).abs() < 1e-12);
        assert_eq!(reversals(&path), 0);
    }

    #[test]
    fn hunting_turns_as_often_as_asked() {
        for hunts in 1..6 {
            let lens = Lens {
                hunts,
                hunt_permille: 8.0,
                ..Lens::default()
            };
            let (path, _) = drive(Outcome::Hit, &lens);
            assert_eq!(reversals(&path), hunts as usize);
            assert!((path.at(5.9) - 1.0).abs() < 1e-12);
            // 8 ‰ of 40 ‰ per unit beyond the plane.
            assert!((path.at(1.22) - 1.2).abs() < 1e-9);
        }
    }

    #[test]
    fn an_overshoot_dies_down_by_its_damping() {
        let lens = Lens {
            overshoot_permille: 10.0,
            damping: 0.4,
            ..Lens::default()
        };
        let (path, _) = drive(Outcome::Hit, &lens);
        for (k, want) in [1.25, 0.9, 1.04, 0.984].iter().enumerate() {
            let t = 1.22 + 0.09 * k as f64;
            assert!((path.at(t) - want).abs() < 1e-9, "turn {k}");
        }
        assert!((path.at(3.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn outcomes_end_where_they_should() {
        let lens = Lens::default();
        let (path, soft) = drive(Outcome::Soft, &lens);
        assert!((path.at(5.0) - (1.0 - 9.0 / 40.0)).abs() < 1e-12);
        assert!((soft.goal - path.at(5.0)).abs() < 1e-12);
        let (path, stays) = drive(Outcome::NeverMoved, &lens);
        assert!(path.at(5.0).abs() < 1e-12 && stays.start_s.is_none());
        let (path, left) = drive(Outcome::DidNotStay, &lens);
        assert!((left.leaves_s.unwrap() - 1.72).abs() < 1e-9);
        assert!((path.at(5.0) - (1.0 - 14.0 / 40.0)).abs() < 1e-12);
        let (path, _) = drive(Outcome::Relapse, &lens);
        assert!((path.at(1.85) - (1.0 - 14.0 / 40.0)).abs() < 1e-9);
        assert!((path.at(5.0) - 1.0).abs() < 1e-12);
        let (path, _) = drive(Outcome::HuntedOn, &lens);
        assert!(reversals(&path) > 40);
    }
}
