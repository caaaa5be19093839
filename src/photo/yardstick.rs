//! What one target's pictures are held against, and what they then tell.

use std::path::{Path, PathBuf};

use super::measure::Read;
use super::record::PictureBlur;
use crate::limits;
use crate::ranked::middle;
use crate::sharpness::{BANDS, EVEN_PX, Energies, Subject, disc};

/// Blur of one thousandth of [`EVEN_PX`], px.
const STEP_PX: f64 = EVEN_PX / 1e3;
/// Blur at which the scale ends, less a step of it, thousandths of [`EVEN_PX`].
const LARGEST: f64 = 69.8;
/// Circles of confusion a diagonal (common practice, no source).
const CIRCLES_A_DIAGONAL: f64 = 1500.0;
/// Hit limits beyond which a picture is so blurred that it need not be recognised:
/// whatever it shows is not sharp. Chosen; halved it lets sharp pictures of
/// something coarse pass for misses, doubled it voids misses.
const FAR_OUT: f64 = 4.0;
/// Limits are rounded up to this, ‰, so that they can be written down.
const ROUNDED: f64 = 0.1;

/// One target's blur 0 and hit limit.
pub(super) struct Yardstick {
    /// The picture that is blur 0.
    pub path: PathBuf,
    /// Width and height of the pictures, px.
    pub size: (usize, usize),
    /// By how much that picture, by hand, is softer than the sharpest of the others.
    pub softer_permille: Option<f64>,
    subject: Subject,
    limit_px: f64,
    least_px: Option<f64>,
}

/// What a picture shows.
pub(super) struct Told {
    pub blur: PictureBlur,
    pub hit: bool,
    pub close_call: bool,
    /// More blurred than needs recognising.
    pub far_out: bool,
}

/// Places of pictures in order of sharpness; `None` where no band tells anything.
pub(super) fn sharpest(reads: &[Read]) -> Option<Vec<usize>> {
    let detail = |r: &Read| {
        r.energies
            .iter()
            .filter(|e| **e > 0.0)
            .map(|e| f64::from(e.ln()))
            .sum()
    };
    let first = (0..reads.len()).max_by(|a, b| {
        let of = |k: usize| -> f64 { detail(&reads[k]) };
        of(*a).total_cmp(&of(*b)).then(b.cmp(a))
    })?;
    let all: Vec<Energies> = reads.iter().map(|r| r.energies).collect();
    let subject = learnt(&reads[first])?;
    let squares: Vec<f64> = all.iter().map(|e| subject.square(e)).collect();
    let mut order: Vec<usize> = (0..reads.len()).collect();
    order.sort_by(|a, b| squares[*a].total_cmp(&squares[*b]));
    Some(order)
}

/// The middle of the three sharpest: one lucky picture is no yardstick.
pub(super) fn usual(order: &[usize]) -> usize {
    order[1.min(order.len() - 1)]
}

/// A photograph has no floor to be read: no screen's pixels, no graphics.
fn learnt(reference: &Read) -> Option<Subject> {
    let frequencies: &[f64; BANDS] = &reference.frequencies;
    Some(Subject::learn(&reference.energies, &[], frequencies, 1)?.by_law_alone())
}

impl Yardstick {
    /// Holds pictures of `size` against one of them; `None` where no band of it
    /// tells anything.
    pub fn new(
        path: &Path,
        reference: &Read,
        all: &[Read],
        size: (usize, usize),
        asked_permille: Option<f64>,
    ) -> Option<Self> {
        let energies: Vec<Energies> = all.iter().map(|r| r.energies).collect();
        let mut out = Self {
            path: path.to_path_buf(),
            size,
            softer_permille: None,
            subject: learnt(reference)?,
            limit_px: 0.0,
            least_px: None,
        };
        let px = |permille: f64| permille * 1e-3 * size.1 as f64;
        out.limit_px = asked_permille.map_or(out.circle_px(), px);
        out.least_px = out.least(&energies);
        if let (None, Some(least)) = (asked_permille, out.least_px) {
            let least = (out.permille(least) / ROUNDED).ceil() * ROUNDED;
            let doubled = limits::TOO_COARSE.get() * out.limit_px;
            if px(least) > out.limit_px && px(least) <= doubled {
                out.limit_px = px(least);
            }
        }
        Some(out)
    }

    /// The least blur that is told from none in 95 % of pictures at 5 % false
    /// alarms, px: by how far the bands of pictures near focus are from the law.
    fn least(&self, all: &[Energies]) -> Option<f64> {
        let limit = self.limit_px / STEP_PX;
        let near = all
            .iter()
            .filter(|e| self.subject.square(e) < (FAR_OUT * limit).powi(2));
        let u = near.map(|e| self.subject.blur_of_another(e, limit).square_u);
        let u = middle(u.filter(|u| *u > 0.0).collect())?;
        Some((limits::SIGMAS_OF_LIMIT.get() * u).sqrt() * STEP_PX)
    }

    /// Whether these pictures tell blur finely enough for their hit limit.
    pub fn can_tell(&self) -> bool {
        let coarsest = limits::TOO_COARSE.get() * self.limit_px;
        self.least_px.is_none_or(|least| least <= coarsest)
    }

    /// The blur of a picture.
    pub fn told(&self, read: &Read) -> Told {
        // The subject knows blur in pixels of the reference; a target shown larger
        // has that many more of its own.
        let limit = self.limit_px / STEP_PX / read.scale;
        let told = self.subject.blur_of_another(&read.energies, limit);
        let diameter = disc::diameter(told.square);
        // Of a diameter near nought the square's own root is the measure.
        let u = told.square_u / (2.0 * diameter.abs()).max(told.square_u.sqrt());
        let px = diameter * STEP_PX * read.scale;
        Told {
            blur: PictureBlur {
                permille: self.permille(px),
                u_permille: self.permille(u * STEP_PX * read.scale),
                px,
                circles: px / self.circle_px(),
                at_least: diameter >= LARGEST,
            },
            hit: told.square <= limit * limit,
            close_call: (told.square - limit * limit).abs() <= limits::SURE.get() * told.square_u,
            far_out: diameter > FAR_OUT * limit,
        }
    }

    /// By how much the picture by hand is softer than the sharpest of the others, ‰,
    /// where that is sure. A picture that is sharper than its reference fits no law
    /// well, so the question is put the other way round.
    pub fn softer(&self, by_hand: &Read, all: &[Read]) -> Option<f64> {
        let order = sharpest(all)?;
        let others = learnt(&all[usual(&order)])?;
        let limit = self.limit_px / STEP_PX;
        let told = others.blur_of_another(&by_hand.energies, limit);
        let sure = told.square > limits::SURE.get() * told.square_u;
        sure.then(|| self.permille(disc::diameter(told.square) * STEP_PX))
    }

    fn circle_px(&self) -> f64 {
        (self.size.0 as f64).hypot(self.size.1 as f64) / CIRCLES_A_DIAGONAL
    }

    fn permille(&self, px: f64) -> f64 {
        px / self.size.1 as f64 * 1e3
    }

    /// One circle of confusion, ‰ of the picture's height.
    pub fn circle_permille(&self) -> f64 {
        self.permille(self.circle_px())
    }

    /// Largest blur of a hit, ‰.
    pub fn limit_permille(&self) -> f64 {
        self.permille(self.limit_px)
    }

    /// The least blur told, ‰.
    pub fn least_permille(&self) -> Option<f64> {
        self.least_px.map(|px| self.permille(px))
    }
}
