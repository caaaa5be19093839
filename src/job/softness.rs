//! How soft the film itself is: what clips that are framed differently do to the
//! same subject.
//!
//! Told from the screen's own edges, which are as sharp as the panel's pixels,
//! and never from the subject. The width of an edge (rise ÷ slope) of a Gaussian
//! spread of standard deviation σ is σ √(2π); a disc of diameter 4 σ has the
//! same variance and takes as much from low frequencies.

use super::signals::Facts;

/// The film's softness as the square of a disc's diameter, ‰² of the screen's
/// height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FilmSoftness {
    pub square: f64,
    /// Its standard uncertainty: what the edges' width wanders by in a clip is
    /// what it differs by between clips of one camera.
    pub square_u: f64,
}

impl FilmSoftness {
    /// From a clip's facts. A feed is not filmed, so it adds nothing.
    pub fn of(facts: &Facts, feed: bool) -> Option<Self> {
        if feed {
            return Some(Self {
                square: 0.0,
                square_u: 0.0,
            });
        }
        let [width, spread] = facts.edges_px?;
        let permille = 4.0 * width / (std::f64::consts::TAU.sqrt()) / facts.height_px * 1e3;
        let square = permille * permille;
        Some(Self {
            square,
            square_u: 2.0 * square * spread / width,
        })
    }

    /// What `to` is softer by than `self`, and its standard uncertainty.
    pub fn towards(&self, to: &Self) -> (f64, f64) {
        (to.square - self.square, self.square_u.hypot(to.square_u))
    }
}
