//! One side's subject in one clip: what blur does to its energies, and back.
//!
//! In: energies by band of the sharp subject and of every update that shows it.
//! Out: per update the signed square of the blur's diameter with its standard
//! uncertainty, ‰² of the screen's height.
//!
//! Each band of an update is the subject's sharp energy times what a disc
//! leaves of it ([`super::disc`]), plus a floor: what stays however far the
//! lens is out of focus. A floor is no detail of the subject. It is the
//! screen's own pixels, moiré, graphics drawn over the picture, or noise that
//! compression has frozen. It is read where the subject is most blurred, so
//! that no defocus can make it.
//!
//! Bands count by generalised least squares (Aitken 1936): by the inverse of
//! how they vary together, beside what a disc explains, near focus. Compression
//! gives detail back after motion, and takes it at key frames, in a pattern over
//! the bands that is its own; what runs along that pattern counts little.

use nalgebra::{DMatrix, DVector};

use super::band_meter::BANDS;
use super::disc;

/// Energies of one update by band, ÷ mean luma², noise taken off.
pub type Energies = [f32; BANDS];

/// An update's blur.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blurred {
    /// Signed square of the disc's diameter, ‰².
    pub square: f64,
    /// Its standard uncertainty, ‰².
    pub square_u: f64,
}

/// Largest diameter that is told, ‰; beyond it is "at least".
pub const LARGEST: f64 = 70.0;
/// Largest diameter by which an update may be sharper than its reference, ‰.
const SHARPEST: f64 = 12.0;
/// Steps of the scale in one ‰ of diameter.
const STEPS: f64 = 8.0;
/// Least relative standard deviation of a band, however still it is: what
/// interpolation and the disc's shape leave between law and film. Fitted on the
/// independent clips; 0.003 to 0.01 make no difference there.
const LAW: f64 = 0.005;
/// Part of the bands' covariance that is taken for their own: estimated from a
/// few rests, the rest of it would be trusted too far (shrinkage after Ledoit &
/// Wolf 2004, cited from memory).
const SHRINK: f64 = 0.1;
/// Share of the updates, the most blurred, in which floors are read.
const BLURRED: usize = 20;
/// Diameter that the most blurred updates must have for floors to be read, ‰.
const FAR_OUT: f64 = 5.0;
/// A band whose sharp energy is floor to this share tells nothing.
const MOSTLY_FLOOR: f64 = 0.6;
/// Share of a band's energy that the most blurred updates must have lost for
/// its floor to be told.
const LOST: f64 = 0.3;
/// Updates at the end of a stretch count while they stay this near to the
/// reference, ‰: twice the usual hit limit.
const NEAR: f64 = 8.0;
/// Fewest updates of a rest.
const FEWEST: usize = 5;
/// Times that floors, weights and blur are worked out in turn.
const ROUNDS: usize = 3;

/// What blur does to one subject's energies in one clip.
#[derive(Clone, Debug)]
pub struct Subject {
    bands: Vec<Band>,
    /// Signed squares of the scale, ‰², rising.
    scale: Vec<f64>,
    /// What each of them leaves, band by band.
    left: Vec<DVector<f64>>,
    /// How the bands count, and with each other: the inverse of their
    /// covariance at rest.
    precision: DMatrix<f64>,
    /// `precision` × `left`, and `left` × that: what a step of the scale costs.
    costs: Vec<(DVector<f64>, f64)>,
    /// Scatter at rest ÷ what the bands' weights say.
    spread: f64,
}

#[derive(Clone, Copy, Debug)]
struct Band {
    place: usize,
    frequency: f64,
    sharp: f64,
    floor: f64,
    /// Whether it tells anything: not mostly floor.
    tells: bool,
}

impl Subject {
    /// Learns a subject from its `sharp` energies and from the `stretches` of
    /// updates that show it, each from one stimulus to the next. `frequencies`
    /// of the bands in cycles per screen height, 0 for bands not there. `None`
    /// where no band tells anything.
    #[must_use]
    pub fn learn(
        sharp: &Energies,
        stretches: &[&[Energies]],
        frequencies: &[f64; BANDS],
    ) -> Option<Self> {
        let bands: Vec<Band> = (0..BANDS)
            .filter(|b| frequencies[*b] > 0.0 && sharp[*b] > 0.0)
            .map(|b| Band {
                place: b,
                frequency: frequencies[b],
                sharp: f64::from(sharp[b]),
                floor: 0.0,
                tells: true,
            })
            .collect();
        if bands.is_empty() {
            return None;
        }
        let scale = scale();
        let left = scale
            .iter()
            .map(|q| {
                DVector::from_iterator(
                    bands.len(),
                    bands.iter().map(|b| disc::left(*q, b.frequency)),
                )
            })
            .collect();
        let n = bands.len();
        let mut out = Self {
            bands,
            scale,
            left,
            precision: DMatrix::identity(n, n) / (LAW * LAW),
            costs: Vec::new(),
            spread: 1.0,
        };
        out.price();
        for _ in 0..ROUNDS {
            out.read_floors(sharp, stretches);
            out.weigh(stretches);
        }
        out.bands.iter().any(|b| b.tells).then_some(out)
    }

    /// The blur of an update.
    #[must_use]
    pub fn blur(&self, update: &Energies) -> Blurred {
        let ratios = self.ratios(update);
        let cost = |k: usize| self.costs[k].1 - 2.0 * self.costs[k].0.dot(&ratios);
        let k = self.lowest(&cost);
        let square = vertex(
            [k - 1, k, k + 1].map(|i| self.scale[i]),
            [k - 1, k, k + 1].map(cost),
        );
        Blurred {
            square,
            square_u: self.spread * self.formal_u(k),
        }
    }

    fn price(&mut self) {
        let of = |left: &DVector<f64>| {
            let weighed = &self.precision * left;
            let own = left.dot(&weighed);
            (weighed, own)
        };
        self.costs = self.left.iter().map(of).collect();
    }

    /// Ratios to the sharp subject, floors taken off.
    fn ratios(&self, update: &Energies) -> DVector<f64> {
        let of = |b: &Band| (f64::from(update[b.place]) - b.floor) / b.sharp;
        DVector::from_iterator(self.bands.len(), self.bands.iter().map(of))
    }

    /// The inner step of the scale with the least cost: coarsely, then finely.
    fn lowest(&self, cost: &impl Fn(usize) -> f64) -> usize {
        let last = self.scale.len() - 2;
        let best = |range: &mut dyn Iterator<Item = usize>| {
            let mut least = (1, f64::MAX);
            for k in range {
                let c = cost(k);
                if c < least.1 {
                    least = (k, c);
                }
            }
            least.0
        };
        let near = best(&mut (1..=last).step_by(COARSE));
        best(&mut (near.saturating_sub(COARSE).max(1)..=(near + COARSE).min(last)))
    }

    /// What the weights alone say of the uncertainty at step `k`, ‰².
    fn formal_u(&self, k: usize) -> f64 {
        let apart = self.scale[k + 1] - self.scale[k - 1];
        let slope = (&self.left[k + 1] - &self.left[k - 1]) / apart;
        let told = slope.dot(&(&self.precision * &slope));
        if told > 0.0 {
            told.sqrt().recip()
        } else {
            f64::MAX.sqrt()
        }
    }

    /// Takes for floor what the most blurred updates hold more than a disc
    /// would leave.
    fn read_floors(&mut self, sharp: &Energies, stretches: &[&[Energies]]) {
        let mut all: Vec<(f64, &Energies)> = stretches
            .iter()
            .flat_map(|s| s.iter())
            .map(|e| (self.blur(e).square, e))
            .collect();
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        let most = &all[..(all.len() / BLURRED).max(3).min(all.len())];
        let Some(square) = middle(most.iter().map(|m| m.0).collect()) else {
            return;
        };
        if square < FAR_OUT * FAR_OUT {
            return;
        }
        for band in &mut self.bands {
            let sharp = f64::from(sharp[band.place]);
            let blurred = middle(most.iter().map(|m| f64::from(m.1[band.place])).collect());
            let left = disc::left(square, band.frequency);
            band.floor = match blurred {
                Some(b) if 1.0 - left > LOST => {
                    (sharp - (sharp - b) / (1.0 - left)).clamp(0.0, 0.98 * sharp)
                }
                _ => 0.0,
            };
            band.sharp = sharp - band.floor;
        }
    }

    /// Weighs the bands by how they vary near focus beside blur.
    fn weigh(&mut self, stretches: &[&[Energies]]) {
        for band in &mut self.bands {
            band.tells = band.floor < MOSTLY_FLOOR * (band.floor + band.sharp);
        }
        let rests: Vec<&[Energies]> = stretches
            .iter()
            .map(|s| self.rest(s))
            .filter(|r| r.len() >= FEWEST)
            .collect();
        self.precision = self.precision_of(&rests);
        self.price();
        self.spread = 1.0;
        let mut squares = Vec::new();
        for rest in rests {
            let found: Vec<Blurred> = rest.iter().map(|e| self.blur(e)).collect();
            let centre = middle(found.iter().map(|f| f.square).collect()).unwrap_or(0.0);
            let off = |f: &Blurred| ((f.square - centre) / f.square_u).powi(2);
            squares.extend(found.iter().map(off));
        }
        if !squares.is_empty() {
            #[allow(clippy::cast_precision_loss)]
            let mean = squares.iter().sum::<f64>() / squares.len() as f64;
            self.spread = mean.sqrt();
        }
    }

    /// The inverse of the covariance of what the bands hold near focus beside
    /// blur; bands that tell nothing count nothing.
    fn precision_of(&self, rests: &[&[Energies]]) -> DMatrix<f64> {
        let n = self.bands.len();
        let mut covariance = DMatrix::zeros(n, n);
        let mut count: f64 = 0.0;
        for update in rests.iter().flat_map(|r| r.iter()) {
            let square = self.blur(update).square;
            let law = self.bands.iter().map(|b| disc::left(square, b.frequency));
            let off = self.ratios(update) - DVector::from_iterator(n, law);
            covariance += &off * off.transpose();
            count += 1.0;
        }
        covariance *= (1.0 - SHRINK) / count.max(1.0);
        for (b, band) in self.bands.iter().enumerate() {
            covariance[(b, b)] = covariance[(b, b)] / (1.0 - SHRINK) + LAW * LAW;
            if !band.tells {
                covariance.row_mut(b).fill(0.0);
                covariance.column_mut(b).fill(0.0);
                covariance[(b, b)] = f64::MAX.sqrt();
            }
        }
        covariance
            .try_inverse()
            .unwrap_or_else(|| DMatrix::identity(n, n) / (LAW * LAW))
    }

    /// The end of a stretch that stays near the reference.
    fn rest<'a>(&self, stretch: &'a [Energies]) -> &'a [Energies] {
        let near = |e: &Energies| disc::diameter(self.blur(e).square).abs() < NEAR;
        let n = stretch.iter().rev().take_while(|e| near(e)).count();
        &stretch[stretch.len() - n..]
    }
}

/// Steps of the scale that are tried first.
const COARSE: usize = 8;

/// Signed squares from sharper than the reference to the largest blur.
fn scale() -> Vec<f64> {
    #[allow(clippy::cast_possible_truncation)]
    let (from, to) = ((-SHARPEST * STEPS) as i32, (LARGEST * STEPS) as i32);
    (from..=to)
        .map(|k| {
            let d = f64::from(k) / STEPS;
            d * d.abs()
        })
        .collect()
}

/// Where a parabola through three points is least, inside them.
fn vertex(x: [f64; 3], y: [f64; 3]) -> f64 {
    let (first, second) = ((y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1]));
    let bend = (second - first) / (x[2] - x[0]);
    if bend <= 0.0 {
        return x[1];
    }
    (f64::midpoint(x[0], x[1]) - first / (2.0 * bend)).clamp(x[0], x[2])
}

/// The middle value.
fn middle(mut v: Vec<f64>) -> Option<f64> {
    v.sort_by(f64::total_cmp);
    v.get(v.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    const F: [f64; BANDS] = {
        let mut f = [0.0; BANDS];
        let mut k = 0;
        while k < BANDS {
            f[k] = 12.0 + 6.0 * k as f64;
            k += 1;
        }
        f
    };

    fn card(square: f64, floor: f64) -> Energies {
        std::array::from_fn(|b| {
            let sharp = 1e-3 * (F[b] / 12.0).powf(-2.0);
            (sharp * disc::left(square, F[b]) + floor * 1e-5) as f32
        })
    }

    fn course(floor: f64) -> Vec<Energies> {
        let out = (0..40).map(|k| card((30.0 - f64::from(k) * 0.75).powi(2), floor));
        out.chain((0..40).map(|_| card(0.0, floor))).collect()
    }

    #[test]
    fn a_disc_is_told_from_what_it_leaves() {
        for floor in [0.0, 1.0] {
            let course = course(floor);
            let s = Subject::learn(&card(0.0, floor), &[&course], &F).unwrap();
            for d in [-2.0, 0.0, 1.0, 2.5, 6.0, 15.0, 28.0] {
                let told = disc::diameter(s.blur(&card(d * f64::abs(d), floor)).square);
                assert!(
                    (told - d).abs() < 0.15 + 0.07 * d.abs(),
                    "{floor} {d}: {told}"
                );
            }
        }
    }

    #[test]
    fn what_stays_out_of_focus_is_no_detail() {
        let plain = Subject::learn(&card(0.0, 5.0), &[], &F).unwrap();
        let told = disc::diameter(plain.blur(&card(9.0, 5.0)).square);
        assert!(
            told < 2.8,
            "without a blurred update the floor passes for detail: {told}"
        );
    }

    #[test]
    fn no_band_no_subject() {
        assert!(Subject::learn(&[0.0; BANDS], &[], &F).is_none());
        assert!(Subject::learn(&card(0.0, 0.0), &[], &[0.0; BANDS]).is_none());
    }
}
