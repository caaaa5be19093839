//! Sharpness of one subject in terms of blur.
//!
//! A subject's sharp picture, blurred by a uniform disc (the defocus of an
//! ideal thin lens; its transfer function is 2 J₁(πdf) ÷ (πdf), Hopkins 1955,
//! cited from memory), gives the share of the measure's energy that is left at
//! every diameter d. Energies are quadratic, so the power spectrum of the
//! picture times the measure's squared response tells all diameters at once.
//! In: the mean of sharp frames. Out: [`BlurScale`], diameters in film pixels.

use super::power::Power;

/// Diameters of the scale, film pixels: every eighth up to two, then coarser.
const DIAMETERS: [f64; 28] = [
    0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0, 1.125, 1.25, 1.375, 1.5, 1.75, 2.0, 2.5,
    3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 26.0, 34.0, 44.0,
];

/// Share of the sharp energy left, by diameter of the blur.
#[derive(Clone, Debug, PartialEq)]
pub struct BlurScale {
    /// At [`DIAMETERS`]; 1 at first, never rising.
    shares: Vec<f64>,
}

impl BlurScale {
    /// From the spectrum of a sharp picture. `noise_share` is the noise's part
    /// of the picture's energy, 0..1; `response` the measure's squared response
    /// at (fx, fy), cycles per film pixel. `None` where nothing but noise is
    /// left.
    #[must_use]
    pub fn new(
        picture: &Power,
        noise_share: f64,
        response: &dyn Fn(f64, f64) -> f64,
    ) -> Option<Self> {
        let bins = picture.bins(response);
        let total: f64 = bins.iter().map(|b| b.power).sum();
        let white: f64 = bins.iter().map(|b| b.response).sum();
        if !(total > 0.0 && white > 0.0) {
            return None;
        }
        let noise = noise_share.clamp(0.0, 0.95) * total / white;
        let energy = |d: f64| -> f64 {
            bins.iter()
                .map(|b| (b.power - noise * b.response) * disc(d * b.frequency).powi(2))
                .sum()
        };
        let sharp = energy(0.0);
        let mut least = 1.0;
        let shares = DIAMETERS
            .iter()
            .map(|d| {
                least = f64::min(least, energy(*d) / sharp).max(0.0);
                least
            })
            .collect();
        (sharp > 0.0).then_some(Self { shares })
    }

    /// Share of the sharp energy at a diameter, film pixels.
    #[must_use]
    pub fn share(&self, diameter_px: f64) -> f64 {
        let i = DIAMETERS.partition_point(|d| *d <= diameter_px);
        let (Some(a), Some(b)) = (i.checked_sub(1), self.shares.get(i)) else {
            return self.shares.last().copied().unwrap_or(0.0).min(1.0);
        };
        let (from, to) = (DIAMETERS[a], DIAMETERS[i]);
        self.shares[a] + (b - self.shares[a]) * (diameter_px - from) / (to - from)
    }

    /// Diameter at which `share` of the sharp energy is left, film pixels: 0
    /// for 1 and more, the scale's end for less than it holds.
    #[must_use]
    pub fn diameter(&self, share: f64) -> f64 {
        let i = self.shares.partition_point(|s| *s >= share);
        let (Some(a), Some(b)) = (i.checked_sub(1), self.shares.get(i)) else {
            return if i == 0 {
                0.0
            } else {
                DIAMETERS[DIAMETERS.len() - 1]
            };
        };
        let fall = self.shares[a] - b;
        let part = if fall > 0.0 {
            (self.shares[a] - share) / fall
        } else {
            0.0
        };
        DIAMETERS[a] + part * (DIAMETERS[i] - DIAMETERS[a])
    }
}

/// Transfer function of a uniform disc; `df` is diameter × frequency.
fn disc(df: f64) -> f64 {
    let x = std::f64::consts::PI * df;
    if x < 1e-6 { 1.0 } else { 2.0 * libm::j1(x) / x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Quad;
    use crate::screen::Region;
    use crate::sharpness::gradient::Tenengrad;
    use crate::sharpness::grid::Grid;
    use crate::sharpness::operator::{Keep, Operator, Rows, Tally};
    use rand::{RngExt, SeedableRng};

    const W: usize = 220;
    const H: usize = 200;

    /// Random Gaussian blobs: centre, radius, height.
    fn blobs() -> Vec<[f64; 4]> {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(11);
        (0..1500)
            .map(|_| {
                [
                    rng.random_range(0.0..W as f64),
                    rng.random_range(0.0..H as f64),
                    rng.random_range(1.2..4.0),
                    rng.random_range(-0.2..0.2),
                ]
            })
            .collect()
    }

    /// The card seen through a disc: the mean over shifts that fill it evenly,
    /// each drawn where it really lies between the pixels.
    fn card(diameter: f64) -> Vec<f32> {
        let shifts: Vec<(f64, f64)> = (0..81)
            .map(|i| (f64::from(i % 9) / 4.0 - 1.0, f64::from(i / 9) / 4.0 - 1.0))
            .filter(|(x, y)| x.hypot(*y) <= 1.0)
            .map(|(x, y)| (x * diameter / 2.0, y * diameter / 2.0))
            .collect();
        let share = 1.0 / shifts.len() as f64;
        let mut out = vec![0.5f64; W * H];
        for [cx, cy, r, a] in blobs() {
            for (sx, sy) in &shifts {
                let (x, y) = (cx + sx, cy + sy);
                let span = |c: f64, n: usize| {
                    let low = (c - 4.0 * r).max(0.0) as usize;
                    low..((c + 4.0 * r).max(0.0) as usize).min(n)
                };
                for py in span(y, H) {
                    for px in span(x, W) {
                        let d2 = (px as f64 - x).powi(2) + (py as f64 - y).powi(2);
                        out[py * W + px] += share * a * (-d2 / (2.0 * r * r)).exp();
                    }
                }
            }
        }
        out.into_iter().map(|v| v as f32).collect()
    }

    fn energy(o: &mut dyn Operator, region: &Region, picture: &[f32]) -> f64 {
        let eroded = region.eroded(o.reach() + 10);
        let keep = Keep::new(&eroded, W);
        let mut read =
            |y: usize, row: &mut [f32]| row.copy_from_slice(&picture[y * W..(y + 1) * W]);
        let mut tally = Tally::new(Grid::new(&keep, &keep, 2, 8));
        o.apply(&mut Rows::new(W, H, &mut read), &keep, &mut tally);
        tally
            .finish(eroded.iter().filter(|k| **k).count() as f64, o.centred())
            .0
    }

    /// The scale against the card drawn through discs of known size.
    #[test]
    fn the_scale_tells_what_a_disc_leaves() {
        let region = Region::of_quad(&Quad::rect(0.0, 0.0, W as f64, H as f64), &[], (W, H));
        let sharp = card(0.0);
        let mut o = Tenengrad::new(1.0);
        let scale = BlurScale::new(&Power::of(&sharp, &region).unwrap(), 0.0, &|x, y| {
            o.response(x, y)
        })
        .unwrap();
        let all = energy(&mut o, &region, &sharp);
        for d in [1.0, 2.0, 4.0, 8.0, 14.0] {
            let left = energy(&mut o, &region, &card(d)) / all;
            let told = scale.share(d);
            assert!(
                (told - left).abs() < 0.015 + 0.1 * left,
                "{d}: {told} against {left}"
            );
            let back = scale.diameter(left);
            assert!((back - d).abs() < 0.15 + 0.08 * d, "{d}: {back}");
        }
        assert_eq!(scale.diameter(1.2), 0.0);
        assert_eq!(scale.diameter(0.0), 44.0);
        assert!((scale.share(scale.diameter(0.5)) - 0.5).abs() < 1e-9);
    }

    /// Airy's zeros: a disc of diameter d passes nothing at f = 1.21967 ÷ d
    /// (first zero of J₁ at 3.831706, Abramowitz & Stegun table 9.5).
    #[test]
    fn transfer_of_a_disc() {
        assert!((disc(0.0) - 1.0).abs() < 1e-12);
        assert!(disc(3.831_706 / std::f64::consts::PI).abs() < 1e-6);
        // 2 J₁(1) ÷ 1 = 0.880 101 171 (Abramowitz & Stegun table 9.1).
        assert!((disc(1.0 / std::f64::consts::PI) - 0.880_101_171_4).abs() < 1e-8);
    }
}
