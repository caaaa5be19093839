//! Transfer function of a uniform disc: 2·J₁(x)/x with x = π·d·f (d diameter,
//! f spatial frequency), negative between its odd zeros (contrast reversal).

/// 2·J₁(x)/x.
pub(super) fn disc(x: f64) -> f64 {
    if x.abs() < 1e-6 {
        return 1.0;
    }
    2.0 * libm::j1(x) / x
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
