//! Sessions by hand: which answer, or which error.

use super::*;

/// Trials of one clip at these seconds; the window is a second and a half.
fn clip(clip: usize, onsets_s: &[f64]) -> Vec<Slot> {
    let one = |(trial, &onset_s): (usize, &f64)| Slot {
        clip,
        film: format!("amber-{clip}.mp4"),
        trial: trial as u32,
        side: None,
        onset_s,
        end_s: onset_s + 1.5,
    };
    onsets_s.iter().enumerate().map(one).collect()
}

/// Every 3 s.
const EVEN: [f64; 10] = [1., 4., 7., 10., 13., 16., 19., 22., 25., 28.];
/// 2.4 to 4.6 s apart, no two distances alike.
const ODD: [f64; 10] = [1.0, 3.5, 7.9, 10.3, 13.5, 18.1, 20.8, 24.4, 28.2, 31.2];

/// Photographs 0.9 s after the onset, off by up to 0.08 s, in ms as the clock has
/// them.
fn after(onsets_s: &[f64], clock_s: f64) -> Vec<Shot> {
    let off = [0.0, 0.05, -0.03, 0.08, -0.06, 0.02, -0.08, 0.01];
    let times = onsets_s.iter().zip(off.iter().cycle());
    at(&times
        .map(|(onset, off)| clock_s + onset + 0.9 + off)
        .collect::<Vec<_>>())
}

fn at(times_s: &[f64]) -> Vec<Shot> {
    let one = |(k, s): (usize, &f64)| Shot {
        name: format!("K{k:03}"),
        taken: Some(Taken {
            ms: (s * 1000.0).round() as i64,
            resolution_ms: 10,
        }),
        side: None,
    };
    times_s.iter().enumerate().map(one).collect()
}

/// Takes some out, by their places.
fn without(mut shots: Vec<Shot>, places: &[usize]) -> Vec<Shot> {
    for place in places.iter().rev() {
        shots.remove(*place);
    }
    shots
}

fn timeless(mut shots: Vec<Shot>) -> Vec<Shot> {
    shots.iter_mut().for_each(|shot| shot.taken = None);
    shots
}

/// Near and far in turn.
fn swung(mut slots: Vec<Slot>) -> Vec<Slot> {
    for slot in &mut slots {
        slot.side = Some([Side::Near, Side::Far][slot.trial as usize % 2]);
    }
    slots
}

fn seen(mut shots: Vec<Shot>, sides: &[Side]) -> Vec<Shot> {
    for (shot, side) in shots.iter_mut().zip(sides.iter().cycle()) {
        shot.side = Some(*side);
    }
    shots
}

/// Slots by number, −1 for none.
fn found(shots: &[Shot], slots: &[Slot]) -> (Vec<i32>, Way) {
    let got = pair(shots, slots).unwrap();
    let number = |slot: &Result<usize, Outside>| slot.map_or(-1, |k| k as i32);
    (got.slots.iter().map(number).collect(), got.way)
}

fn told(shots: &[Shot], slots: &[Slot]) -> String {
    pair(shots, slots).unwrap_err().to_string()
}

#[test]
fn one_for_each_trial_by_order_and_by_time() {
    let (got, way) = found(&after(&ODD, 500.0), &clip(0, &ODD));
    assert_eq!(got, (0..10).collect::<Vec<_>>());
    assert_eq!(way, Way::Both);
    assert_eq!(found(&after(&EVEN, 0.0), &clip(0, &EVEN)).1, Way::Both);
}

#[test]
fn without_times_by_order_alone() {
    let slots = [clip(0, &ODD[..2]), clip(1, &ODD[..1])].concat();
    let shots = timeless(after(&ODD[..6], 0.0));
    let (got, way) = found(&shots, &slots);
    assert_eq!(got, [0, 0, 1, 1, 2, 2]);
    let picture = "K000".to_owned();
    assert_eq!(way, Way::Order(NoTimes::Missing { picture }));
    let error = told(&shots[..5], &slots);
    assert!(
        error.contains("5 photographs do not go evenly into 3 trials"),
        "{error}"
    );
    assert!(error.contains("K000 does not say when"), "{error}");
}

/// A clock of whole seconds tells trials that are 4 s apart, and no nearer ones.
#[test]
fn the_clock_must_be_fine_enough() {
    let coarse = |onsets: &[f64]| {
        let mut shots = after(onsets, 0.0);
        for taken in shots.iter_mut().filter_map(|s| s.taken.as_mut()) {
            taken.ms = taken.ms.div_euclid(1000) * 1000;
            taken.resolution_ms = 1000;
        }
        shots
    };
    let wide: Vec<f64> = EVEN.iter().map(|s| s * 2.0).collect();
    assert_eq!(found(&coarse(&wide), &clip(0, &wide)).1, Way::Both);
    let why = match found(&coarse(&EVEN), &clip(0, &EVEN)).1 {
        Way::Order(why) => why,
        other => panic!("{other:?}"),
    };
    let want = NoTimes::TooCoarse {
        picture: "K000".to_owned(),
        resolution_ms: 1000,
        shortest_ms: 3000,
    };
    assert_eq!(why, want);
    assert!(why.to_string().contains("750 ms or finer"), "{why}");
    let error = told(&without(coarse(&EVEN), &[4]), &clip(0, &EVEN));
    assert!(error.contains("times too coarse"), "{error}");
}

#[test]
fn times_that_tell_nothing_leave_the_order() {
    let mut back = after(&ODD, 0.0);
    back[6].taken = back[2].taken;
    let picture = "K006".to_owned();
    let way = found(&back, &clip(0, &ODD)).1;
    assert_eq!(way, Way::Order(NoTimes::Backwards { picture }));
    let singles = [clip(0, &[1.0]), clip(1, &[1.0])].concat();
    let way = found(&at(&[2.0, 60.0]), &singles).1;
    assert_eq!(way, Way::Order(NoTimes::OneTrialEach));
    // Too few for the times to be sure of.
    let few = found(&after(&EVEN[..2], 0.0), &clip(0, &EVEN[..2]));
    assert_eq!(few, (vec![0, 1], Way::Order(NoTimes::NotSure)));
    let error = told(&without(after(&ODD[..4], 0.0), &[2]), &clip(0, &ODD[..4]));
    assert!(
        error.contains("amber-0.mp4") || error.contains("by chance"),
        "{error}"
    );
}

#[test]
fn a_missing_picture_is_found_by_time() {
    for (onsets, gone) in [(EVEN, 4), (ODD, 4), (ODD, 0), (ODD, 9)] {
        let got = pair(&without(after(&onsets, 77.7), &[gone]), &clip(0, &onsets)).unwrap();
        let want: Vec<_> = (0..10).filter(|k| *k != gone).map(Ok).collect();
        assert_eq!(got.slots, want, "{gone} of {onsets:?}");
        assert_eq!(got.way, Way::Time);
        let one = Unlike {
            slot: gone,
            shots: 0,
            usual: 1,
        };
        assert_eq!(got.unlike, [one]);
    }
}

/// Stimuli at even distances, one picture missing at an end: at which?
#[test]
fn an_end_of_an_even_row_is_not_guessed() {
    for gone in [0, 9] {
        let error = told(&without(after(&EVEN, 0.0), &[gone]), &clip(0, &EVEN));
        assert!(
            error.contains("may belong to amber-0.mp4, trial"),
            "{error}"
        );
        assert!(error.contains("both fit about as well"), "{error}");
    }
}

/// … unless the pictures tell their sides.
#[test]
fn sides_tell_alignments_apart() {
    let slots = swung(clip(0, &EVEN));
    let last = without(after(&EVEN, 0.0), &[9]);
    let first = without(after(&EVEN, 0.0), &[0]);
    let got = found(&seen(last.clone(), &[Side::Near, Side::Far]), &slots).0;
    assert_eq!(got, (0..9).collect::<Vec<_>>());
    let got = found(&seen(first, &[Side::Far, Side::Near]), &slots).0;
    assert_eq!(got, (1..10).collect::<Vec<_>>());
    // One that is known is enough.
    let mut one = last;
    one[5].side = Some(Side::Far);
    assert_eq!(found(&one, &slots).0, (0..9).collect::<Vec<_>>());
}

#[test]
fn the_first_other_side_is_named() {
    let slots = swung(clip(0, &EVEN));
    let mut shots = seen(timeless(after(&EVEN, 0.0)), &[Side::Near, Side::Far]);
    shots[6].side = Some(Side::Far);
    let error = told(&shots, &slots);
    assert!(error.starts_with("K006 shows the side far"), "{error}");
    assert!(
        error.contains("amber-0.mp4, trial 6 (counted from 0), which is near"),
        "{error}"
    );
    // The same where only time could pair them.
    let mut timed = seen(without(after(&ODD, 0.0), &[4]), &[Side::Near]);
    timed.iter_mut().for_each(|shot| shot.side = None);
    timed[6].side = Some(Side::Near);
    let error = told(&timed, &swung(clip(0, &ODD)));
    assert!(error.starts_with("K007 shows the side near"), "{error}");
}

#[test]
fn bursts_may_be_of_any_length() {
    let burst = |onset: f64, n: usize| (0..n).map(move |k| onset + 0.9 + 0.1 * k as f64);
    let lengths = [5, 5, 6, 5, 0, 5, 4, 5, 5, 5];
    let each = ODD.iter().zip(lengths);
    let times: Vec<f64> = each.flat_map(|(&onset, n)| burst(onset, n)).collect();
    let got = pair(&at(&times), &clip(0, &ODD)).unwrap();
    let want = lengths
        .iter()
        .enumerate()
        .flat_map(|(k, &n)| std::iter::repeat_n(Ok(k), n));
    assert_eq!(got.slots, want.collect::<Vec<_>>());
    let unlike: Vec<_> = got
        .unlike
        .iter()
        .map(|u| (u.slot, u.shots, u.usual))
        .collect();
    assert_eq!(unlike, [(2, 6, 5), (4, 0, 5), (6, 4, 5)]);
}

/// 50 photographs for 10 trials, but not five for each.
#[test]
fn order_and_time_must_agree() {
    let burst = |onset: f64, n: usize| (0..n).map(move |k| onset + 0.9 + 0.1 * k as f64);
    let lengths = [5, 5, 4, 6, 5, 5, 5, 5, 5, 5];
    let each = ODD.iter().zip(lengths);
    let times: Vec<f64> = each.flat_map(|(&onset, n)| burst(onset, n)).collect();
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("K014 belongs to amber-0.mp4, trial 2"),
        "{error}"
    );
    assert!(
        error.contains("by its time to amber-0.mp4, trial 3"),
        "{error}"
    );
}

/// One missing and, elsewhere, one too many: the number fits.
#[test]
fn a_number_that_fits_by_chance_is_not_believed() {
    let mut times: Vec<f64> = ODD.iter().map(|onset| onset + 0.9).collect();
    times.remove(2);
    times.insert(6, times[6] - 0.2);
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("K002 belongs to amber-0.mp4, trial 2"),
        "{error}"
    );
}

#[test]
fn one_too_many_in_a_trial_is_named() {
    let mut times: Vec<f64> = ODD.iter().map(|onset| onset + 0.3).collect();
    times.insert(5, ODD[4] + 2.4);
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("K004 and K005 both fall to amber-0.mp4, trial 4"),
        "{error}"
    );
}

#[test]
fn neither_a_burst_nor_the_next_trial() {
    let mut times: Vec<f64> = ODD.iter().map(|onset| onset + 0.9).collect();
    times.insert(6, times[6] - 0.7);
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("K007 was taken 700 ms after K006"),
        "{error}"
    );
    assert!(
        error.contains("300 ms at most") && error.contains("1200 ms at least"),
        "{error}"
    );
}

#[test]
fn a_burst_that_goes_on_into_the_next_trial_is_named() {
    let mut times: Vec<f64> = ODD.iter().map(|onset| onset + 0.3).collect();
    // From the fourth trial's on every quarter of a second until the fifth's.
    for k in (1..13).rev() {
        times.insert(4, ODD[3] + 0.3 + 0.25 * f64::from(k));
    }
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("the burst that begins with K003"),
        "{error}"
    );
    assert!(error.contains("amber-0.mp4, trial 4"), "{error}");
}

#[test]
fn one_that_comes_much_too_late_is_named() {
    let mut times: Vec<f64> = ODD.iter().map(|onset| onset + 0.2).collect();
    times[4] += 1.6;
    let error = told(&at(&times), &clip(0, &ODD));
    assert!(
        error.starts_with("K004 was taken 1600 ms later after its stimulus"),
        "{error}"
    );
    assert!(error.contains("1200 ms at most"), "{error}");
}

/// Tries before, between and after the clips belong to no trial.
#[test]
fn tries_lie_outside() {
    let slots = [clip(0, &ODD), clip(1, &EVEN)].concat();
    let first: Vec<f64> = ODD.iter().map(|onset| onset + 0.9).collect();
    let second: Vec<f64> = EVEN.iter().map(|onset| onset + 60.9).collect();
    let times = [vec![-20.0], first, vec![48.0], second, vec![120.0]].concat();
    let got = pair(&at(&times), &slots).unwrap();
    let outside = |after, before| Err(Outside { after, before });
    assert_eq!(got.slots[0], outside(None, Some(0)));
    assert_eq!(got.slots[11], outside(Some(9), Some(10)));
    assert_eq!(got.slots[22], outside(Some(19), None));
    assert_eq!(got.slots[1..11], (0..10).map(Ok).collect::<Vec<_>>());
    assert_eq!(got.slots[12..22], (10..20).map(Ok).collect::<Vec<_>>());
    assert_eq!(got.way, Way::Time);
}

/// Every clip has an offset of its own.
#[test]
fn clips_begin_whenever_they_like() {
    let slots = [clip(0, &ODD), clip(3, &EVEN), clip(4, &ODD)].concat();
    let shots = |gaps: [f64; 2]| {
        let mut all: Vec<f64> = Vec::new();
        for (onsets, begin) in [(ODD, 0.0), (EVEN, gaps[0]), (ODD, gaps[1])] {
            all.extend(onsets.iter().map(|onset| begin + onset + 0.7));
        }
        without(at(&all), &[3, 15])
    };
    for gaps in [[40.0, 80.0], [400.5, 1000.2]] {
        let got = found(&shots(gaps), &slots).0;
        let want: Vec<i32> = (0..30).filter(|k| ![3, 15].contains(k)).collect();
        assert_eq!(got, want);
    }
}

#[test]
fn pictures_of_another_session_fit_nowhere() {
    let error = told(
        &at(&[0.0, 40.0, 43.0, 90.0, 91.0, 150.0, 300.0]),
        &clip(0, &EVEN),
    );
    assert!(
        error.contains("7 photographs fit the 10 trials nowhere"),
        "{error}"
    );
}

#[test]
fn nothing_and_disorder_are_refused() {
    assert_eq!(pair(&[], &clip(0, &ODD)), Err(PairError::NoShot));
    assert_eq!(pair(&at(&[1.0]), &[]), Err(PairError::NoSlot));
    let error = told(&at(&[1.0]), &clip(0, &[1.0, 5.0, 5.0]));
    assert!(error.starts_with("amber-0.mp4, trial 2"), "{error}");
    let mixed = [clip(1, &[1.0]), clip(0, &[1.0])].concat();
    assert!(told(&at(&[1.0]), &mixed).starts_with("amber-0.mp4, trial 0"));
    assert!(told(&at(&[1.0]), &clip(0, &[f64::NAN])).starts_with("amber-0.mp4, trial 0"));
}
