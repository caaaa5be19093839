use super::*;
use crate::render::scene::Optics;

fn drive(outcome: Outcome, lens: &Lens) -> (LensPath, Drive) {
    let blur = Blur::new(&Optics {
        near_permille: 40.0,
        ..Optics::default()
    });
    let mut path = LensPath::new(0.0);
    let drive = path.trial((Side::Near, outcome), lens, blur, 1.0, 6.0);
    (path, drive)
}

fn reversals(path: &LensPath) -> usize {
    let at: Vec<f64> = (0..6000).map(|k| path.at(f64::from(k) * 1e-3)).collect();
    let moves = at.windows(2).map(|w| w[1] - w[0]);
    let signs: Vec<bool> = moves.filter(|d| d.abs() > 1e-9).map(|d| d > 0.0).collect();
    signs.windows(2).filter(|s| s[0] != s[1]).count()
}

#[test]
fn a_plain_drive_is_a_raised_cosine() {
    let (path, _) = drive(Outcome::Hit, &Lens::default());
    assert!(path.at(1.0).abs() < 1e-12);
    assert!((path.at(1.0 + 0.110) - 0.5).abs() < 1e-12);
    assert!((path.at(1.0 + 0.055) - (1.0 - 0.5_f64.sqrt()) / 2.0).abs() < 1e-12);
    assert!((path.at(1.22) - 1.0).abs() < 1e-12);
    assert_eq!(reversals(&path), 0);
}

#[test]
fn hunting_turns_as_often_as_asked() {
    for hunts in 1..6 {
        let lens = Lens {
            hunts,
            hunt_permille: 8.0,
            ..Lens::default()
        };
        let (path, _) = drive(Outcome::Hit, &lens);
        assert_eq!(reversals(&path), hunts as usize);
        assert!((path.at(5.9) - 1.0).abs() < 1e-12);
        // 8 ‰ of 40 ‰ per unit beyond the plane.
        assert!((path.at(1.22) - 1.2).abs() < 1e-9);
    }
}

#[test]
fn an_overshoot_dies_down_by_its_damping() {
    let lens = Lens {
        overshoot_permille: 10.0,
        damping: 0.4,
        ..Lens::default()
    };
    let (path, _) = drive(Outcome::Hit, &lens);
    for (k, want) in [1.25, 0.9, 1.04, 0.984].iter().enumerate() {
        let t = 1.22 + 0.09 * k as f64;
        assert!((path.at(t) - want).abs() < 1e-9, "turn {k}");
    }
    assert!((path.at(3.0) - 1.0).abs() < 1e-12);
}

/// 40 ‰ in 220 ms, landing with 100 ms. The join: tan(πu/2) = 220 ÷ 100π,
/// u = 0.389 (85.6 ms); cos²(πu/2) = 1 ÷ (1 + 0.4904) of the way is left.
#[test]
fn a_slow_landing_dies_away_with_its_time_constant() {
    let lens = Lens {
        landing_ms: 100.0,
        ..Lens::default()
    };
    let (path, _) = drive(Outcome::Hit, &lens);
    let left = |t: f64| 40.0 * (1.0 - path.at(t));
    let join = 1.0 + 0.220 * 2.0 / std::f64::consts::PI * (2.2 / std::f64::consts::PI).atan();
    let there = 40.0 / (1.0 + (2.2 / std::f64::consts::PI).powi(2));
    assert!((join - 1.085_6).abs() < 1e-4 && (left(join) - there).abs() < 1e-9);
    for (after, want) in [(0.1, 1.0), (0.2, 2.0), (0.35, 3.5)] {
        assert!((left(join + after) - there * f64::exp(-want)).abs() < 1e-9);
    }
    // No step in speed, and it arrives for good.
    let speed = |t: f64| (path.at(t + 1e-6) - path.at(t - 1e-6)) / 2e-6;
    assert!((speed(join - 1e-5) / speed(join + 1e-5) - 1.0).abs() < 1e-3);
    assert!(left(2.5).abs() < 1e-12 && left(join + 0.6) > 0.02);
}

#[test]
fn a_halt_rests_short_of_the_goal() {
    let halting = |hunts: u32| {
        let lens = Lens {
            halt_permille: 6.0,
            halt_ms: 120.0,
            hunts,
            hunt_permille: 8.0,
            overshoot_permille: 4.0,
            damping: 0.0,
            ..Lens::default()
        };
        drive(Outcome::Hit, &lens).0
    };
    let path = halting(0);
    for t in [1.22, 1.28, 1.34] {
        assert!((40.0 * (1.0 - path.at(t)) - 6.0).abs() < 1e-9);
    }
    // Then past the goal and back, 90 ms each.
    assert!((40.0 * (path.at(1.43) - 1.0) - 4.0).abs() < 1e-9);
    assert!((path.at(1.52) - 1.0).abs() < 1e-12);
    // Coming back from beyond, it rests beyond.
    let back = halting(1);
    assert!((40.0 * (back.at(1.40) - 1.0) - 6.0).abs() < 1e-9);
    assert!((40.0 * (1.0 - back.at(1.52)) - 4.0).abs() < 1e-9);
}

#[test]
fn outcomes_end_where_they_should() {
    let lens = Lens::default();
    let (path, soft) = drive(Outcome::Soft, &lens);
    assert!((path.at(5.0) - (1.0 - 9.0 / 40.0)).abs() < 1e-12);
    assert!((soft.goal - path.at(5.0)).abs() < 1e-12);
    // Through focus, and as far beyond it.
    let (path, beyond) = drive(Outcome::RanThrough, &lens);
    assert!((path.at(5.0) - (1.0 + 9.0 / 40.0)).abs() < 1e-12);
    assert!((beyond.goal - path.at(5.0)).abs() < 1e-12);
    let (path, stays) = drive(Outcome::NeverMoved, &lens);
    assert!(path.at(5.0).abs() < 1e-12 && stays.start_s.is_none());
    let (path, left) = drive(Outcome::DidNotStay, &lens);
    assert!((left.leaves_s.unwrap() - 1.92).abs() < 1e-9);
    // Away by 14 ‰ and by two fifths of it, in turns of 90 ms.
    for (k, share) in [1.0, 0.4, 1.0, 0.4].iter().enumerate() {
        let t = 1.92 + 0.09 * (k + 1) as f64;
        assert!((path.at(t) - (1.0 - share * 14.0 / 40.0)).abs() < 1e-9);
    }
    assert!(path.at(5.95) < 0.95);
    let (path, _) = drive(Outcome::Relapse, &lens);
    assert!((path.at(2.05) - (1.0 - 14.0 / 40.0)).abs() < 1e-9);
    assert!((path.at(5.0) - 1.0).abs() < 1e-12);
    let (path, _) = drive(Outcome::HuntedOn, &lens);
    assert!(reversals(&path) > 40);
}
