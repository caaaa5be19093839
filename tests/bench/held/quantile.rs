//! Quantiles and means of errors.

/// The smallest value that a share `p` of all does not exceed.
pub fn quantile(values: &[f64], p: f64) -> Option<f64> {
    let mut v = values.to_vec();
    v.sort_by(f64::total_cmp);
    let rank = (v.len() as f64 * p).ceil() as usize;
    v.get(rank.max(1) - 1).copied()
}

/// The same of the sizes.
pub fn of_sizes(values: &[f64], p: f64) -> Option<f64> {
    let sizes: Vec<f64> = values.iter().map(|v| v.abs()).collect();
    quantile(&sizes, p)
}

/// The usual median: of an even number the mean of the middle two.
pub fn median(values: &[f64]) -> Option<f64> {
    let mut v = values.to_vec();
    v.sort_by(f64::total_cmp);
    let middle = v.len() / 2;
    let high = *v.get(middle)?;
    Some(if v.len().is_multiple_of(2) {
        f64::midpoint(v[middle - 1], high)
    } else {
        high
    })
}

pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}
