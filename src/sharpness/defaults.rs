//! What belongs to a measure: its version, its tolerance and its hit ratio.

use crate::rig::MeasureSpec;

/// The figures that hold for one measure only.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasureDefaults {
    /// Raised whenever the same film would give other numbers.
    pub version: u32,
    /// Half width of the band ÷ plateau.
    pub tolerance: f64,
    /// Plateau ÷ reference from which a trial is in focus.
    pub hit_ratio: f64,
}

/// The defaults of a measure.
///
/// The steeper a measure falls with blur, the wider its band for the same
/// blur; see the accuracy table for what each band means in pixels.
#[must_use]
pub fn defaults(measure: &MeasureSpec) -> MeasureDefaults {
    let (tolerance, hit_ratio) = match measure {
        MeasureSpec::Tenengrad { .. } => (0.05, 0.9),
        MeasureSpec::MidBand { .. } => (0.05, 0.9),
        MeasureSpec::VarianceOfLaplacian => (0.10, 0.8),
        MeasureSpec::NormalizedVariance => (0.02, 0.965),
        MeasureSpec::Brenner => (0.06, 0.88),
    };
    MeasureDefaults {
        // 2: hits need half the loss of sharpness that version 1 allowed.
        // 3: of a free pendulum only what changes across its way counts; rows
        // that go black count with the light they have while lit.
        version: 3,
        tolerance,
        hit_ratio,
    }
}
