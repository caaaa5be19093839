//! Trials held against courses of blur whose moments are known in closed form.

use super::trace::lowered;
use super::*;
use crate::sharpness::Blurred;

/// A course of blur, ‰, `t` seconds after `onset`, an update a frame.
fn course(fps: f64, seconds: f64, onset: f64, blur: impl Fn(f64) -> f64) -> Trace {
    let n = (fps * seconds) as usize;
    let updates = (0..n).map(|k| {
        let t = k as f64 / fps;
        let permille: f64 = blur(t - onset);
        Update {
            shown_s: t,
            permille,
            blur: Blurred {
                square: permille * permille.abs(),
                square_u: 0.01,
            },
            mean: 0.5,
            white: 0.0,
        }
    });
    Trace {
        updates: updates.collect(),
        period_s: 1.0 / fps,
        frame_s: 1.0 / fps,
        every_frame: true,
    }
}

fn rules(delta: f64, hold_s: f64) -> Rules {
    Rules {
        window_s: 1.5,
        hold_s,
        delta,
        hit: 4.0,
        rate_u: 0.0,
        film_u: 0.0,
        film_limit: 0.0,
        reference_u: 0.0,
    }
}

fn light(onset_s: f64) -> Bounds {
    Bounds {
        stimulus: Stimulus {
            side: None,
            move_s: None,
            onset_s,
            onset_u_s: 0.0,
            off_s: None,
            seen: OnsetSeen::Direct,
        },
        lag: None,
        over_s: None,
    }
}

fn swing(side: Side, move_s: f64, onset_s: f64) -> Bounds {
    let mut out = light(onset_s);
    out.stimulus.side = Some(side);
    out.stimulus.move_s = Some(move_s);
    out
}

fn seen(blur: impl Fn(f64) -> f64) -> Observed {
    observe(
        &course(240.0, 3.0, 0.5, blur),
        None,
        &light(0.5),
        &rules(2.0, 0.2),
    )
}

fn verdict(blur: impl Fn(f64) -> f64) -> Judged {
    judge(&seen(blur), 4.0, true)
}

/// Step response of a second-order system (Ogata, Modern Control Engineering,
/// ch. 5; citation from memory), ωn = 10 rad/s.
fn step(zeta: f64, t: f64) -> f64 {
    let w = 10.0;
    if t < 0.0 {
        return 0.0;
    }
    if zeta >= 1.0 {
        return 1.0 - (1.0 + w * t) * (-w * t).exp();
    }
    let root = (1.0 - zeta * zeta).sqrt();
    let a = w * root * t;
    1.0 - (-zeta * w * t).exp() * (a.cos() + zeta / root * a.sin())
}

/// Exact settling times and overshoots: closed form, confirmed by running
/// scipy.signal.step. Blur is how far the lens is from its end, 40 ‰ at onset: 5 %
/// of the way is a δ of 2 ‰, 2 % one of 0.8 ‰.
#[test]
fn second_order_lenses_settle_when_the_closed_form_says() {
    let fps = 1000.0;
    for (zeta, two, five, over) in [
        (0.3, 1.123_008_147, 1.013_709_474, 0.372_326_104_9),
        (0.5, 0.807_634_897_4, 0.528_909_322_0, 0.163_033_534_8),
        (0.7, 0.597_879_236_7, 0.289_982_052_6, 0.045_987_910_26),
        (1.0, 0.583_392_170_2, 0.474_386_451_8, 0.0),
    ] {
        let trace = course(fps, 8.0, 0.5, |t| 40.0 * (1.0 - step(zeta, t)).abs());
        for (share, want) in [(0.02, two), (0.05, five)] {
            let rules = Rules {
                window_s: 6.0,
                ..rules(40.0 * share, 0.4)
            };
            let o = observe(&trace, None, &light(0.5), &rules);
            let got = o.settle_s.unwrap() - 0.5;
            assert!(
                (got - want).abs() < 1.5 / fps,
                "ζ {zeta} {share}: {got} {want}"
            );
            assert_eq!(judge(&o, 4.0, true), Judged::Hit { early: false });
            // At 5 % the smallest overshoot never leaves the band.
            if share < over {
                let seen = o.overshoot.unwrap();
                assert!((seen - 40.0 * over).abs() < 0.1, "ζ {zeta}: {seen}");
            }
        }
    }
}

#[test]
fn a_pass_through_focus_is_no_hit_and_a_stop_beside_it_is_soft() {
    // From 30 ‰ through focus at 0.3 s to a stop at 12 ‰ on the other side.
    let through = |t: f64| (30.0 - 100.0 * t.clamp(0.0, 0.42)).abs();
    assert_eq!(verdict(through), Judged::Soft);
    assert_eq!(verdict(|t| 30.0 - 20.0 * t.clamp(0.0, 0.5)), Judged::Soft);
}

#[test]
fn lost_trials_say_how() {
    assert_eq!(verdict(|_| 30.0), Judged::Lost(Lost::NeverMoved));
    let hunts = |t: f64| 15.0 + 10.0 * (12.0 * t).sin();
    assert_eq!(verdict(hunts), Judged::Lost(Lost::HuntedOn));
    let leaves = |t: f64| match t {
        t if t < 0.3 => 30.0,
        t if t < 1.0 => 0.5,
        t => 15.0 + 10.0 * (12.0 * t).sin(),
    };
    assert_eq!(verdict(leaves), Judged::Lost(Lost::DidNotStay));
}

#[test]
fn in_focus_all_along_tests_nothing_unless_the_other_side_was_in_focus_before() {
    assert_eq!(verdict(|_| 1.0), Judged::Void(Void::NotDisplaced));
    let sharp = course(240.0, 3.0, 1.0, |_| 0.5);
    let soft = course(240.0, 3.0, 1.0, |_| 20.0);
    let bounds = swing(Side::Near, 0.9, 1.0);
    for (other, displaced, want) in [
        (Some(&sharp), true, Judged::Hit { early: true }),
        (Some(&sharp), false, Judged::Void(Void::NotDisplaced)),
        (Some(&soft), true, Judged::Void(Void::NotDisplaced)),
        (None, true, Judged::Void(Void::NotDisplaced)),
    ] {
        let o = observe(&sharp, other, &bounds, &rules(2.0, 0.2));
        assert_eq!(judge(&o, 4.0, displaced), want);
    }
}

#[test]
fn a_trial_that_is_over_before_its_hold_is_cut() {
    let mut bounds = light(0.5);
    bounds.over_s = Some(2.1);
    let trace = course(240.0, 3.0, 0.5, |t| if t < 0.3 { 30.0 } else { 0.0 });
    let o = observe(&trace, None, &bounds, &rules(2.0, 0.2));
    assert_eq!(
        (judge(&o, 4.0, true), o.end),
        (Judged::Void(Void::Cut), None)
    );
    bounds.over_s = Some(2.21);
    let o = observe(&trace, None, &bounds, &rules(2.0, 0.2));
    assert_eq!(judge(&o, 4.0, true), Judged::Hit { early: false });
}

/// A hole of 150 ms anywhere from the onset to the end of the hold: within, or
/// across either end.
#[test]
fn a_hole_cuts_wherever_it_lies() {
    for (from, cut) in [
        (0.2, false),
        (0.4, true),
        (1.5, true),
        (2.1, true),
        (2.3, false),
    ] {
        let mut trace = course(240.0, 3.0, 0.5, |t| if t < 0.3 { 30.0 } else { 0.0 });
        let hole = from..from + 0.15;
        trace.updates.retain(|u| !hole.contains(&u.shown_s));
        let o = observe(&trace, None, &light(0.5), &rules(2.0, 0.2));
        assert_eq!(o.cut, cut, "{from} s");
    }
}

#[test]
fn turns_relapses_and_overshoot_are_counted() {
    // Through focus to 8 ‰ and back: one full overshoot makes two turns.
    let over = |t: f64| match t {
        t if t < 0.2 => 30.0,
        t if t < 0.5 => (30.0 - 38.0 * (t - 0.2) / 0.3).abs(),
        t => (8.0 - 8.0 * (t - 0.5) / 0.2).max(0.0),
    };
    let o = seen(over);
    assert_eq!((o.reversals, o.relapses), (2, 0));
    assert!(
        (o.overshoot.unwrap() - 8.0).abs() < 0.3,
        "{:?}",
        o.overshoot
    );
    assert!(
        (o.settle_s.unwrap() - 1.15).abs() < 0.006,
        "{:?}",
        o.settle_s
    );
    // Settled, away for longer than half a hold, back.
    let relapse = |t: f64| {
        if t < 0.2 || (0.9..1.1).contains(&t) {
            20.0
        } else {
            0.0
        }
    };
    let o = seen(relapse);
    assert_eq!(o.relapses, 1);
    assert!(
        (o.settle_s.unwrap() - 0.7).abs() < 0.006,
        "{:?}",
        o.settle_s
    );
}

/// The films' own softness adds as squares do; taken off, a course is what it
/// was without it.
#[test]
fn squares_are_lowered_not_diameters() {
    let plain = course(60.0, 1.0, 0.0, |t| 10.0 * t);
    let soft = lowered(&plain.updates, -9.0);
    assert!((soft[0].permille - 3.0).abs() < 1e-9);
    let back = lowered(&soft, 9.0);
    for (a, b) in back.iter().zip(&plain.updates) {
        assert!((a.permille - b.permille).abs() < 1e-6);
    }
}

#[test]
fn the_film_s_limit_is_what_scatters_at_rest() {
    // A hundredth as rests, squares scattered evenly over ±2 ‰².
    let trace = {
        let mut t = course(240.0, 4.0, 0.5, |t| if t < 0.2 { 30.0 } else { 0.0 });
        for (k, u) in t
            .updates
            .iter_mut()
            .enumerate()
            .filter(|(_, u)| u.shown_s > 0.71)
        {
            u.blur.square = ((k * 37) % 401) as f64 / 100.0 - 2.0;
            u.permille = crate::sharpness::disc::diameter(u.blur.square);
        }
        t
    };
    let o = observe(&trace, None, &light(0.5), &rules(4.0, 0.2).coarse());
    let limit = film_limit([(&o, &trace, f64::MAX)].into_iter(), 0.2).unwrap();
    // From the 5 % to the 95 % point of the scatter: 3.6 ‰².
    assert!((limit.least - 3.6f64.sqrt()).abs() < 0.06, "{limit:?}");
}

/// A lens in focus at once after 0.7 s; `square` is what its film shows then.
fn filmed(square: impl Fn(f64) -> f64) -> (Observed, Trace) {
    let mut trace = course(240.0, 4.0, 0.5, |t| if t < 0.2 { 30.0 } else { 0.0 });
    for u in trace.updates.iter_mut().filter(|u| u.shown_s > 0.71) {
        u.blur.square = square(u.shown_s - 0.7);
        u.permille = crate::sharpness::disc::diameter(u.blur.square);
    }
    let o = observe(&trace, None, &light(0.5), &rules(4.0, 0.2).coarse());
    (o, trace)
}

fn limit_of(films: &[(Observed, Trace)]) -> f64 {
    let all = films.iter().map(|(o, t)| (o, t, f64::MAX));
    film_limit(all, 0.2).unwrap().least
}

#[test]
fn what_a_film_hides_right_after_motion_is_its_limit() {
    // 12 ‰² of hidden detail that come back within 0.3 s.
    let creeps = limit_of(&[filmed(|t| 12.0 * (1.0 - t / 0.3).max(0.0))]);
    assert!((2.5..3.5).contains(&creeps), "{creeps}");
    assert!(limit_of(&[filmed(|_| 0.0)]) < 0.1);
}

#[test]
fn a_lens_that_hunts_in_one_trial_of_four_is_no_film() {
    let still = || filmed(|t| 0.5 * (40.0 * t).sin());
    let hunts = || filmed(|t| 6.0 * (1.0 - (20.0 * t).cos()));
    let clean = limit_of(&[still(), still(), still()]);
    let one = limit_of(&[still(), hunts(), still(), still()]);
    assert!(limit_of(&[hunts()]) > 3.0 * clean);
    assert!((one - clean).abs() < 0.05, "{clean} {one}");
}

/// 4 ‰ ± 2 ‰² of its square: near enough to 4.4 ‰ (19.4 ‰², 3.4 off), not to
/// 4.5 ‰ (20.3 ‰², 4.3 off).
#[test]
fn a_close_call_is_told_by_squares() {
    let trace = course(60.0, 4.0, 0.5, |_| 4.0);
    let rules = Rules {
        film_u: 2.0,
        ..rules(4.0, 0.2)
    };
    let o = observe(&trace, None, &light(0.5), &rules);
    assert!((o.end_square_u - 2.0).abs() < 0.1, "{}", o.end_square_u);
    assert!(o.is_close(4.4) && !o.is_close(4.5));
    assert!(!Observed { end: None, ..o }.is_close(4.4));
}

/// 5 ‰ of blur that last half a second, then none; the film's limit is 6 ‰.
#[test]
fn what_a_film_may_show_too_much_makes_settling_unsure() {
    let trace = course(60.0, 4.0, 0.5, |t| match t {
        t if t < 0.2 => 30.0,
        t if t < 0.7 => 5.0,
        _ => 0.0,
    });
    let u = |film_limit| {
        let rules = Rules {
            film_limit,
            ..rules(4.0, 0.2)
        };
        observe(&trace, None, &light(0.5), &rules).uncertainty_s
    };
    assert!(u(0.0) < 0.02, "{}", u(0.0));
    assert!((u(6.0) - 0.25).abs() < 0.02, "{}", u(6.0));
}
