//! Where the lens goes in a trial: from the far-off start to where it stops.

use rand::{Rng, RngExt};

/// A way: position over time since the onset, in pieces.
pub struct Way {
    pub name: &'static str,
    /// Where it begins and where it stops, in the stack's units.
    pub start: f64,
    pub end: f64,
    pieces: Vec<Piece>,
}

/// From the end of the piece before.
struct Piece {
    until_s: f64,
    to: f64,
    how: How,
}

#[derive(Clone, Copy)]
enum How {
    Rest,
    /// A raised cosine.
    Drive,
    /// An exponential with this time constant, s.
    Landing(f64),
}

/// Where trials stop, from the place of the reference, in the stack's units.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// In focus: at most 3.
    In,
    /// Between: neither has to be said.
    Between,
    /// Out: at least 15.
    Out,
}

impl Stop {
    fn draw(self, rng: &mut impl Rng) -> f64 {
        match self {
            Self::In => rng.random_range(0.0..3.0),
            Self::Between => rng.random_range(4.0..14.0),
            Self::Out => rng.random_range(15.5..26.0),
        }
    }
}

/// What a lens may do on its way.
const COURSES: [&str; 6] = ["ramp", "overshoot", "hunt", "landing", "landing", "through"];

/// A way to a stop; `best` is in focus, the lens begins at `start`, and 1 ‰ of
/// blur is `unit` of the stack's units.
pub fn way(stop: Stop, best: f64, start: f64, unit: f64, rng: &mut impl Rng) -> Way {
    // Which side of focus it comes from.
    let from = (start - best).signum();
    let far = stop.draw(rng);
    let (name, side) = match (stop, rng.random_range(0..COURSES.len())) {
        (Stop::Out, 0..3) => ("give up", from),
        (Stop::Out, _) => ("through", -from),
        (_, k) if COURSES[k] == "through" => ("through", -from),
        (_, k) => (COURSES[k], from),
    };
    // A drive that ends in focus may do so on either side.
    let side = if stop == Stop::In && name != "through" && rng.random() {
        -side
    } else {
        side
    };
    let end = best + side * far;
    let mut w = Way {
        name,
        start,
        end,
        pieces: Vec::new(),
    };
    w.then(rng.random_range(0.03..0.12), start, How::Rest);
    let drive = rng.random_range(0.09..0.25);
    let swing = rng.random_range(0.08..0.14);
    match name {
        "overshoot" => {
            let size = unit * rng.random_range(2.0..8.0);
            w.then(drive, end - from * size, How::Drive);
            w.then(swing, end + from * size * 0.3, How::Drive);
            w.then(swing, end, How::Drive);
        }
        "hunt" => {
            let size = unit * rng.random_range(2.5..6.0);
            w.then(drive, end - from * size, How::Drive);
            w.then(swing, end + from * size, How::Drive);
            w.then(swing, end - from * size * 0.5, How::Drive);
            w.then(swing, end, How::Drive);
        }
        "landing" => {
            let left = unit * rng.random_range(3.0..9.0);
            let tau = rng.random_range(0.06..0.18);
            w.then(drive * 0.6, end + from * left, How::Drive);
            // What is left then is a fifth of a unit.
            w.then(4.5 * tau, end, How::Landing(tau));
        }
        "give up" => {
            w.then(drive, best + from * 2.0, How::Drive);
            w.then(swing, best + from * 16.0, How::Drive);
            w.then(swing, best - from * 6.0, How::Drive);
            w.then(drive, end, How::Drive);
        }
        _ => w.then(drive, end, How::Drive),
    }
    w
}

impl Way {
    /// A lens that rests.
    pub fn rest(at: f64) -> Self {
        Self {
            name: "rest",
            start: at,
            end: at,
            pieces: Vec::new(),
        }
    }

    fn then(&mut self, span_s: f64, to: f64, how: How) {
        let from_s = self.pieces.last().map_or(0.0, |p| p.until_s);
        self.pieces.push(Piece {
            until_s: from_s + span_s,
            to,
            how,
        });
    }

    /// Position `t` seconds after the onset.
    pub fn at(&self, t: f64) -> f64 {
        let (mut from_s, mut from) = (0.0, self.start);
        for p in &self.pieces {
            if t < p.until_s {
                let since = (t - from_s).max(0.0);
                let left = match p.how {
                    How::Rest => 1.0,
                    How::Drive => drive_left(since / (p.until_s - from_s)),
                    How::Landing(tau) => (-since / tau).exp(),
                };
                return p.to + left * (from - p.to);
            }
            (from_s, from) = (p.until_s, p.to);
        }
        self.end
    }
}

/// What is left of a raised cosine after a share of its time.
pub fn drive_left(share: f64) -> f64 {
    f64::midpoint(1.0, (std::f64::consts::PI * share.clamp(0.0, 1.0)).cos())
}
