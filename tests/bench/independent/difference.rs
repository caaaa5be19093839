//! Two setups: the difference found against that of the trials as drawn.

use crate::held::found;
use crate::held::quantile::{mean, median};
use crate::held::row::{end_s, stated};
use crate::held::table::{number, signed};
use crate::held::truth::Film;

/// Latencies of a setup's hits, ms, by side.
#[derive(Default)]
pub struct Latencies(Vec<(&'static str, f64)>);

impl Latencies {
    /// Those found.
    pub fn found(clips: &[found::Clip]) -> Self {
        let trials = clips.iter().flat_map(|c| &c.trials);
        let hits = trials.filter_map(|t| {
            let side = if t.side.as_deref() == Some("near") {
                "near"
            } else {
                "far"
            };
            Some((side, t.latency_ms?))
        });
        Self(hits.collect())
    }

    /// Those of the lens: crossing of δ − onset, seen as the tool saw it, of
    /// every trial that is a hit. Where the tool missed one, by the first δ
    /// and from the world's onset.
    pub fn drawn(films: &[&Film], clips: &[found::Clip], deltas: &[f64], label: &str) -> Self {
        let mut out = Vec::new();
        for film in films {
            let clip = clips
                .iter()
                .find(|c| c.file.starts_with(&format!("{}.", film.name)));
            for truth in film
                .trials
                .iter()
                .filter(|t| t.scored && t.verdict == "hit")
            {
                let same = |f: &&found::Trial| (f.onset_s - truth.onset_s(f.direct)).abs() < 0.4;
                let found = clip.and_then(|c| c.trials.iter().find(same));
                let own = found.map(|f| stated(f, deltas)).unwrap_or_default();
                let delta = own.iter().find(|d| d.0 == label).map_or(deltas[0], |d| d.1);
                let end = found.and_then(|f| end_s(film, truth, f));
                let onset_s = truth.onset_s(found.is_none_or(|f| f.direct));
                if let Some(pair) = truth.pair(film, end, delta) {
                    out.push((
                        truth.side.unwrap_or("light"),
                        (pair.crossing_s - onset_s) * 1e3,
                    ));
                }
            }
        }
        Self(out)
    }

    fn of(&self, side: &str) -> Vec<f64> {
        let mine = self.0.iter().filter(|(s, _)| side == "all" || *s == side);
        mine.map(|(_, l)| *l).collect()
    }
}

/// B − A by side: medians and means, found and drawn.
pub fn lines(label: &str, found: [&Latencies; 2], drawn: [&Latencies; 2]) -> Vec<String> {
    let of = |side: &str, f: fn(&[f64]) -> Option<f64>, [a, b]: [&Latencies; 2]| {
        Some(f(&b.of(side))? - f(&a.of(side))?)
    };
    let line = |side: &&str| {
        let mut text = format!(
            "B − A δ {label} {side:<5} n {}/{}:",
            found[0].of(side).len(),
            found[1].of(side).len()
        );
        for (name, f) in [
            ("medians", median as fn(&[f64]) -> Option<f64>),
            ("means", mean),
        ] {
            let (found, drawn) = (of(side, f, found), of(side, f, drawn));
            let off = found.zip(drawn).map(|(f, d)| f - d);
            text += &format!(
                " {name} {} (drawn {}, off {} ms)",
                signed(found, 1),
                signed(drawn, 1),
                signed(off, 1)
            );
        }
        let [a, b] = drawn.map(|d| number(median(&d.of(side)), 0));
        text + &format!("; drawn medians {a}, {b}")
    };
    ["all", "near", "far"].iter().map(line).collect()
}
