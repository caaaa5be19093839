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
//! that no defocus can make it; a band that holds much of it does not count.
//!
//! The diameter is that of least squares, all bands alike. Weights learnt from
//! the film (by how the bands vary at rest, or beside the law) were tried: they
//! gain nothing on films of real lenses, where the law holds less well than
//! noise would allow, and lose half of the hits there at worst.

use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

use super::band_meter::BANDS;
use super::disc;
use super::lanes;
use crate::limits;
use crate::ranked::middle;

/// Energies of one update by band, ÷ mean light², noise taken off.
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
const LARGEST: f64 = 70.0;
/// Largest diameter by which an update may be sharper than its reference, ‰.
const SHARPEST: f64 = 12.0;
/// Steps of the scale in one ‰ of diameter.
const STEPS: f64 = 8.0;
/// Times that floors and blur are worked out in turn.
const ROUNDS: usize = 3;

/// What blur does to one subject's energies in one clip.
#[derive(Clone, Debug)]
pub struct Subject {
    bands: Vec<Band>,
    law: Arc<Law>,
    /// Standard deviation of a band's ratio at rest.
    scatter: f64,
    /// Updates that a hold has.
    hold: usize,
}

#[derive(Clone, Copy, Debug)]
struct Band {
    place: usize,
    frequency: f64,
    sharp: f64,
    floor: f64,
}

impl Band {
    fn counts(&self) -> bool {
        self.floor < limits::FLOOR.get() * (self.floor + self.sharp)
    }
}

impl Subject {
    /// Learns a subject from its `sharp` energies and from the `stretches` of
    /// updates that show it, each from one stimulus to the next. `frequencies`
    /// of the bands in cycles per screen height, 0 for bands not there; `hold`:
    /// updates that a hold has. `None` where no band tells anything.
    pub fn learn(
        sharp: &Energies,
        stretches: &[&[Energies]],
        frequencies: &[f64; BANDS],
        hold: usize,
    ) -> Option<Self> {
        let bands: Vec<Band> = (0..BANDS)
            .filter(|b| frequencies[*b] > 0.0 && sharp[*b] > 0.0)
            .map(|b| Band {
                place: b,
                frequency: frequencies[b],
                sharp: f64::from(sharp[b]),
                floor: 0.0,
            })
            .collect();
        let mut out = Self {
            law: Law::of(frequencies),
            bands,
            scatter: 1.0,
            hold: hold.max(limits::FEWEST_AT_REST.count()),
        };
        for _ in 0..ROUNDS {
            if !out.bands.iter().any(Band::counts) {
                return None;
            }
            if !out.read_floors(sharp, stretches) {
                break;
            }
        }
        out.bands.iter().any(Band::counts).then_some(out)
    }

    /// The same with how much blur wanders at rest: what uncertainties rest on.
    pub fn at_rest(mut self, stretches: &[&[Energies]]) -> Self {
        self.scatter = self.scatter_of(stretches);
        self
    }

    /// The same where nothing is known of how blur wanders at rest: uncertainties
    /// then rest on how far an update's bands are from the law.
    pub fn by_law_alone(mut self) -> Self {
        self.scatter = 0.0;
        self
    }

    /// The signed square of an update's blur alone, ‰².
    pub fn square(&self, update: &Energies) -> f64 {
        self.told(update).0
    }

    /// The blur of an update.
    pub fn blur(&self, update: &Energies) -> Blurred {
        let (square, k) = self.told(update);
        Blurred {
            square,
            square_u: self.scatter / self.slope(k),
        }
    }

    /// The square, and the step of the scale next to it.
    fn told(&self, update: &Energies) -> (f64, usize) {
        let ratios = self.ratios(update);
        let k = self.law.nearest(ratios.told());
        let around = [k - 1, k, k + 1];
        let square = vertex(
            around.map(|i| self.law.scale[i]),
            around.map(|i| self.law.apart(ratios.told(), i)),
        );
        (square, k)
    }

    /// The blur of what another film shows. Its uncertainty is that at a diameter
    /// of `limit` ‰, where it decides: as much as the bands disagree with the law
    /// (GUM, JCGM 100:2008, 4.2: from what least squares leave), and no less than
    /// what updates wander by.
    pub fn blur_of_another(&self, film: &Energies, limit: f64) -> Blurred {
        let at = self.law.scale.partition_point(|q| *q < limit * limit);
        let k = at.clamp(1, self.law.scale.len() - 2);
        Blurred {
            square: self.square(film),
            square_u: self.off(film).max(self.scatter) / self.slope(k),
        }
    }

    /// What is left in the bands that count: energy ÷ sharp energy, both
    /// without the floor.
    fn ratios(&self, update: &Energies) -> Ratios {
        let mut out = Ratios {
            all: [(0, 0.0); BANDS],
            count: 0,
        };
        for b in self.bands.iter().filter(|b| b.counts()) {
            let ratio = (f64::from(update[b.place]) - b.floor) / b.sharp;
            out.all[out.count] = (b.place, ratio);
            out.count += 1;
        }
        out
    }

    /// How much the bands change together per ‰² at step `k`: root of the sum
    /// of squares.
    fn slope(&self, k: usize) -> f64 {
        let law = &self.law;
        let apart = law.scale[k + 1] - law.scale[k - 1];
        let of = |b: &Band| ((law.left(b.place, k + 1) - law.left(b.place, k - 1)) / apart).powi(2);
        let counts = self.bands.iter().filter(|b| b.counts());
        counts.map(of).sum::<f64>().sqrt().max(f64::MIN_POSITIVE)
    }

    /// Takes for floor what the most blurred updates hold more than a disc
    /// would leave; whether they are blurred enough for that.
    fn read_floors(&mut self, sharp: &Energies, stretches: &[&[Energies]]) -> bool {
        let updates = stretches.iter().flat_map(|s| s.iter()).zip(0..);
        let mut all: Vec<(f64, usize, &Energies)> =
            updates.map(|(e, k)| (self.square(e), k, e)).collect();
        let count = (all.len() / limits::BLURRED.count()).max(3).min(all.len());
        // Of equals the earlier, whatever the order they come to lie in.
        if count < all.len() {
            all.select_nth_unstable_by(count, |a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        }
        let most = &all[..count];
        let square = middle(most.iter().map(|m| m.0).collect());
        let Some(square) = square.filter(|q| *q >= limits::FAR_OUT.get().powi(2)) else {
            return false;
        };
        for band in &mut self.bands {
            let sharp = f64::from(sharp[band.place]);
            let blurred = middle(most.iter().map(|m| f64::from(m.2[band.place])).collect());
            let left = disc::left(square, band.frequency);
            band.floor = match blurred {
                Some(b) if 1.0 - left > limits::LOST.get() => {
                    (sharp - (sharp - b) / (1.0 - left)).clamp(0.0, 0.98 * sharp)
                }
                _ => 0.0,
            };
            band.sharp = sharp - band.floor;
        }
        true
    }

    /// The scatter of a band's ratio that explains how blur wanders at rest; how
    /// far the bands are from the law where nothing rests near focus.
    fn scatter_of(&self, stretches: &[&[Energies]]) -> f64 {
        let mut squares = Vec::new();
        for stretch in stretches {
            let all: Vec<Blurred> = stretch.iter().map(|e| self.blur(e)).collect();
            let Some(found) = self.rest(&all) else {
                continue;
            };
            let centre = middle(found.iter().map(|f| f.square).collect()).unwrap_or(0.0);
            let off = |f: &Blurred| ((f.square - centre) / f.square_u * self.scatter).powi(2);
            squares.extend(found.iter().map(off));
        }
        if squares.is_empty() {
            return self.misfit(stretches);
        }
        let mean = squares.iter().sum::<f64>() / squares.len() as f64;
        mean.sqrt()
    }

    /// By how much a band's ratio differs from the law, in the middle over the
    /// updates.
    fn misfit(&self, stretches: &[&[Energies]]) -> f64 {
        let all = stretches.iter().flat_map(|s| s.iter());
        middle(all.map(|e| self.off(e)).collect()).unwrap_or(1.0)
    }

    /// By how much an update's ratios differ from what a disc leaves: the
    /// standard deviation of one, from what least squares leave.
    fn off(&self, update: &Energies) -> f64 {
        let ratios = self.ratios(update);
        let k = self.law.nearest(ratios.told());
        let free = ratios.count.saturating_sub(1).max(1) as f64;
        (self.law.apart(ratios.told(), k) / free).sqrt()
    }

    /// The rest at the end of a stretch: from half a hold after it came near
    /// its end, so that the last of the lens's own way is not counted.
    fn rest<'a>(&self, stretch: &'a [Blurred]) -> Option<&'a [Blurred]> {
        let squares: Vec<f64> = stretch.iter().map(|b| b.square).collect();
        let last = squares.len().saturating_sub(self.hold);
        let end = disc::diameter(middle(squares[last..].to_vec())?);
        let near = |q: &&f64| (disc::diameter(**q) - end).abs() < limits::AT_REST.get();
        let run = squares.iter().rev().take_while(near).count();
        let n = run.saturating_sub(self.hold / 2);
        (end.abs() < limits::NEAR_FOCUS.get() && n >= limits::FEWEST_AT_REST.count())
            .then(|| &stretch[stretch.len() - n..])
    }
}

/// Steps of the scale that are tried first.
const COARSE: usize = 8;

/// What is left of an update in the bands that count: their places, and shares.
struct Ratios {
    all: [(usize, f64); BANDS],
    count: usize,
}

impl Ratios {
    fn told(&self) -> &[(usize, f64)] {
        &self.all[..self.count]
    }
}

/// What discs leave of one clip's bands, whatever the subject.
#[derive(Debug)]
struct Law {
    frequencies: [f64; BANDS],
    /// Signed squares of the scale, ‰², rising.
    scale: Vec<f64>,
    /// What each step leaves, band by band; nought for bands not there.
    left: Vec<f64>,
    /// The same of the steps that are tried first.
    coarse: Vec<f64>,
}

/// Laws that are at hand: those of the clips that are being judged.
static LAWS: Mutex<Vec<Arc<Law>>> = Mutex::new(Vec::new());
/// Most of them: clips that were framed alike share one.
const MOST_LAWS: usize = 16;

impl Law {
    fn of(frequencies: &[f64; BANDS]) -> Arc<Self> {
        let mut laws = LAWS.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(law) = laws.iter().find(|l| l.frequencies == *frequencies) {
            return Arc::clone(law);
        }
        let law = Arc::new(Self::new(frequencies));
        if laws.len() == MOST_LAWS {
            laws.remove(0);
        }
        laws.push(Arc::clone(&law));
        law
    }

    fn new(frequencies: &[f64; BANDS]) -> Self {
        let scale = scale();
        let (mut left, mut coarse) = (Vec::new(), Vec::new());
        for f in frequencies {
            let row: Vec<f64> = match *f > 0.0 {
                true => scale.iter().map(|q| disc::left(*q, *f)).collect(),
                false => vec![0.0; scale.len()],
            };
            let first = row[1..row.len() - 1].iter().step_by(COARSE);
            coarse.extend(first);
            left.extend(row);
        }
        Self {
            frequencies: *frequencies,
            scale,
            left,
            coarse,
        }
    }

    /// What step `k` leaves of the band at `place`.
    fn left(&self, place: usize, k: usize) -> f64 {
        self.left[place * self.scale.len() + k]
    }

    /// Sum of squares by which ratios differ from what step `k` leaves.
    fn apart(&self, ratios: &[(usize, f64)], k: usize) -> f64 {
        let square = |(place, r): &(usize, f64)| (r - self.left(*place, k)).powi(2);
        ratios.iter().map(square).sum()
    }

    /// The inner step that ratios differ least from: coarsely, then finely.
    fn nearest(&self, ratios: &[(usize, f64)]) -> usize {
        let last = self.scale.len() - 2;
        let first = least(ratios, &self.coarse, 0..last.div_ceil(COARSE));
        let near = 1 + COARSE * first;
        let from = near.saturating_sub(COARSE).max(1);
        let to = (near + COARSE).min(last) + 1;
        from + least(ratios, &self.left, from..to)
    }
}

/// Where among some steps of a table (a row a band) the sum of squares by which
/// ratios differ is least: the first of equals, counted from the first step. Each
/// sum keeps the order of the bands.
fn least(ratios: &[(usize, f64)], table: &[f64], steps: Range<usize>) -> usize {
    let wide = table.len() / BANDS;
    let mut sums = vec![0.0; steps.len()];
    for (place, ratio) in ratios {
        let row = &table[place * wide..][steps.clone()];
        lanes::add_squares(&mut sums, *ratio, row);
    }
    let mut least = (0, f64::MAX);
    for (k, sum) in sums.iter().enumerate() {
        if *sum < least.1 {
            least = (k, *sum);
        }
    }
    least.0
}

/// Signed squares from sharper than the reference to the largest blur.
fn scale() -> Vec<f64> {
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

#[cfg(test)]
#[path = "subject_tests.rs"]
mod tests;
