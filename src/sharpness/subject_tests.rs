use super::*;

const F: [f64; BANDS] = {
    let mut f = [0.0; BANDS];
    let mut k = 0;
    while k < BANDS {
        f[k] = 12.0 + 6.0 * k as f64;
        k += 1;
    }
    f
};

fn learnt(sharp: &Energies, stretches: &[&[Energies]], f: &[f64; BANDS]) -> Option<Subject> {
    Some(Subject::learn(sharp, stretches, f, 10)?.at_rest(stretches))
}

fn card(square: f64, floor: f64) -> Energies {
    std::array::from_fn(|b| {
        let sharp = 1e-3 * (F[b] / 12.0).powf(-2.0);
        (sharp * disc::left(square, F[b]) + floor * 1e-5) as f32
    })
}

fn course(floor: f64) -> Vec<Energies> {
    let out = (0..40).map(|k| card((30.0 - f64::from(k) * 0.75).powi(2), floor));
    out.chain((0..40).map(|_| card(0.0, floor))).collect()
}

#[test]
fn a_disc_is_told_from_what_it_leaves() {
    for floor in [0.0, 1.0] {
        let course = course(floor);
        let s = learnt(&card(0.0, floor), &[&course], &F).unwrap();
        for d in [-2.0, 0.0, 1.0, 2.5, 6.0, 15.0, 28.0] {
            let told = disc::diameter(s.blur(&card(d * f64::abs(d), floor)).square);
            assert!(
                (told - d).abs() < 0.15 + 0.07 * d.abs(),
                "{floor} {d}: {told}"
            );
        }
    }
}

#[test]
fn another_film_is_as_unsure_as_its_bands_disagree() {
    let s = learnt(&card(0.0, 0.0), &[&course(0.0)], &F).unwrap();
    let uneven = |square: f64| {
        let mut e = card(square, 0.0);
        for (k, v) in e.iter_mut().enumerate() {
            *v *= [0.6, 1.4][k % 2];
        }
        e
    };
    let (same, other) = (
        s.blur_of_another(&card(64.0, 0.0), 6.0),
        s.blur_of_another(&uneven(9.0), 6.0),
    );
    assert!((disc::diameter(same.square) - 8.0).abs() < 0.5, "{same:?}");
    assert!(other.square_u > 20.0 * same.square_u, "{same:?} {other:?}");
    // Far out of focus little is left to disagree about.
    let far = s.blur_of_another(&uneven(1600.0), 6.0);
    assert!(
        far.square > 900.0 && far.square_u < other.square_u / 4.0,
        "{far:?}"
    );
}

#[test]
fn what_stays_out_of_focus_is_no_detail() {
    let plain = learnt(&card(0.0, 5.0), &[], &F).unwrap();
    let told = disc::diameter(plain.blur(&card(9.0, 5.0)).square);
    assert!(
        told < 2.8,
        "without a blurred update the floor passes for detail: {told}"
    );
}

/// A side that only hunts: what is unsure of it is what its bands disagree by,
/// here a fiftieth, not everything.
#[test]
fn what_never_rests_near_focus_is_not_wholly_unsure() {
    let hunts: Vec<Energies> = (0..80)
        .map(|k| {
            let d = 15.0 + 10.0 * (f64::from(k) * 0.3).sin();
            let mut e = card(d * d, 0.0);
            for (b, v) in (k as usize..).zip(&mut e) {
                *v *= if b.is_multiple_of(2) { 1.02 } else { 0.98 };
            }
            e
        })
        .collect();
    let s = learnt(&card(0.0, 0.0), &[&hunts], &F).unwrap();
    let told = s.blur(&card(15.0f64.powi(2), 0.0));
    let u = told.square_u / (2.0 * 15.0);
    assert!(u < 0.5, "{u} ‰");
}

#[test]
fn no_band_no_subject() {
    assert!(learnt(&[0.0; BANDS], &[], &F).is_none());
    assert!(learnt(&card(0.0, 0.0), &[], &[0.0; BANDS]).is_none());
}

/// Every row of a table, held against all columns one after the other; rows that
/// repeat make equals, of which the first counts.
#[test]
fn the_least_sum_of_squares_is_that_of_all() {
    let mut state = 9u64;
    let mut chance = move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 40) as f64 / (1u64 << 24) as f64
    };
    let wide = 300;
    let table: Vec<f64> = (0..BANDS * wide)
        .map(|i| (((i % wide) % 140) as f64 / 140.0).powf(1.0 + (i / wide) as f64 / 5.0))
        .collect();
    for columns in [0..300, 3..300, 0..82, 5..22, 7..11, 40..41, 10..10] {
        for n in [0, 1, 5, 6, 7, BANDS] {
            let at = 300.0 * chance();
            let values: Vec<(usize, f64)> = (0..n)
                .map(|row| (row, table[row * wide + at as usize] + 0.1 * chance()))
                .collect();
            let sum = |column: usize| {
                let squares = values.iter().map(|(row, v)| {
                    let b = table[row * wide + column];
                    (v - b) * (v - b)
                });
                squares.fold(0.0, |sum, s| sum + s)
            };
            let plain = columns.clone().fold((f64::MAX, columns.start), |least, k| {
                if sum(k) < least.0 { (sum(k), k) } else { least }
            });
            let found = least(&values, &table, columns.clone());
            assert_eq!(found, plain.1 - columns.start, "{columns:?} {n}");
        }
    }
}
