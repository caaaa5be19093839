//! How the chance to be misled is spent over the looks.

use serde::Serialize;

use super::super::normal::{two_sided_p, two_sided_z};

/// When it is spent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Spending {
    /// Hardly any at first, nearly all at the end (O'Brien–Fleming type).
    #[default]
    Late,
    /// About as much at every look (Pocock type).
    Even,
}

impl Spending {
    /// What of `alpha`, both directions together, is spent by a share of the
    /// planned trials.
    pub fn spent(self, share: f64, alpha: f64) -> f64 {
        if share <= 0.0 {
            return 0.0;
        }
        let share = share.min(1.0);
        match self {
            // Each direction spends its half.
            Self::Late => 2.0 * two_sided_p(two_sided_z(1.0 - alpha / 2.0) / share.sqrt()),
            Self::Even => alpha * (1.0 + (std::f64::consts::E - 1.0) * share).ln(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cumulative spending at alpha 0.05 by sequential-analysis 0.4.0 (PyPI),
    /// twice its one-sided figures.
    #[test]
    fn spent_by_fifths() {
        let late = [
            5.388_712_629e-7,
            3.941_517_567e-4,
            0.003_808_063_311,
            0.012_211_790_346,
        ];
        let even = [
            0.007_384_863_228,
            0.013_078_429_090,
            0.017_712_826_672,
            0.021_620_993_129,
        ];
        for (k, (late, even)) in late.into_iter().zip(even).enumerate() {
            let share = 0.2 * (k + 1) as f64;
            let near = |x: f64, y: f64| (x / y - 1.0).abs() < 1e-8;
            assert!(
                near(Spending::Late.spent(share, 0.05), 2.0 * late),
                "{share}"
            );
            assert!(
                near(Spending::Even.spent(share, 0.05), 2.0 * even),
                "{share}"
            );
        }
        for spending in [Spending::Late, Spending::Even] {
            assert!((spending.spent(1.0, 0.05) - 0.05).abs() < 1e-10);
            assert!((spending.spent(1.3, 0.05) - 0.05).abs() < 1e-10);
            assert_eq!(spending.spent(0.0, 0.05), 0.0);
        }
    }
}
