//! An edge in a profile that runs from the dark bezel into the lit screen.

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Edge {
    /// Where the profile is steepest, in samples from its first.
    pub at: f64,
    /// Rise ÷ slope, samples: σ·√(2π) for a Gaussian spread of standard
    /// deviation σ. Taken on the side of the bezel.
    pub width: f64,
    /// Light outside.
    pub dark: f32,
}

/// Samples on either side of an edge that its levels are taken from.
const FAR: usize = 5;
const NEAR: usize = 3;
/// Samples that a profile needs before and after the places searched.
pub(super) const MARGIN: usize = FAR + 1;
/// Least rise, about linear light, white = 1.
pub(super) const LEAST_RISE: f32 = 0.015;
/// Share of the steepest rise from which a rise may be the edge.
const STEEP: f32 = 0.5;

/// √(2π) ÷ √(2 ln 2): from half width at half maximum to rise ÷ slope.
const WIDTH: f64 = 2.128_934;

/// The outermost plain rise of `p`, dark to lit; `None` where there is none.
pub(super) fn find(p: &[f32]) -> Option<Edge> {
    let last = p.len().checked_sub(MARGIN)?;
    let rise = |k: usize| p[k + 1] - p[k - 1];
    let steepest = (MARGIN..last).map(rise).fold(0.0, f32::max);
    let first = (MARGIN..last).find(|k| rise(*k) >= STEEP * steepest)?;
    // Up the flank to its steepest place.
    let k = (first..last)
        .take_while(|k| *k == first || rise(*k) >= rise(*k - 1))
        .last()?;
    let dark = mean(&p[k - FAR..=k - NEAR]);
    let lit = mean(&p[k + NEAR..=k + FAR]);
    let height = lit - dark;
    if height < LEAST_RISE {
        return None;
    }
    // The steepest place, by a parabola: what the live picture does behind the
    // edge moves it less than it moves the half-way crossing.
    let (before, top, after) = (rise(k - 1), rise(k), rise(k + 1));
    if before > top || after > top {
        // The flank of something beyond the places searched.
        return None;
    }
    let bend = before - 2.0 * top + after;
    let aside = if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    };
    // Outwards to where it rises half as steeply: the bezel's side of the edge
    // hardly knows what is on the screen.
    let half = 0.5 * (top - 0.25 * (before - after) * aside);
    let out = (1..=k - 1).find(|i| rise(k - i) <= half)?;
    let (steep, flat) = (rise(k + 1 - out), rise(k - out));
    let (k, out) = (k as f32, out as f32);
    let reach = out - (half - flat) / (steep - flat).max(f32::MIN_POSITIVE) + aside;
    Some(Edge {
        at: f64::from(k + aside),
        width: f64::from(reach) * WIDTH,
        dark,
    })
}

fn mean(v: &[f32]) -> f32 {
    v.iter().sum::<f32>() / v.len() as f32
}
