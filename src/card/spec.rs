//! What card is wanted.

/// Which subject the card is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The target that swings in.
    Near,
    /// The background behind it.
    Far,
}

impl Side {
    /// `near`, `far`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Near => "near",
            Self::Far => "far",
        }
    }
}

/// A sheet of paper, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4.
    A4,
    /// ANSI Y14.1 size A, “Letter”.
    Letter,
}

impl Paper {
    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "Letter",
        }
    }

    /// Width and height, mm: 210 × 297 (ISO 216), 8.5 × 11 in (ANSI Y14.1).
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// What card is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CardSpec {
    /// Near or far.
    pub side: Side,
    /// The sheet.
    pub paper: Paper,
    /// Where all chance comes from.
    pub seed: u64,
    /// Diameter of the smallest disc, mm, within [`FINEST_MM`].
    pub finest_mm: f64,
}

/// Range of the smallest disc, mm. Finer than the low end costs a megabyte and
/// asks much of a printer; coarser than the high end leaves few discs a sheet.
pub const FINEST_MM: (f64, f64) = (0.6, 8.0);

/// Why there is no card.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("a finest detail of {0} mm is outside {low} to {high} mm", low = FINEST_MM.0, high = FINEST_MM.1)]
pub struct CardError(pub f64);

impl CardSpec {
    pub(super) fn check(&self) -> Result<(), CardError> {
        let (low, high) = FINEST_MM;
        let fits = self.finest_mm >= low && self.finest_mm <= high;
        fits.then_some(()).ok_or(CardError(self.finest_mm))
    }
}
