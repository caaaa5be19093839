//! One proportion: the score interval.
//!
//! Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; the form is that of the
//! NIST/SEMATECH e-Handbook of Statistical Methods, section 7.2.4.1.

use super::normal::two_sided_z;

/// Two-sided score interval of `hits` in `n` trials; `None` for no trials.
///
/// Limits in 0..=1, exactly 0 for no hit and exactly 1 for nothing but hits.
pub fn wilson(hits: u64, n: u64, confidence: f64) -> Option<(f64, f64)> {
    (n > 0 && hits <= n).then(|| wilson_z(hits as f64, n as f64, two_sided_z(confidence)))
}

/// The same for a critical value `z` ≥ 0 and real counts, `n` > 0.
pub fn wilson_z(hits: f64, n: f64, z: f64) -> (f64, f64) {
    let p = hits / n;
    let z2 = z * z / n;
    let centre = p + z2 / 2.0;
    let half = (z2 * (p * (1.0 - p) + z2 / 4.0)).sqrt();
    let low = if hits <= 0.0 {
        0.0
    } else {
        (centre - half) / (1.0 + z2)
    };
    let high = if hits >= n {
        1.0
    } else {
        (centre + half) / (1.0 + z2)
    };
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows 81/263, 15/148, 0/20, 1/29: Newcombe 1998, Stat. Med. 17:857,
    /// table I (from the printed source); all digits and the other rows
    /// confirmed by running R 4.2.2 `prop.test`, statsmodels 0.15.0 and scipy
    /// 1.17.1.
    #[test]
    fn newcombe_1998_table_1_and_reference_libraries() {
        let rows = [
            (81, 263, 0.95, 0.255_288_519_9, 0.366_209_577_0),
            (15, 148, 0.95, 0.062_386_399_5, 0.160_487_241_7),
            (0, 20, 0.95, 0.0, 0.161_125_158_1),
            (1, 29, 0.95, 0.006_113_214_3, 0.171_755_218_8),
            (29, 29, 0.95, 0.883_030_201_5, 1.0),
            (4, 20, 0.95, 0.080_657_662_6, 0.416_017_432_3),
            (4, 20, 0.90, 0.093_118_016_6, 0.378_376_685_8),
            (30, 30, 0.95, 0.886_486_606_8, 1.0),
            (60, 60, 0.95, 0.939_828_147_9, 1.0),
        ];
        for (x, n, confidence, low, high) in rows {
            let (l, h) = wilson(x, n, confidence).unwrap();
            assert!((l - low).abs() < 1e-9, "{x}/{n}: {l}");
            assert!((h - high).abs() < 1e-9, "{x}/{n}: {h}");
        }
    }

    #[test]
    fn nothing_tried_has_no_interval() {
        assert_eq!(wilson(0, 0, 0.95), None);
    }
}
