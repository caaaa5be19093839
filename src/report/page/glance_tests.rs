use super::super::{Source, Stills, page};
use crate::stats::compare::{CompareOptions, Comparison, Named, compare};
use crate::stats::fixtures::{clip, swings, timing, trial, void};
use crate::stats::survival::Watched;
use crate::stats::survival::tests::{placebo, six_mp};
use crate::store::schema::{OnsetSeen, Timing};

fn source(timing: &Timing) -> Source<'_> {
    Source {
        file: "a.timing.json".to_owned(),
        timing,
        name: &timing.setup.name,
        evidence: None,
        missing: Vec::new(),
    }
}

fn written(timings: &[&Timing], comparisons: &[Comparison]) -> String {
    let mut sources: Vec<Source> = timings.iter().map(|t| source(t)).collect();
    page(&mut sources, comparisons, &[], Stills::None, 0.95).html
}

/// The figures that lead, one a panel.
fn figures(html: &str) -> Vec<&str> {
    let lead = html.split("In plain words").next().unwrap();
    lead.split("<figure class=\"glance\">").skip(1).collect()
}

fn swinging(name: &str, seen: OnsetSeen) -> Timing {
    let ms: Vec<_> = (0..12u32)
        .map(|k| Some(200.0 + f64::from(k * 10)))
        .collect();
    let mut trials = swings(&ms);
    for trial in &mut trials {
        trial.onset_seen = Some(seen);
    }
    timing(name, vec![clip(name, trials)])
}

/// Trials of one arm of a study in weeks, ten ms each.
fn arm(name: &str, weeks: &[Watched]) -> Timing {
    let trials = weeks.iter().enumerate().map(|(k, week)| {
        let ms = week.ms * 10.0;
        let window = if week.hit { 400.0 } else { ms };
        trial(k as u32, None, week.hit.then_some(ms), window)
    });
    timing(name, vec![clip(name, trials.collect())])
}

/// Two hits after a light.
fn lit(name: &str, seen: OnsetSeen) -> Timing {
    let hits = [20.0, 30.0].map(|ms| Watched { ms, hit: true });
    let mut made = arm(name, &hits);
    for trial in &mut made.clips[0].trials {
        trial.onset_seen = Some(seen);
    }
    made
}

/// Remission in weeks: Freireich et al. 1963, Blood 21:699. Medians and log–log
/// intervals, 23 (13 to ∞) and 8 (4 to 11), confirmed by running R 4.2.2
/// survival 3.5.3.
#[test]
fn half_and_its_interval_are_those_of_a_published_trial() {
    let treated = arm("kit-amber", &six_mp());
    let placebo = arm("kit-slate", &placebo());
    let html = written(&[&treated, &placebo], &[]);
    let [figure] = figures(&html)[..] else {
        panic!("{html}")
    };
    let [_, amber, slate] = figure.split("<div class=\"one\">").collect::<Vec<_>>()[..] else {
        panic!("{figure}")
    };
    assert!(
        amber.contains("half in focus by <b>230 ms</b> (130 to beyond the window)"),
        "{amber}"
    );
    assert!(amber.contains("missed 12 of 21: "), "{amber}");
    assert!(
        slate.contains("half in focus by <b>80 ms</b> (40 to 110)"),
        "{slate}"
    );
    assert!(slate.contains("missed none of 21"), "{slate}");
}

#[test]
fn setups_stand_in_the_order_of_their_files() {
    let names = ["kit-slate", "kit-amber", "kit-cobalt"];
    let timings = names.map(|name| swinging(name, OnsetSeen::Screen));
    let html = written(&[&timings[0], &timings[1], &timings[2]], &[]);
    let sections = [
        "<figure class=\"glance\">",
        "id=\"latencies\"",
        "id=\"times\"",
        "id=\"strip\"",
    ];
    for section in sections {
        let part = &html[html.find(section).unwrap()..];
        let places = names.map(|name| part.find(&format!("<bdi>{name}</bdi>")).unwrap());
        assert!(places.is_sorted(), "{section}: {places:?}");
    }
}

#[test]
fn onsets_of_different_kinds_never_share_a_plot() {
    let screen = [
        swinging("kit-amber", OnsetSeen::Screen),
        swinging("kit-slate", OnsetSeen::Screen),
    ];
    let direct = swinging("kit-cobalt", OnsetSeen::Direct);
    let lamp = lit("kit-lamp", OnsetSeen::Direct);
    let mut beep = lit("kit-tone", OnsetSeen::Sound);
    beep.rig["stimulus"]["kind"] = "tone".into();
    let mut coarse = swinging("kit-umber", OnsetSeen::Screen);
    for trial in &mut coarse.clips[0].trials {
        trial.delta_permille = Some(5.0);
    }
    let html = written(
        &[&screen[0], &direct, &lamp, &screen[1], &beep, &coarse],
        &[],
    );
    let found: Vec<Vec<&str>> = figures(&html)
        .iter()
        .map(|f| {
            let names = f.split("<bdi>").skip(1);
            names.map(|n| n.split('<').next().unwrap()).collect()
        })
        .collect();
    let wanted = [
        vec!["kit-amber", "kit-slate"],
        vec!["kit-cobalt"],
        vec!["kit-lamp"],
        vec!["kit-tone"],
        vec!["kit-umber"],
    ];
    assert_eq!(found, wanted);
    for words in [
        "a swing, seen on the screen; judged by blur, version 1, δ 2 ‰",
        "a swing, seen directly",
        "a trigger light, seen directly",
        "a tone, heard in the clip",
        "δ 5 ‰",
        "Do not read one panel against another",
    ] {
        assert!(html.contains(words), "{words}");
    }
    // Curves of several setups on one plot: those of the first panel alone.
    let title = "<title>Share of trials in focus over time, all setups";
    assert_eq!(html.matches(title).count(), 1);
}

#[test]
fn voids_few_trials_and_none_judged_are_said() {
    let whole = swinging("kit-amber", OnsetSeen::Screen);
    let mut trials = swings(&[Some(300.0), None, Some(500.0)]);
    trials.push(void(3, None));
    let few = timing("kit-few", vec![clip("few", trials)]);
    let voids: Vec<_> = (0..5)
        .map(|k| void(k, Some(crate::store::schema::Side::Near)))
        .collect();
    let none = timing("kit-void", vec![clip("void", voids)]);
    let mut empty = timing("kit-empty", vec![clip("empty", Vec::new())]);
    empty.rig["stimulus"]["kind"] = "swing".into();
    let lost = timing("kit-lost", vec![clip("lost", swings(&[None; 8]))]);
    let all = [&none, &whole, &few, &empty, &lost];
    let html = written(&all, &[]);
    let [figure] = figures(&html)[..] else {
        panic!("{html}")
    };
    let parts: Vec<&str> = figure.split("<div class=\"one\">").skip(1).collect();
    for (k, name, words) in [
        (0, "kit-void", ": no trial could be judged</p>"),
        (0, "kit-void", "5 void or excluded"),
        (1, "kit-amber", "half in focus by <b>255 ms</b>"),
        (2, "kit-few", "<b>500 ms</b> (300 to beyond the window)"),
        (2, "kit-few", "1 lost; "),
        (3, "kit-empty", ": there is no trial</p>"),
        (4, "kit-lost", "<b>never in focus</b> within the window"),
        (4, "kit-lost", "missed 8 of 8: "),
    ] {
        assert!(
            parts[k].contains(name) && parts[k].contains(words),
            "{words}: {}",
            parts[k]
        );
    }
    // Those without a judged trial keep their places further down, too.
    let below = &html[html.find("id=\"latencies\"").unwrap()..];
    assert!(below.contains("· no trial could be judged"), "{below}");
}

#[test]
fn by_how_much_is_said_once_where_setups_are_compared() {
    let timings = [
        swinging("kit-amber", OnsetSeen::Screen),
        swinging("kit-slate", OnsetSeen::Screen),
    ];
    let said = "“By how much” is answered by the mean time to focus";
    let both = [&timings[0], &timings[1]];
    assert!(!written(&both, &[]).contains(said));
    let mut moved = timings[1].clone();
    for trial in &mut moved.clips[0].trials {
        trial.latency_ms = trial.latency_ms.map(|ms| ms + 20.0);
    }
    let named = [&timings[0], &moved].map(|timing| Named { file: "a", timing });
    let comparison = compare(&named, &CompareOptions::default()).unwrap();
    let html = written(&[&timings[0], &moved], &[comparison]);
    assert_eq!(html.matches(said).count(), 1);
}
