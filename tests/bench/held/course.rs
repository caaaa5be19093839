//! Where the lens was in every update of the screen, and what follows from it
//! for any δ: blur relative to the end, the crossing, the pair around it.

/// The lens as the screen showed it.
pub struct Course {
    /// When each update is shown, s from the first frame.
    pub shown_s: Vec<f64>,
    /// Where the lens is in it.
    pub at: Vec<f64>,
    /// Blur per unit of distance from the subject, ‰ of the screen's height:
    /// of positions below and above it.
    pub permille: [f64; 2],
}

/// How far a lens position is from the end, as blur.
#[derive(Clone, Copy)]
pub enum Blur {
    /// The blur's own difference: the lens in focus at this position. Either
    /// side of focus looks alike.
    Folded(f64),
    /// The way along the rail: either side of focus is another photograph.
    Straight,
}

/// A settle about δ.
#[derive(Clone, Copy, Debug)]
pub struct Pair {
    /// First updates after which the blur stays below 1.5 δ and below δ ÷ 1.5.
    pub first_s: f64,
    pub last_s: f64,
    /// The same of δ itself.
    pub crossing_s: f64,
}

impl Pair {
    /// Distance outside, s: below 0 too early.
    pub fn outside(&self, settle_s: f64) -> f64 {
        (settle_s - self.first_s).min(0.0) + (settle_s - self.last_s).max(0.0)
    }
}

/// The ends of a pair are this far from δ, as a factor (the contract's).
const AROUND: f64 = 1.5;

impl Course {
    /// The pair around `delta` of a trial whose onset is shown at `onset_s`
    /// and whose window ends at `end_s`, watched for `hold_s` more. None where
    /// the blur does not stay.
    pub fn pair(
        &self,
        blur: Blur,
        onset_s: f64,
        (end_s, hold_s): (f64, f64),
        delta: f64,
    ) -> Option<Pair> {
        let from = self.shown_s.partition_point(|t| *t < onset_s - 1e-6);
        let until = self.shown_s.partition_point(|t| *t <= end_s + hold_s);
        let end = self.end(end_s, hold_s)?;
        let first = |limit: f64| {
            let off = |k: &usize| self.off(blur, self.at[*k], end) >= limit;
            match (from..until).rev().find(off) {
                Some(k) if k + 1 == until => None,
                Some(k) => Some(self.shown_s[k + 1]),
                // It was there when the stimulus came.
                None => Some(onset_s),
            }
        };
        Some(Pair {
            first_s: first(delta * AROUND)?,
            last_s: first(delta / AROUND)?,
            crossing_s: first(delta)?,
        })
    }

    /// Median position over the hold after the window.
    fn end(&self, end_s: f64, hold_s: f64) -> Option<f64> {
        let from = self.shown_s.partition_point(|t| *t < end_s);
        let until = self.shown_s.partition_point(|t| *t <= end_s + hold_s);
        let mut held = self.at.get(from..until)?.to_vec();
        held.sort_by(f64::total_cmp);
        held.get(held.len() / 2).copied()
    }

    fn off(&self, blur: Blur, at: f64, end: f64) -> f64 {
        let [below, above] = self.permille;
        let folded = |z: f64, focus: f64| {
            let slope = if z < focus { below } else { above };
            slope * (z - focus).abs()
        };
        match blur {
            Blur::Folded(focus) => (folded(at, focus) - folded(end, focus)).abs(),
            Blur::Straight => f64::midpoint(below, above) * (at - end).abs(),
        }
    }
}
