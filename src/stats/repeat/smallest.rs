//! The smallest change that one more session shows against several.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Half of the interval for one more session's figure less the mean of the
/// figures of `sessions` sessions, in standard deviations of a session's figure
/// (which is known from these sessions alone); `None` with fewer than two.
pub fn reach(sessions: u64, confidence: f64) -> Option<f64> {
    Some(student(sessions, 0.5 + confidence / 2.0)? * apart(sessions))
}

/// Smallest change shown with a chance of `power`, in the same unit.
pub fn smallest_change(sessions: u64, confidence: f64, power: f64) -> Option<f64> {
    let shown = student(sessions, 0.5 + confidence / 2.0)?;
    Some((shown + student(sessions, power)?) * apart(sessions))
}

/// One figure and the mean of `sessions` of them.
fn apart(sessions: u64) -> f64 {
    (1.0 + 1.0 / sessions as f64).sqrt()
}

fn student(sessions: u64, p: f64) -> Option<f64> {
    let freedom = sessions.checked_sub(1).filter(|df| *df > 0)?;
    Some(
        StudentsT::new(0.0, 1.0, freedom as f64)
            .ok()?
            .inverse_cdf(p),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t from any printed table: 4.303, 2.776, 2.262 at 0.975 with 2, 4
    /// and 9 degrees of freedom; 1.061, 0.941, 0.883 at 0.8.
    #[test]
    fn by_students_t() {
        for (k, t, power) in [(3, 4.303, 1.061), (5, 2.776, 0.941), (10, 2.262, 0.883)] {
            let apart = (1.0 + 1.0 / k as f64).sqrt();
            let got = reach(k, 0.95).unwrap();
            assert!((got - t * apart).abs() < 1e-3, "{got}");
            let got = smallest_change(k, 0.95, 0.8).unwrap();
            assert!((got - (t + power) * apart).abs() < 2e-3, "{got}");
        }
        assert_eq!(
            (reach(1, 0.95), smallest_change(0, 0.95, 0.8)),
            (None, None)
        );
    }
}
