//! Where the summed evidence is after each look, among all courses that have
//! not ended: recursive numerical integration.
//!
//! The sum of evidence at a share `t` of the planned trials is normal around
//! `drift · t` with variance `t`, and its steps are independent. The density of
//! courses that went on is kept on the nodes of Simpson's rule.

use super::super::normal::below;

/// Nodes to the standard deviation of the shortest step.
const PER_STEP: f64 = 8.0;
/// Most intervals of one band: steps shorter than a thousandth of the range.
const MOST: f64 = 4000.0;
/// Standard deviations beyond which no course is followed.
const FAR: f64 = 8.5;

/// The courses that have not ended.
pub(super) struct Walk {
    drift: f64,
    width: f64,
    share: f64,
    /// Place, and chance to be there.
    nodes: Vec<(f64, f64)>,
}

impl Walk {
    /// Starts at 0. `shares` are those of the looks to come, rising.
    pub fn new(drift: f64, shares: &[f64]) -> Self {
        let before = std::iter::once(&0.0).chain(shares);
        let steps = shares.iter().zip(before).map(|(t, s)| (t - s).sqrt());
        Self {
            drift,
            width: steps.fold(1.0, f64::min) / PER_STEP,
            share: 0.0,
            nodes: vec![(0.0, 1.0)],
        }
    }

    /// Chance to have gone on until now and to stand below −`critical` or above
    /// `critical` standard errors at the share `t`.
    pub fn beyond(&self, t: f64, critical: f64) -> [f64; 2] {
        let (sd, shift) = self.step(t);
        let limit = critical * t.sqrt();
        self.nodes
            .iter()
            .fold([0.0; 2], |[low, high], (at, chance)| {
                let mean = at + shift;
                [
                    low + chance * below((-limit - mean) / sd),
                    high + chance * below((mean - limit) / sd),
                ]
            })
    }

    /// Goes on to the share `t`, within these bands, in standard errors.
    pub fn go_on(&mut self, t: f64, bands: &[(f64, f64)]) {
        let (sd, shift) = self.step(t);
        let root = t.sqrt();
        let centre = self.drift * t;
        let mut nodes = Vec::new();
        for &(low, high) in bands {
            let low = (low * root).max(centre - FAR * root);
            let high = (high * root).min(centre + FAR * root);
            if high > low {
                nodes.extend(self.band(low, high, sd, shift));
            }
        }
        self.nodes = nodes;
        self.share = t;
    }

    fn step(&self, t: f64) -> (f64, f64) {
        let by = t - self.share;
        (by.sqrt(), self.drift * by)
    }

    fn band(&self, low: f64, high: f64, sd: f64, shift: f64) -> Vec<(f64, f64)> {
        let pairs = ((high - low) / self.width / 2.0)
            .ceil()
            .clamp(4.0, MOST / 2.0) as usize;
        let h = (high - low) / (2 * pairs) as f64;
        let root = (2.0 * std::f64::consts::PI).sqrt() * sd;
        (0..=2 * pairs)
            .map(|k| {
                let at = low + h * k as f64;
                // Nodes rise, and those far off add nothing.
                let (first, last) = (at - shift - FAR * sd, at - shift + FAR * sd);
                let from = self.nodes.partition_point(|n| n.0 < first);
                let to = self.nodes.partition_point(|n| n.0 <= last);
                let density: f64 = self.nodes[from..to]
                    .iter()
                    .map(|(from, chance)| {
                        let z = (at - from - shift) / sd;
                        chance * (-0.5 * z * z).exp()
                    })
                    .sum();
                let weight = match k {
                    k if k == 0 || k == 2 * pairs => 1.0,
                    k if k % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                (at, density / root * weight * h / 3.0)
            })
            .collect()
    }
}
