//! Sums by lanes against plain ones.

use super::*;

fn columns(n: usize) -> Vec<Share> {
    [n / 2 / LANES * LANES, n]
        .map(|until| Share {
            until,
            ..Share::default()
        })
        .to_vec()
}

#[test]
fn gradients_are_summed_alike_with_and_without_storing_them() {
    for n in [2usize, 3, 17, 18, 19, 50, 131] {
        let row = |k: usize| -> Vec<f32> {
            (0..n)
                .map(|i| ((i * 37 + k * 11) % 29) as f32 / 29.0)
                .collect()
        };
        let (a, b, c) = (row(1), row(2), row(5));
        let keep: Vec<f32> = (0..n).map(|i| f32::from(u8::from(i % 7 != 3))).collect();
        let (mut gx, mut gy) = (vec![0.0; n], vec![0.0; n]);
        let mut shares = columns(n);
        let stored = sobel_row([&a, &b, &c], &keep, &mut gx, &mut gy, &mut shares);
        let mut again = columns(n);
        let summed = sobel_squares([&a, &b, &c], &keep, &mut again);
        assert_eq!(stored.to_bits(), summed.to_bits());
        let parts = |s: &[Share]| s.iter().map(Share::sums).collect::<Vec<_>>();
        assert_eq!(parts(&shares), parts(&again));
        if n >= 3 {
            assert_eq!(parts(&shares)[1].0.to_bits(), summed.to_bits());
            let along: f64 = gx.iter().map(|v| f64::from(v * v)).sum();
            assert!((parts(&shares)[1].1 - along).abs() <= 1e-5 * along);
            let until = 1 + shares[0].until;
            let left: f64 = (0..until)
                .map(|x| f64::from(gx[x] * gx[x] + gy[x] * gy[x]))
                .sum();
            assert!((parts(&shares)[0].0 - left).abs() <= 1e-5 * left.max(1.0));
        }
        let mut light = [[0.0; LANES]; 2];
        let sum = dot_shares(&a, &keep, &[n / 2 / LANES * LANES, n], &mut light);
        assert_eq!(sum.to_bits(), dot(&a, &keep).to_bits());
        let high = a.iter().zip(&keep).filter(|(v, k)| **v >= 0.5 && **k > 0.0);
        assert_eq!(at_least(&a, 0.5, &keep), high.count());
    }
}

#[test]
fn sums_agree_with_plain_ones() {
    let a: Vec<f32> = (0..9001u16).map(|i| f32::from(i % 17) * 0.25).collect();
    let b: Vec<f32> = (0..9001u16).map(|i| f32::from(i % 23) * 0.5).collect();
    let plain: f64 = a.iter().zip(&b).map(|(x, y)| f64::from(x * y)).sum();
    assert!((dot(&a, &b) - plain).abs() < 1e-6 * plain);
    let plain: f64 = a.iter().map(|x| f64::from(*x)).sum();
    assert!((sum(&a) - plain).abs() < 1e-6 * plain);
}
