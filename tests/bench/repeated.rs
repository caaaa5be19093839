//! Looking again and again, and sessions that differ: false alarms, what it
//! saves, and whether the spread between sessions is found.
#![allow(
    dead_code,
    reason = "shared by a test and a bench that use parts of it"
)]
#![allow(
    clippy::unwrap_used,
    reason = "simulated sessions are always comparable"
)]

use focuslag::stats::compare::{
    CompareOptions, Comparison, Higher, LookPlan, LookVerdict, Named, Sooner, compare,
};
use focuslag::stats::gate::{GateOptions, Policy, Verdict, gate_over_sessions};
use focuslag::stats::looks::Spending;
use focuslag::stats::repeat::repeat;
use focuslag::store::schema::Timing;

use crate::cases::Table;
use crate::simulate::{Scene, Share, generator};

fn add(table: &mut Table, key: &str, held: bool) {
    table.entry(key.to_owned()).or_default().add(held);
}

fn named(all: &[Timing]) -> Vec<Named<'_>> {
    let named = all.iter().map(|timing| Named {
        file: "simulated",
        timing,
    });
    named.collect()
}

/// The two after their first clips.
fn after(both: &[Timing; 2], clips: usize, looks: Option<LookPlan>) -> Comparison {
    let cut = both.clone().map(|mut timing| {
        timing.clips.truncate(clips);
        timing
    });
    let options = CompareOptions {
        resamples: 199,
        looks,
        ..CompareOptions::default()
    };
    compare(&named(&cut), &options).unwrap()
}

/// A look after every clip: how often something is shown, as if each look were
/// the only one and by boundaries, and the share of the trials that is filmed.
pub fn looked(case: u64, a: &Scene, b: &Scene, spending: Spending, sets: u64) -> Table {
    let mut table = Table::new();
    let per_look = u64::from(a.trials) / 2;
    let planned = per_look * u64::from(a.clips);
    for set in 0..sets {
        let mut rng = generator(case, set);
        let both = [
            a.session("kit-amber", &mut rng),
            b.session("kit-slate", &mut rng),
        ];
        let mut naive = [false; 2];
        let mut shown = [false; 2];
        let mut filmed = None;
        let mut looked = Vec::new();
        for k in 1..=a.clips as usize {
            let plain = after(&both, k, None);
            let pair = plain.pairs.iter().find(|p| p.side == "all").unwrap();
            naive[0] |= matches!(pair.verdict, Sooner::ASooner | Sooner::BSooner);
            naive[1] |= matches!(pair.hit_rate_verdict, Higher::AHigher | Higher::BHigher);
            let plan = LookPlan {
                looks: a.clips,
                planned,
                looked: looked.clone(),
                spending,
            };
            let look = after(&both, k, Some(plan)).look.unwrap();
            shown[0] |= look.time_to_focus.verdict == LookVerdict::Shown;
            shown[1] |= look.hit_rate.verdict == LookVerdict::Shown;
            let open = look.time_to_focus.verdict == LookVerdict::GoOn;
            if !open && filmed.is_none() {
                filmed = Some(look.looked.last().copied().unwrap_or(planned));
            }
            looked = look.looked;
        }
        for (k, question) in ["time to focus", "hit rate"].into_iter().enumerate() {
            add(
                &mut table,
                &format!("each look as if alone: {question}"),
                naive[k],
            );
            add(&mut table, &format!("by boundaries: {question}"), shown[k]);
        }
        let share = table.entry("filmed until time to focus is decided".to_owned());
        let share: &mut Share = share.or_default();
        share.held += filmed.unwrap_or(planned);
        share.of += planned;
    }
    table
}

/// Sessions of one clip each.
fn sessions(scene: &Scene, k: u32, rng: &mut rand_chacha::ChaCha8Rng) -> Vec<Timing> {
    (0..k)
        .map(|day| {
            let mut session = scene.session("kit-amber", rng);
            session.clips[0].sha256 = format!("day-{day}");
            session
        })
        .collect()
}

/// How often the interval of the spread between sessions holds the truth.
pub fn between(case: u64, scene: &Scene, k: u32, sets: u64) -> Table {
    let mut table = Table::new();
    let v = scene.clip_log_sd.powi(2);
    let within = (scene.log_sd.powi(2) / 2.0).exp();
    let truth = scene.median_ms[0] * within * (v / 2.0).exp() * (v.exp() - 1.0).sqrt();
    for set in 0..sets {
        let all = sessions(scene, k, &mut generator(case, set));
        let got = repeat(&named(&all), None, 0.95).unwrap();
        for f in got.figures.iter().filter(|f| f.side == "near") {
            let Some((low, high)) = f.between_low.zip(f.between_high) else {
                continue;
            };
            match f.name {
                "settle_ms" => add(&mut table, "between, settle", low <= truth && truth <= high),
                "hit_rate" => add(&mut table, "between, hit rate (none)", low == 0.0),
                _ => {}
            }
        }
    }
    table
}

/// A gate on a kit that did not change: its baseline one session, `k` sessions
/// taken for one, and `k` sessions.
pub fn gated_over_sessions(case: u64, scene: &Scene, k: u32, sets: u64) -> Table {
    let mut table = Table::new();
    let options = GateOptions {
        resamples: 299,
        ..GateOptions::default()
    };
    for set in 0..sets {
        let mut rng = generator(case, set);
        let before = sessions(scene, k, &mut rng);
        let after = scene.session("kit-amber-new", &mut rng);
        let mut pooled = before[0].clone();
        pooled.clips = before.iter().flat_map(|s| s.clips.clone()).collect();
        for (how, baseline) in [
            ("one session", &before[..1]),
            ("all taken for one", std::slice::from_ref(&pooled)),
            ("all as sessions", &before[..]),
        ] {
            let candidate = Named {
                file: "after",
                timing: &after,
            };
            let got =
                gate_over_sessions(&named(baseline), &candidate, &Policy::default(), &options);
            let got = got.unwrap();
            add(
                &mut table,
                &format!("{how}: regression"),
                got.verdict == Verdict::Regression,
            );
            add(
                &mut table,
                &format!("{how}: pass"),
                got.verdict == Verdict::Pass,
            );
        }
    }
    table
}
