//! The standard normal distribution, as every large-sample interval needs it.

use statrs::function::erf;

/// Quantile of the standard normal for a probability in 0..1.
pub fn quantile(p: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * p)
}

/// Two-sided critical value: 1.95996… at a confidence of 0.95.
pub fn two_sided_z(confidence: f64) -> f64 {
    quantile(0.5 + confidence / 2.0)
}

/// Probability of a value at or below `x`.
pub fn below(x: f64) -> f64 {
    0.5 * erf::erfc(-x / std::f64::consts::SQRT_2)
}

/// Two-sided p-value of a standard normal statistic.
pub fn two_sided_p(z: f64) -> f64 {
    erf::erfc(z.abs() / std::f64::consts::SQRT_2)
}

/// A level in percent with as many digits as tell it from certainty: `95`,
/// `99.92`, `99.99995`.
pub fn level_words(confidence: f64) -> String {
    let rest = (1.0 - confidence) * 100.0;
    let digits = match rest {
        rest if rest >= 2.0 => 0,
        rest => (1.0 - rest.max(1e-13).log10().floor()) as usize,
    };
    let text = format!("{:.digits$}", confidence * 100.0);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A p-value that another is held against, to two figures: `0.016`, `0.0000011`.
pub fn p_words(p: f64) -> String {
    let digits = (1.0 - p.log10().floor()).clamp(2.0, 16.0) as usize;
    format!("{p:.digits$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form, evaluated to 30 digits.
    #[test]
    fn critical_value_of_95_percent() {
        assert!((two_sided_z(0.95) - 1.959_963_984_540_054).abs() < 1e-12);
        assert!((below(1.959_963_984_540_054) - 0.975).abs() < 1e-11);
        assert!((two_sided_p(-1.959_963_984_540_054) - 0.05).abs() < 1e-11);
    }

    #[test]
    fn bounds_of_p_have_two_figures() {
        let told = [0.042, 0.0158, 1.1e-6, 3.7e-12].map(p_words);
        assert_eq!(told, ["0.042", "0.016", "0.0000011", "0.0000000000037"]);
    }

    #[test]
    fn levels_are_told_from_certainty() {
        let told = [0.95, 0.9, 0.99, 0.9992, 0.999_999_5, 0.984].map(level_words);
        assert_eq!(told, ["95", "90", "99", "99.92", "99.99995", "98.4"]);
    }
}
