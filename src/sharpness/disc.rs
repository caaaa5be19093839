//! What a disc of defocus leaves of a picture's energy.
//!
//! The defocus of an ideal thin lens is a uniform disc. Its transfer function
//! is 2 J₁(πdf) ÷ (πdf) (Hopkins 1955, cited from memory). Blur is handled as
//! the signed square of the diameter: a picture that is sharper than its
//! reference by as much as a disc of diameter d would soften it has the square
//! −d². There the law is continued with the modified Bessel function,
//! 2 I₁(x) ÷ x, so that noise around "no blur" is pushed to neither side.

/// Share of the energy at `frequency` (cycles per screen height) that a blur
/// of signed square diameter `square` (‰² of the screen's height) leaves.
pub fn left(square: f64, frequency: f64) -> f64 {
    let x = std::f64::consts::PI * square.abs().sqrt() * 1e-3 * frequency;
    if x < 1e-6 {
        return 1.0;
    }
    let amplitude = if square > 0.0 {
        2.0 * libm::j1(x) / x
    } else {
        over(x)
    };
    amplitude * amplitude
}

/// 2 I₁(x) ÷ x by its series (Abramowitz & Stegun 9.6.10): Σ (x²/4)ᵏ ÷ (k! (k+1)!).
fn over(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..60 {
        let k = f64::from(k);
        term *= quarter / (k * (k + 1.0));
        sum += term;
        if term < 1e-12 * sum {
            break;
        }
    }
    sum
}

/// The diameter behind a signed square, its sign kept: ‰² to ‰.
pub fn diameter(square: f64) -> f64 {
    square.abs().sqrt().copysign(square)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Zeros and values of J₁ from Abramowitz & Stegun, tables 9.1 and 9.5.
    #[test]
    fn transfer_of_a_disc() {
        let f = 1e3 / std::f64::consts::PI;
        assert!((left(0.0, f) - 1.0).abs() < 1e-12);
        // First zero of J₁ at 3.831706: a disc passes nothing at f = 1.21967 ÷ d.
        assert!(left(3.831_706_f64.powi(2), f) < 1e-12);
        // 2 J₁(1) = 0.880 101 171.
        assert!((left(1.0, f) - 0.880_101_171_4_f64.powi(2)).abs() < 1e-8);
        // 2 I₁(1) = 1.130 318 208 (table 9.8: e⁻¹ I₁(1) = 0.207 910 415).
        let i1 = 2.0 * 0.207_910_415_3 * std::f64::consts::E;
        assert!((left(-1.0, f) - i1 * i1).abs() < 1e-7);
    }

    #[test]
    fn a_signed_square_keeps_its_sign() {
        assert_eq!(diameter(9.0), 3.0);
        assert_eq!(diameter(-4.0), -2.0);
        assert_eq!(diameter(0.0), 0.0);
    }

    /// Near none, both sides of the law meet with one slope: 1 − (πdf)² ÷ 4.
    #[test]
    fn the_law_is_smooth_at_none() {
        let f = 100.0;
        let slope = |q: f64| (left(q, f) - 1.0) / q;
        let law = -(std::f64::consts::PI * 1e-3 * f).powi(2) / 4.0;
        for q in [-0.01, 0.01] {
            assert!((slope(q) / law - 1.0).abs() < 1e-3, "{}", slope(q));
        }
    }
}
