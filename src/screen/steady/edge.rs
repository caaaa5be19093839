//! An edge in a profile that runs from the dark bezel into the lit screen.

/// An edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Edge {
    /// Where the profile crosses half-way, in samples from its first.
    pub at: f64,
    /// Rise ÷ slope at the crossing, samples: for a Gaussian spread of
    /// standard deviation σ it is σ·√(2π).
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
    let half = f32::midpoint(dark, lit);
    let j = (k - NEAR..k + NEAR).find(|j| p[*j] < half && half <= p[*j + 1])?;
    let share = (half - p[j]) / (p[j + 1] - p[j]);
    let slope = 0.5 * (rise(j) + share * (rise(j + 1) - rise(j)));
    if slope <= 0.05 * height {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    Some(Edge {
        at: j as f64 + f64::from(share),
        width: f64::from(height / slope),
        dark,
    })
}

#[allow(clippy::cast_precision_loss)]
fn mean(v: &[f32]) -> f32 {
    v.iter().sum::<f32>() / v.len() as f32
}
