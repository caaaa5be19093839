//! The screen's own pixels in the film: a lattice, or its beats with the
//! film's pixels (moiré), that adds energy whatever the subject does.
//!
//! A lattice shines through every picture alike: its brightness is the
//! picture's times a fixed pattern, so its energy ÷ mean² is a constant, which
//! is taken off the whole curve. Told from a subject's own regular pattern by
//! standing in the sharp pictures of both sides.

use super::subject::Sharp;
use crate::sharpness::Line;
use crate::store::schema::hygiene as record;
use crate::trial::Curve;

/// A lattice found in a clip's pictures.
pub struct Moire {
    /// Its waves.
    pub lines: Vec<Line>,
    /// Its energy ÷ mean², to be taken off; `None` where it cannot be told
    /// from the subject.
    pub level: Option<f64>,
    /// Its largest share of a sharp picture's energy.
    pub share: f64,
}

/// Least share of a sharp picture's energy that matters.
const LEAST_SHARE: f64 = 0.02;

/// Looks for a lattice in the sharp pictures of a clip.
#[must_use]
pub fn look(sharp: &[Sharp]) -> Option<Moire> {
    let (first, rest) = sharp.split_first()?;
    let in_all = |l: &&Line| rest.iter().all(|s| s.lines.iter().any(|o| o.same(l)));
    let lines: Vec<Line> = first.lines.iter().filter(in_all).copied().collect();
    let share_in = |s: &Sharp| -> f64 {
        let own = s.lines.iter().filter(|l| lines.iter().any(|o| o.same(l)));
        own.map(|l| l.share).sum()
    };
    let share = sharp.iter().map(share_in).fold(0.0, f64::max);
    let level = sharp
        .iter()
        .map(|s| share_in(s) * s.level / (1.0 - s.noise_share))
        .fold(f64::MAX, f64::min);
    (share > LEAST_SHARE).then_some(Moire {
        lines,
        level: (!rest.is_empty()).then_some(level),
        share,
    })
}

impl Moire {
    /// Takes the lattice's energy off a curve.
    pub fn take_off(&self, curve: &mut Curve) {
        if let Some(level) = self.level {
            curve.lower(level);
        }
    }

    /// As the timing file has it.
    #[must_use]
    pub fn record(&self) -> record::Moire {
        record::Moire {
            share: super::setup::tidy(self.share),
            lines: u32::try_from(self.lines.len()).unwrap_or(u32::MAX),
            taken_off: self.level.is_some(),
        }
    }
}
