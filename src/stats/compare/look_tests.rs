use super::super::{Comparison, Named, compare};
use super::*;
use crate::stats::fixtures::{clip, swings, timing, void};
use crate::store::schema::Timing;

/// `n` trials of each side, of which every `miss`-th is lost.
fn kit(name: &str, n: usize, miss: usize) -> Timing {
    let all: Vec<Option<f64>> = (0..2 * n)
        .map(|k| (miss == 0 || k / 2 % miss != 0).then_some(200.0 + (k * 37 % 101) as f64))
        .collect();
    timing(name, vec![clip(name, swings(&all))])
}

fn plan(looks: u32, planned: u64, looked: &[u64]) -> LookPlan {
    LookPlan {
        looks,
        planned,
        looked: looked.to_vec(),
        spending: Spending::Late,
    }
}

fn at(a: &Timing, b: &Timing, plan: LookPlan) -> Result<Comparison, CompareError> {
    let both =
        [("a.timing.json", a), ("b.timing.json", b)].map(|(file, timing)| Named { file, timing });
    let options = CompareOptions {
        looks: Some(plan),
        ..CompareOptions::default()
    };
    compare(&both, &options)
}

fn look(n: usize, misses: [usize; 2], plan: LookPlan) -> Look {
    let (a, b) = (
        kit("kit-amber", n, misses[0]),
        kit("kit-cobalt", n, misses[1]),
    );
    at(&a, &b, plan).unwrap().look.unwrap()
}

/// p at the second of five even looks, by sequential-analysis 0.4.0 (PyPI): 2 ×
/// the tail beyond 3.357012.
#[test]
fn a_look_has_its_own_level_and_so_has_every_interval() {
    let got = at(&kit("a", 24, 0), &kit("b", 24, 3), plan(5, 60, &[12])).unwrap();
    let look = got.look.clone().unwrap();
    assert_eq!((look.look, look.last, look.judged), (2, false, 24.0));
    assert!(
        (look.p_below.unwrap() / 7.879_1e-4 - 1.0).abs() < 1e-3,
        "{look:?}"
    );
    assert_eq!(got.confidence, 1.0 - look.p_below.unwrap());
    let plain = compare(
        &[("a", &kit("a", 24, 0)), ("b", &kit("b", 24, 3))]
            .map(|(file, timing)| Named { file, timing }),
        &CompareOptions::default(),
    )
    .unwrap();
    let wide = |c: &Comparison| {
        let d = c.pairs[2].hit_rate_difference;
        d.high.unwrap() - d.low.unwrap()
    };
    assert!(wide(&got) > 1.5 * wide(&plain));
    assert!(plain.look.is_none());
}

#[test]
fn shown_open_and_not_worth_going_on() {
    let shown = look(24, [0, 2], plan(5, 60, &[12]));
    assert_eq!(shown.hit_rate.verdict, LookVerdict::Shown, "{shown:?}");
    assert!(
        shown.sentence.starts_with("Shown: kit-amber reaches"),
        "{}",
        shown.sentence
    );
    let open = look(24, [0, 8], plan(5, 60, &[12]));
    assert_eq!(open.hit_rate.verdict, LookVerdict::GoOn, "{open:?}");
    assert_eq!(
        (open.more_to_next_look, open.more_at_most),
        (Some(12), Some(36))
    );
    assert!(
        open.sentence.contains("about 12 more judged trials"),
        "{}",
        open.sentence
    );
    assert!(
        open.sentence.contains("--looked 12,24"),
        "{}",
        open.sentence
    );
    let none = look(48, [5, 5], plan(5, 60, &[12, 24, 36]));
    assert_eq!(
        none.hit_rate.verdict,
        LookVerdict::NotWorthGoingOn,
        "{none:?}"
    );
    assert!(none.hit_rate.chance_left.unwrap() < 0.1);
    assert!(
        none.sentence.starts_with("Not worth going on for"),
        "{}",
        none.sentence
    );
}

/// The last look spends all that is left, also where trials lack or abound.
#[test]
fn the_last_look_spends_all() {
    let once = look(60, [5, 5], plan(5, 60, &[]));
    assert!(
        once.last && (once.p_below.unwrap() - 0.05).abs() < 1e-9,
        "{once:?}"
    );
    assert_eq!(once.hit_rate.verdict, LookVerdict::NotShown);
    assert_eq!((once.more_to_next_look, once.more_at_most), (None, None));
    let lacking = look(50, [5, 5], plan(2, 60, &[30]));
    assert!(
        lacking.last && lacking.p_below.unwrap() > 0.04,
        "{lacking:?}"
    );
    assert!(
        lacking.sentence.contains("this was the last look"),
        "{}",
        lacking.sentence
    );
    let over = look(70, [5, 5], plan(5, 60, &[12, 24]));
    assert!(over.last && over.share > 1.0);
}

#[test]
fn looks_that_do_not_fit_are_refused_with_a_word_each() {
    let told = |plan: LookPlan| {
        let (a, b) = (kit("a", 24, 0), kit("b", 24, 5));
        at(&a, &b, plan).unwrap_err().to_string()
    };
    for (plan, words) in [
        (plan(1, 60, &[]), "--looks: 1 is outside 2 to 50"),
        (plan(5, 2, &[]), "--planned: 2 is outside"),
        (plan(2, 60, &[5, 9]), "say --looks 3"),
        (plan(5, 60, &[12, 12]), "12 after 12"),
        (plan(5, 60, &[12, 61]), "that was the last"),
        (
            plan(5, 60, &[12, 24]),
            "no more than the 24 of an earlier look",
        ),
        (plan(5, 60, &[30]), "no more than the 30 of an earlier look"),
    ] {
        let told = told(plan);
        assert!(told.contains(words), "{told}");
    }
    let three = ["a", "b", "c"].map(|name| kit(name, 12, 0));
    let named = three.each_ref().map(|timing| Named {
        file: &timing.setup.name,
        timing,
    });
    let options = CompareOptions {
        looks: Some(plan(5, 60, &[])),
        ..CompareOptions::default()
    };
    let told = compare(&named, &options).unwrap_err().to_string();
    assert!(told.contains("3 are given"), "{told}");
}

/// One trial, none that could be judged, a side that lacks: no look.
#[test]
fn too_few_trials_are_no_look() {
    let voids = timing(
        "kit-void",
        vec![clip("v", vec![void(0, None), void(1, None)])],
    );
    let lights = timing(
        "kit-one",
        vec![clip(
            "o",
            vec![crate::stats::fixtures::trial(0, None, Some(200.0), 1500.0)],
        )],
    );
    let got = at(&voids, &lights, plan(5, 60, &[])).unwrap().look.unwrap();
    assert_eq!(
        (got.p_below, got.hit_rate.verdict),
        (None, LookVerdict::TooFewTrials)
    );
    assert!(got.sentence.contains("does not count as a look") && got.looked.is_empty());
}
