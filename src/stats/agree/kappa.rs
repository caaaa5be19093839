//! Agreement beyond what chance would give.
//!
//! Sources: Cohen 1960, Educ. Psychol. Meas. 20:37; the large-sample standard
//! error is that of Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323.

use super::super::compare::Interval;
use super::super::normal::two_sided_z;

/// Below this a variance is nothing but rounding.
const NOTHING: f64 = 1e-12;

/// Cohen's kappa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Kappa {
    /// −1..=1; 0 is what chance gives, 1 full agreement.
    pub value: f64,
    /// Standard error; 0 with full agreement, whatever the number of trials.
    pub se: f64,
    /// value ± z · se, within −1..=1. `None` where `se` is 0: full agreement
    /// in a few trials is no certainty.
    pub interval: Option<Interval>,
}

/// Kappa of a table of counts, rows by one judge and columns by the other.
///
/// `None` where it is not defined or says nothing: no trial, or a judge that
/// gave one answer only (kappa is then 0 ÷ 0, or 0 whatever the other said).
pub(super) fn cohen<const K: usize>(table: &[[u64; K]; K], confidence: f64) -> Option<Kappa> {
    let n = table.iter().flatten().sum::<u64>() as f64;
    let p = table.map(|row| row.map(|count| count as f64 / n));
    let rows = p.map(|row| row.iter().sum::<f64>());
    let columns: [f64; K] = std::array::from_fn(|j| p.iter().map(|row| row[j]).sum());
    let told = |margin: &[f64; K]| margin.iter().filter(|&&share| share > 0.0).count() > 1;
    if n == 0.0 || !told(&rows) || !told(&columns) {
        return None;
    }
    let seen: f64 = (0..K).map(|i| p[i][i]).sum();
    let chance: f64 = (0..K).map(|i| rows[i] * columns[i]).sum();
    let value = (seen - chance) / (1.0 - chance);
    let variance = variance(&p, &rows, &columns, value, chance) / n;
    let se = if variance > NOTHING {
        variance.sqrt()
    } else {
        0.0
    };
    let reach = two_sided_z(confidence) * se;
    Some(Kappa {
        value,
        se,
        interval: (se > 0.0).then(|| Interval {
            low: (value - reach).max(-1.0),
            high: (value + reach).min(1.0),
        }),
    })
}

/// Variance of √n · kappa: equation 13 of Fleiss, Cohen & Everitt, as A + B − C.
fn variance<const K: usize>(
    p: &[[f64; K]; K],
    rows: &[f64; K],
    columns: &[f64; K],
    kappa: f64,
    chance: f64,
) -> f64 {
    let rest = 1.0 - kappa;
    let mut sum = -(kappa - chance * rest).powi(2);
    for i in 0..K {
        for j in 0..K {
            sum += p[i][j]
                * if i == j {
                    (1.0 - (rows[i] + columns[i]) * rest).powi(2)
                } else {
                    (rest * (columns[i] + rows[j])).powi(2)
                };
        }
    }
    sum / (1.0 - chance).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Output of SAS `PROC FREQ` (simple kappa coefficient) as printed in the
    /// tests of statsmodels 0.15.0, `test_inter_rater.py`.
    #[test]
    fn three_answers_as_sas_prints_them() {
        let got = cohen(&[[0, 4, 1], [0, 8, 0], [0, 1, 5]], 0.95).unwrap();
        let limits = got.interval.unwrap();
        let told = [got.value, got.se, limits.low, limits.high];
        for (got, want) in told.iter().zip([0.4842, 0.1380, 0.2137, 0.7547]) {
            assert!((got - want).abs() < 5.1e-5, "{told:?}");
        }
    }

    /// Kappa, standard error and 95 % limits by running statsmodels 0.15.0
    /// `cohens_kappa`; kappa also by scikit-learn 1.9.1 `cohen_kappa_score`.
    #[test]
    fn as_statsmodels() {
        let rows = [
            (
                [794, 150, 86, 570],
                0.699_592_668_024,
                0.017_979_165_074,
                0.664_354_152_008,
                0.734_831_184_041,
            ),
            (
                [101, 121, 59, 33],
                -0.155_639_159_238,
                0.050_945_973_201,
                -0.255_491_431_869,
                -0.055_786_886_606,
            ),
            (
                [30, 6, 1, 3],
                0.375,
                0.179_345_768_102,
                0.023_488_753_741,
                0.726_511_246_259,
            ),
            (
                [40, 0, 5, 5],
                0.615_384_615_385,
                0.150_626_296_584,
                0.320_162_498_955,
                0.910_606_731_814,
            ),
            (
                [20, 5, 10, 15],
                0.4,
                0.126_996_062_931,
                0.151_092_290_477,
                0.648_907_709_523,
            ),
        ];
        for ([a, b, c, d], value, se, low, high) in rows {
            let got = cohen(&[[a, b], [c, d]], 0.95).unwrap();
            let limits = got.interval.unwrap();
            assert!((got.value - value).abs() < 1e-11, "{got:?}");
            assert!((got.se - se).abs() < 1e-11, "{got:?}");
            assert!((limits.low - low).abs() < 1e-9, "{got:?}");
            assert!((limits.high - high).abs() < 1e-9, "{got:?}");
        }
    }

    /// statsmodels gives 1.216 as the upper limit here; kappa ends at 1.
    #[test]
    fn limits_stay_where_kappa_can_be() {
        let got = cohen(&[[5, 1], [0, 2]], 0.95).unwrap();
        assert!((got.se - 0.256_120_416_286).abs() < 1e-11);
        assert_eq!(got.interval.unwrap().high, 1.0);
    }

    #[test]
    fn full_agreement_is_no_certainty() {
        let got = cohen(&[[7, 0], [0, 3]], 0.95).unwrap();
        assert_eq!((got.value, got.se, got.interval), (1.0, 0.0, None));
    }

    #[test]
    fn a_judge_with_one_answer_gives_no_kappa() {
        for table in [
            [[0, 0], [0, 0]],
            [[9, 0], [0, 0]],
            [[9, 3], [0, 0]],
            [[0, 4], [0, 2]],
        ] {
            assert_eq!(cohen(&table, 0.95), None, "{table:?}");
        }
    }
}
