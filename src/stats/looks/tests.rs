use super::*;

fn all(shown: &[[f64; 2]]) -> f64 {
    shown.iter().flatten().sum()
}

fn constant(looks: u32, critical: impl Fn(f64) -> f64) -> Boundaries {
    let shares = even_shares(looks);
    let critical = shares.iter().map(|&t| critical(t)).collect();
    Boundaries { shares, critical }
}

/// Armitage, McPherson & Rowe 1969, table 2 (from memory): looking again and
/// again at the level of one look.
#[test]
fn naive_looks_mislead_more_often() {
    let rows = [
        (1, 0.05),
        (2, 0.083),
        (3, 0.107),
        (4, 0.126),
        (5, 0.142),
        (10, 0.193),
        (20, 0.248),
    ];
    for (looks, printed) in rows {
        let got = all(&constant(looks, |_| two_sided_z(0.95)).shown(0.0, &[]));
        assert!((got - printed).abs() < 5.1e-4, "{looks}: {got}");
    }
}

/// Jennison & Turnbull 2000, tables 2.1 and 2.3 (from memory): constants of the
/// designs of Pocock and of O'Brien and Fleming for alpha 0.05.
#[test]
fn pocock_and_obrien_fleming_constants() {
    let pocock = [
        (2, 2.178),
        (3, 2.289),
        (4, 2.361),
        (5, 2.413),
        (10, 2.555),
        (20, 2.672),
    ];
    for (looks, c) in pocock {
        let got = all(&constant(looks, |_| c).shown(0.0, &[]));
        assert!((got - 0.05).abs() < 8e-5, "{looks}: {got}");
    }
    let late = [
        (2, 1.977),
        (3, 2.004),
        (4, 2.024),
        (5, 2.040),
        (10, 2.087),
        (20, 2.126),
    ];
    for (looks, c) in late {
        let got = all(&constant(looks, |t| c / t.sqrt()).shown(0.0, &[]));
        assert!((got - 0.05).abs() < 8e-5, "{looks}: {got}");
    }
}

/// Jennison & Turnbull 2000, tables 2.2 and 2.4 (from memory): how many times
/// the trials of one look, five looks, alpha 0.05, power 0.8 and 0.9.
#[test]
fn inflation_of_the_classical_designs() {
    for (c, late, power, printed) in [
        (2.413, false, 0.8, 1.229),
        (2.413, false, 0.9, 1.207),
        (2.040, true, 0.8, 1.028),
        (2.040, true, 0.9, 1.026),
    ] {
        let design = constant(5, |t| if late { c / t.sqrt() } else { c });
        let got = design.inflation(0.95, power);
        assert!((got - printed).abs() < 1e-3, "{c}: {got}");
    }
}

/// Two implementations that agree to these digits: the integrator of gsdesign
/// 0.1.5 with its boundaries sought by bisection, and sequential-analysis 0.4.0
/// (both PyPI), two-sided symmetric. Uneven looks among them.
#[test]
fn lan_demets_boundaries() {
    let (late, even) = (Spending::Late, Spending::Even);
    let fifths = even_shares(5);
    let uneven = [0.3, 0.45, 0.5, 0.9, 1.0];
    let thirds = even_shares(3);
    let rows: [(&[f64], Spending, f64, &[f64]); 7] = [
        (
            &fifths,
            late,
            0.05,
            &[
                4.876_884_95,
                3.357_012_05,
                2.680_280_10,
                2.289_816_79,
                2.031_032_06,
            ],
        ),
        (
            &fifths,
            even,
            0.05,
            &[
                2.437_976_69,
                2.426_813_87,
                2.410_193_86,
                2.396_645_43,
                2.385_984_60,
            ],
        ),
        (
            &uneven,
            late,
            0.05,
            &[
                3.928_572_54,
                3.148_975_97,
                3.017_011_37,
                2.105_490_81,
                2.057_500_00,
            ],
        ),
        (
            &uneven,
            even,
            0.05,
            &[
                2.311_835_30,
                2.442_187_33,
                2.539_231_95,
                2.277_566_70,
                2.399_424_23,
            ],
        ),
        (&[0.5, 1.0], late, 0.1, &[2.537_987_60, 1.662_106_57]),
        (
            &thirds,
            even,
            0.01,
            &[2.838_802_02, 2.884_324_01, 2.903_454_69],
        ),
        (
            &thirds,
            late,
            0.05,
            &[3.710_302_87, 2.511_427_50, 1.993_047_49],
        ),
    ];
    for (shares, spending, alpha, expected) in rows {
        let got = Boundaries::new(shares, alpha, spending);
        for (c, e) in got.critical.iter().zip(expected) {
            assert!((c - e).abs() < 1e-6, "{shares:?}: {got:?}");
        }
        assert!((all(&got.shown(0.0, &[])) - alpha).abs() < 1e-9);
    }
}

/// sequential-analysis 0.4.0 (PyPI): drift for the power, and the share filmed
/// on average with and without that difference.
#[test]
fn power_and_average_number_of_trials() {
    let rows = [
        (
            Spending::Late,
            0.8,
            2.836_001_25,
            0.803_792_66,
            0.993_434_18,
        ),
        (
            Spending::Late,
            0.9,
            3.278_706_57,
            0.741_553_21,
            0.993_434_18,
        ),
        (
            Spending::Even,
            0.8,
            3.085_085_89,
            0.656_135_25,
            0.976_081_15,
        ),
        (
            Spending::Even,
            0.9,
            3.539_562_22,
            0.573_652_07,
            0.976_081_15,
        ),
    ];
    for (spending, power, drift, there, none) in rows {
        let design = Boundaries::new(&even_shares(5), 0.05, spending);
        let got = design.drift(power);
        assert!((got - drift).abs() < 1e-5, "{spending:?}: {got}");
        assert!((design.average_share(got, &[]) - there).abs() < 1e-5);
        assert!((design.average_share(0.0, &[]) - none).abs() < 1e-5);
    }
}

/// Closed form (Lan, Simon & Halperin 1982, from memory): halfway, nothing
/// seen, a drift as planned for one look at 80 %.
#[test]
fn the_chance_that_is_left() {
    let design = Boundaries {
        shares: vec![0.5, 1.0],
        critical: vec![WIDEST, two_sided_z(0.95)],
    };
    let drift = two_sided_z(0.95) + quantile(0.8);
    let got = design.chance_left(0, 0.0, drift);
    assert!((got - below((drift * 0.5 - 1.959_964) / 0.5f64.sqrt())).abs() < 1e-6);
    let z = design.futile(drift)[0];
    assert!(z == 0.0 && got > FUTILE, "{z}");
    let late = Boundaries {
        shares: vec![0.8, 1.0],
        ..design
    };
    let z = late.futile(drift)[0];
    assert!(z > 0.5 && (late.chance_left(0, z, drift) - FUTILE).abs() < 1e-9);
    assert_eq!(late.futile(drift)[1], late.critical[1]);
}

/// Ending where it is not worth going on takes little of the power, and a
/// difference that is none is given up early.
#[test]
fn giving_up_saves_trials_and_costs_little() {
    let design = Boundaries::new(&even_shares(5), 0.05, Spending::Late);
    let drift = design.drift(0.8);
    let futile = design.futile(drift);
    let power: f64 = design.shown(drift, &futile).iter().map(|c| c[1]).sum();
    assert!(power > 0.77 && power < 0.8, "{power}");
    assert!(all(&design.shown(0.0, &futile)) <= 0.05);
    let none = design.average_share(0.0, &futile);
    assert!(none > 0.5 && none < 0.85, "{none}");
}

/// Steps of a thousandth, and a first look so early that nothing can be shown.
#[test]
fn looks_close_together_and_very_early() {
    let got = Boundaries::new(&[0.001, 0.5, 0.501, 1.0], 0.05, Spending::Late);
    assert_eq!(got.critical[0], WIDEST);
    assert!(got.critical[2] > got.critical[1]);
    assert!((all(&got.shown(0.0, &[])) - 0.05).abs() < 1e-6);
}

/// As many looks as there may be: how long one waits.
#[test]
fn fifty_looks_do_not_keep_anyone_waiting() {
    let start = std::time::Instant::now();
    for spending in [Spending::Late, Spending::Even] {
        let got = Boundaries::new(&even_shares(50), 0.05, spending);
        assert!(
            (got.shown(got.drift(0.8), &[])
                .iter()
                .map(|c| c[1])
                .sum::<f64>()
                - 0.8)
                .abs()
                < 1e-7
        );
    }
    let took = start.elapsed().as_secs_f64();
    println!("two plans of 50 looks: {took:.2} s");
    assert!(took < 30.0, "{took} s");
}
