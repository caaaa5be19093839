use super::*;
use crate::stats::fixtures::{DYESTUFF, clip, timing, trial, void};
use crate::store::schema::{Timing, Trial};

fn session(name: &str, day: &str, trials: Vec<Trial>) -> Timing {
    let mut made = timing(name, vec![clip(&format!("{name}-{day}"), trials)]);
    made.setup.tags.insert("day".to_owned(), day.to_owned());
    made
}

fn lights(day: &str, latencies: &[Option<f64>]) -> Timing {
    let trials = latencies.iter().enumerate();
    session(
        "kit-amber",
        day,
        trials
            .map(|(k, ms)| trial(k as u32, None, *ms, 3000.0))
            .collect(),
    )
}

fn held(all: &[Timing], by: Option<&str>) -> Result<Repeat, RepeatError> {
    let files: Vec<String> = (0..all.len())
        .map(|k| format!("day-{k}.timing.json"))
        .collect();
    let named: Vec<Named> = all
        .iter()
        .zip(&files)
        .map(|(timing, file)| Named { file, timing })
        .collect();
    repeat(&named, by, 0.95)
}

/// Dyestuff as settle times; components confirmed by running R 4.2.2 `lm` and
/// lme4 1.1.31, the repeatability limit by arithmetic.
#[test]
fn dyestuff_through_the_whole() {
    let all: Vec<Timing> = DYESTUFF
        .iter()
        .enumerate()
        .map(|(k, b)| lights(&k.to_string(), &b.map(Some)))
        .collect();
    let got = held(&all, None).unwrap();
    let names: Vec<_> = got.figures.iter().map(|f| (f.name, f.side)).collect();
    assert_eq!(
        names,
        [
            ("settle_ms", "all"),
            ("time_to_focus_ms", "all"),
            ("hit_rate", "all")
        ]
    );
    let f = &got.figures[0];
    assert!((f.within - 2451.25f64.sqrt()).abs() < 1e-9 && (f.mean - 1527.5).abs() < 1e-9);
    assert!((f.between.powi(2) - 1764.05).abs() < 1e-6, "{f:?}");
    assert!((f.total.powi(2) - 4215.3).abs() < 1e-6);
    assert!((f.repeatability_limit - 2.8 * 2451.25f64.sqrt()).abs() < 1e-6);
    assert!((f.p.unwrap() - 0.004_397_5).abs() < 1e-6);
    // A session's mean scatters by √(11271.5 ÷ 5) = 47.48; 2.571 + 0.920 from a
    // table of Student's t with 5 degrees of freedom.
    let smallest = (2.570_58 + 0.919_54) * (7.0f64 / 6.0).sqrt() * (11271.5f64 / 5.0).sqrt();
    assert!(
        (f.smallest_change.unwrap() - smallest).abs() < 0.01,
        "{f:?}"
    );
    assert!(
        got.sentence
            .contains("scatters by 42 ms (95 % interval 18 to 114 ms)"),
        "{}",
        got.sentence
    );
    assert_eq!((got.figures[2].between, got.figures[2].p), (0.0, None));
}

/// Fleiss 1981, p. 139 (smokers among patients of four studies): chi-squared
/// 12.6, 3 degrees of freedom, p 0.005585 by R `prop.test` (its help page).
#[test]
fn hit_rates_that_scatter_too_much() {
    let all: Vec<Timing> = [(83, 86), (90, 93), (129, 136), (70, 82)]
        .iter()
        .enumerate()
        .map(|(k, &(hits, n))| {
            let ms: Vec<_> = (0..n).map(|i| (i < hits).then_some(200.0)).collect();
            lights(&k.to_string(), &ms)
        })
        .collect();
    let got = held(&all, Some("day")).unwrap();
    let f = got.figures.iter().find(|f| f.name == "hit_rate").unwrap();
    assert!((f.p.unwrap() - 0.005_585).abs() < 1e-6, "{f:?}");
    assert!(f.between > 0.03 && f.between < 0.06, "{f:?}");
    let means = f.session_means;
    assert!((means[0] - 70.0 / 82.0).abs() < 1e-12 && (means[1] - 90.0 / 93.0).abs() < 1e-12);
}

/// A session with more trials of the slower side is no slower session.
#[test]
fn sides_are_aligned_before_they_are_put_together() {
    let quick = |n: usize| (0..n).map(|k| Some(200.0 + (k * 37 % 11) as f64));
    let make = |day: &str, near: usize, far: usize| {
        let near = quick(near).map(|ms| (crate::store::schema::Side::Near, ms));
        let far = quick(far).map(|ms| (crate::store::schema::Side::Far, ms.map(|m| m + 300.0)));
        let trials = near.chain(far).enumerate();
        let trials = trials.map(|(k, (side, ms))| trial(k as u32, Some(side), ms, 1500.0));
        session("kit-amber", day, trials.collect())
    };
    let all = [make("1", 22, 11), make("2", 11, 22), make("3", 22, 22)];
    let got = held(&all, None).unwrap();
    let all = got
        .figures
        .iter()
        .find(|f| f.name == "settle_ms" && f.side == "all")
        .unwrap();
    assert!(all.between == 0.0 && all.within < 5.0, "{all:?}");
    assert_eq!(got.figures.len(), 9);
}

#[test]
fn files_of_one_session_are_put_together() {
    let all = [
        lights("mon", &[Some(200.0), Some(210.0)]),
        lights("tue", &[Some(240.0), Some(250.0), None]),
    ];
    let mut third = lights("mon", &[Some(220.0)]);
    third.clips[0].sha256 = "third".to_owned();
    let got = held(&[all[0].clone(), all[1].clone(), third], Some("day")).unwrap();
    assert_eq!(got.sessions.len(), 2);
    assert_eq!(
        (got.sessions[0].judged, got.sessions[0].files.len()),
        (3, 2)
    );
    assert_eq!((got.sessions[1].hit, got.sessions[1].judged), (2, 3));
    assert!(
        got.warnings[0].contains("2 sessions say next to nothing"),
        "{:?}",
        got.warnings
    );
}

#[test]
fn what_cannot_be_held_against_each_other_is_refused() {
    let told = |all: &[Timing], by| held(all, by).unwrap_err().to_string();
    let one = lights("mon", &[Some(200.0), Some(210.0)]);
    let two = lights("tue", &[Some(240.0), Some(250.0)]);
    let voids = session("kit-amber", "wed", vec![void(0, None)]);
    assert!(told(std::slice::from_ref(&one), None).contains("at least two sessions"));
    assert!(told(&[one.clone(), two.clone()], Some("week")).contains("no tag `week`"));
    assert!(told(&[one.clone(), one.clone()], None).contains("not compared to itself"));
    assert!(told(&[one.clone(), voids.clone()], None).contains("only 1 of 2 sessions"));
    let single = |day: &str, ms| lights(day, &[Some(ms)]);
    assert!(told(&[single("a", 1.0), single("b", 2.0)], None).contains("more than one judged"));
    let mut other = two.clone();
    other.measure = crate::stats::fixtures::measure(5.0);
    for trial in &mut other.clips[0].trials {
        trial.delta_permille = Some(5.0);
    }
    assert!(told(&[one.clone(), other], None).contains("another δ"));
    let got = held(&[one, two, voids], None).unwrap();
    assert!(
        got.warnings
            .iter()
            .any(|w| w.contains("no trial could be judged")),
        "{:?}",
        got.warnings
    );
    assert_eq!(got.figures[0].sessions, 2);
}
