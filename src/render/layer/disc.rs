//! Transfer function of a uniform disc: 2·J₁(x)/x with x = π·d·f (d diameter,
//! f spatial frequency), negative between its odd zeros (contrast reversal).

/// Bessel function of the first kind and order 1, by the trapezoid rule on
/// J₁(x) = (1/π) ∫₀^π cos(τ − x·sin τ) dτ, which converges faster than any
/// power for this periodic integrand (Abramowitz and Stegun 9.1.21).
pub(crate) fn j1(x: f64) -> f64 {
    let n = 48 + 2 * x.abs().ceil() as usize;
    let sum: f64 = (0..n)
        .map(|k| {
            let tau = std::f64::consts::PI * (k as f64 + 0.5) / n as f64;
            (tau - x * tau.sin()).cos()
        })
        .sum();
    sum / n as f64
}

/// 2·J₁(x)/x.
pub(crate) fn disc(x: f64) -> f64 {
    if x.abs() < 1e-6 { 1.0 } else { 2.0 * j1(x) / x }
}

/// Table of 2·J₁(x)/x for quick look-up, linear between entries.
#[derive(Clone, Debug)]
pub(crate) struct DiscTable {
    values: Vec<f32>,
}

/// Entries per unit of x: the straight line between two is off by < 1e-5.
const PER_UNIT: f64 = 64.0;

impl DiscTable {
    /// A table for 0..=`x_max`.
    pub(crate) fn new(x_max: f64) -> Self {
        let n = (x_max * PER_UNIT).ceil() as usize + 3;
        let values = (0..n).map(|k| disc(k as f64 / PER_UNIT) as f32).collect();
        Self { values }
    }

    /// 2·J₁(x)/x for x ≥ 0; beyond the table its last entry.
    #[inline]
    pub(crate) fn at(&self, x: f32) -> f32 {
        let at = x * PER_UNIT as f32;
        let i = (at as usize).min(self.values.len() - 2);
        let f = at - i as f32;
        self.values[i] + f * (self.values[i + 1] - self.values[i])
    }
}
