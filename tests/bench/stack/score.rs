//! A clip of a stack against its lens.

use std::collections::BTreeMap;

use crate::discs::Optics;
use crate::held::course::{Blur, Course};
use crate::held::found;
use crate::held::row::Row;
use crate::held::table;
use crate::held::truth::{Film, Trial};
use crate::scenes::{Clip, HOLD_MS, WINDOW_MS, foresee};
use crate::ways::Stop;

/// Verdicts by where the lens stopped, and the rest of the score.
#[derive(Default)]
pub struct Score {
    pub row: Row,
    /// By course and verdict, of trials that stop between.
    between: BTreeMap<String, usize>,
    /// The same of those in focus and out.
    others: BTreeMap<String, usize>,
}

impl Score {
    /// Of a clip.
    pub fn of(clip: &Clip, optics: &Optics, found: Option<&found::Clip>, deltas: &[f64]) -> Self {
        let film = film(clip, optics);
        let mut score = Self {
            row: Row::of(&film, found, deltas),
            ..Self::default()
        };
        let trials = found.map_or(&[][..], |c| &c.trials);
        for ((stop, way), truth) in clip.ways.iter().zip(&film.trials) {
            let same = |f: &&found::Trial| (f.onset_s - truth.world_s).abs() < 0.4;
            let verdict = trials
                .iter()
                .find(same)
                .map_or("missed", |f| f.verdict.as_str());
            let (group, of) = match stop {
                Stop::In => ("in focus", &mut score.others),
                Stop::Out => ("out", &mut score.others),
                Stop::Between => ("between", &mut score.between),
            };
            let key = format!("{group} {}: {verdict}", way.name);
            *of.entry(key).or_default() += 1;
        }
        score
    }

    /// Adds another's.
    pub fn add(&mut self, other: &Self) {
        self.row.add(&other.row);
        for (mine, more) in [
            (&mut self.between, &other.between),
            (&mut self.others, &other.others),
        ] {
            for (key, n) in more {
                *mine.entry(key.clone()).or_default() += n;
            }
        }
    }

    /// All of it as text.
    pub fn lines(&self) -> Vec<String> {
        let row = &self.row;
        let mut out = vec![table::verdicts("all", row)];
        let out_hits = self
            .others
            .iter()
            .filter(|(k, _)| k.starts_with("out") && k.ends_with(": hit"));
        out.push(format!(
            "in focus (within 3 units): {} of {} are hits; out (15 or more): {} of {} are hits, {} soft or lost; \
             {} void, {} missed",
            row.hits.right,
            row.hits.of,
            out_hits.map(|(_, n)| n).sum::<usize>(),
            row.misses.of,
            row.misses.right,
            row.void,
            row.missed
        ));
        let counts = |of: &BTreeMap<String, usize>| {
            let each = of.iter().map(|(k, n)| format!("{k} {n}"));
            each.collect::<Vec<_>>().join(", ")
        };
        out.push(format!("  {}", counts(&self.others)));
        out.push(format!("  {}", counts(&self.between)));
        out.extend(table::onsets(row));
        out.extend(table::settles(row));
        out
    }
}

fn film(clip: &Clip, optics: &Optics) -> Film {
    let truth = foresee(&clip.scene);
    let lag_s = truth.live_view_lag_ms / 1e3;
    let best = optics.best() as f64;
    let lead_s = clip.scene.live_view.phase_ms / 1e3;
    let taken = |shown: &f64| clip.shot(shown - lag_s - lead_s, optics) as f64;
    let trials = clip
        .onsets
        .iter()
        .zip(&clip.ways)
        .map(|(onset, (stop, _))| Trial {
            side: None,
            verdict: match stop {
                Stop::In => "hit",
                Stop::Between | Stop::Out => "miss",
            },
            scored: *stop != Stop::Between,
            world_s: *onset,
            // The earliest refresh that could show it.
            shown_s: onset + lag_s,
            blur: vec![Blur::Folded(best), Blur::Straight],
            own_pair: None,
        });
    let corners = truth.screen.corners.expect("a screen");
    let side =
        |a: usize, b: usize| (corners[a][0] - corners[b][0]).hypot(corners[a][1] - corners[b][1]);
    Film {
        name: clip.name.clone(),
        course: Course {
            at: truth.updates.iter().map(|u| taken(&u.shown_s)).collect(),
            shown_s: truth.updates.iter().map(|u| u.shown_s).collect(),
            permille: optics.permille_per_unit(),
        },
        trials: trials.collect(),
        unit_ms: 1e3 / truth.refresh_hz.min(truth.live_view_fps) + 1e3 / truth.capture_fps,
        lag_ms: truth.live_view_lag_ms,
        high_px: f64::midpoint(side(0, 3), side(1, 2)),
        hold_s: HOLD_MS / 1e3,
        window_s: WINDOW_MS / 1e3,
    }
}
