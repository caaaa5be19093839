//! One setup: its clips' trials judged, and how they stand in the timing file.

use crate::limits;
use std::collections::BTreeMap;

use super::clip::{Watched, screen_record};
use super::verdicts::{
    Course, Yardstick, Yardsticks, courses, judge_all, observe_all, set_behind, tell_films,
    unselect,
};
use crate::rig::Rig;
use crate::store::schema::{self, BLUR, BLUR_VERSION, OnsetSeen, ReferenceFrom, Side, Verdict};
use crate::trial::lag::Lag;
use crate::trial::{FilmLimit, Judged, Observed, Rules};

/// A clip as far as it came.
pub struct Outcome {
    /// Path to write down, relative to the timing file's folder.
    pub path: String,
    /// SHA-256, empty where the file could not be read.
    pub sha256: String,
    /// True rate used.
    pub capture_fps: Option<f64>,
    /// Version of FFmpeg that decoded it.
    pub ffmpeg: Option<String>,
    /// What was seen, or why nothing was.
    pub watched: Result<Watched, String>,
    /// Trials the user takes out, with the reason.
    pub excluded: BTreeMap<u32, String>,
}

/// The rules that a rig sets, before the session's δ is known.
pub fn rules(rig: &Rig) -> Rules {
    Rules {
        window_s: rig.trial.window.seconds(),
        hold_s: rig.trial.hold.seconds(),
        delta: rig.trial.settle_permille,
        hit: rig.trial.hit_permille.max(rig.trial.settle_permille),
        rate_u: 0.0,
        film_u: 0.0,
        film_limit: 0.0,
        reference_u: 0.0,
    }
}

/// A clip judged.
pub struct Verdicts<'a> {
    outcome: &'a Outcome,
    courses: BTreeMap<Option<Side>, Course>,
    yardsticks: &'a Yardsticks,
    limit: Option<FilmLimit>,
    rules: Rules,
}

impl<'a> Verdicts<'a> {
    /// Observes the trials of a clip in the courses that its yardsticks give.
    /// `None` where it could not be watched.
    pub fn of(rig: &Rig, outcome: &'a Outcome, yardsticks: &'a Yardsticks) -> Option<Self> {
        let watched = outcome.watched.as_ref().ok()?;
        let mut courses = courses(watched, yardsticks);
        let rules = Rules {
            rate_u: watched.rate_u,
            ..rules(rig)
        };
        let seen = observe_all(watched, &courses, &rules.coarse());
        let limit = tell_films(watched, &mut courses, &seen, &rules);
        if let Some(l) = limit {
            unselect(yardsticks, &mut courses, &seen, &l);
        }
        set_behind(yardsticks, &mut courses);
        Some(Self {
            outcome,
            courses,
            yardsticks,
            limit,
            rules,
        })
    }

    /// The film's limit; `None` where it is not known or so large that no
    /// trial of the clip can be judged.
    pub fn limit(&self) -> Option<FilmLimit> {
        self.limit
            .filter(|l| l.least <= limits::TOO_COARSE.get() * self.rules.hit)
    }

    /// δ that the rig asks for, ‰.
    pub fn asked(&self) -> f64 {
        self.rules.delta
    }

    /// The clip as it was watched, with its sides' courses.
    pub fn evidence(&self) -> Option<(&Watched, &BTreeMap<Option<Side>, Course>)> {
        let watched = self.outcome.watched.as_ref().ok()?;
        Some((watched, &self.courses))
    }

    /// Whether any side of it has a reference to be held against.
    pub fn has_yardstick(&self) -> bool {
        self.yardsticks.values().any(|y| y.known)
    }

    /// The record of the clip, judged with the session's `delta`, ‰.
    pub fn record(&self, rig: &Rig, delta: f64) -> schema::Clip {
        let Ok(watched) = &self.outcome.watched else {
            return failed(rig, self.outcome);
        };
        let too_coarse = self.limit.is_some() && self.limit().is_none();
        let rules = Rules {
            delta,
            hit: self.rules.hit.max(delta),
            ..self.rules
        }
        .filmed(self.limit());
        let mut seen = observe_all(watched, &self.courses, &rules);
        for o in &mut seen {
            let yardstick = self.yardsticks.get(&o.stimulus.side);
            o.unclear |= too_coarse || yardstick.is_some_and(|y| !y.known);
        }
        let judged = judge_all(&seen, &self.courses, rules.hit);
        let mut out = clip_record(rig, self.outcome, Some(watched));
        out.least_permille = self.limit.map(|l| tidy(l.least));
        out.warnings.extend(self.warnings(too_coarse));
        let each = seen.iter().zip(judged).enumerate();
        out.trials = each
            .map(|(k, (o, j))| self.trial(k, (o, j), watched, &rules))
            .collect();
        out
    }

    /// What the clip's limit and references make worth saying.
    fn warnings(&self, too_coarse: bool) -> Vec<String> {
        let mut out = Vec::new();
        if let Some(limit) = self.limit.filter(|_| too_coarse) {
            out.push(format!(
                "this film tells no blur below {:.1} ‰ of the screen's height from none, more than \
                 twice the hit limit of {} ‰, so its trials are void; film the screen larger, or \
                 at a higher bit rate",
                limit.least, self.rules.hit
            ));
        }
        for (side, yardstick) in self.yardsticks {
            if !yardstick.known {
                out.push(format!(
                    "{}the clip focused by hand is framed or filmed so differently that its \
                     sharpness cannot be carried over to half of the hit limit ({} ‰), so these \
                     trials are void; film the reference with the filming camera left as it is, \
                     and the screen larger",
                    of_side(*side),
                    self.rules.hit
                ));
            }
        }
        let all = self.yardsticks.iter();
        out.extend(all.filter_map(|(side, y)| behind(*side, y)));
        for (side, course) in &self.courses {
            let Some(y) = self.yardsticks.get(side).filter(|y| !y.own && y.known) else {
                continue;
            };
            let beyond =
                course.sharper + 2.0 * y.square_u.hypot(course.film.map_or(0.0, |f| f.square_u));
            if y.from == ReferenceFrom::Hand && beyond < 0.0 {
                out.push(format!(
                    "the autofocus was sharper than the clip focused by hand, as by {:.1} ‰ of \
                     blur; blur 0 is that clip all the same: focus it again",
                    beyond.abs().sqrt()
                ));
            }
        }
        out
    }

    fn trial(
        &self,
        index: usize,
        (seen, judged): (&Observed, Judged),
        w: &Watched,
        rules: &Rules,
    ) -> schema::Trial {
        let index = u32::try_from(index).unwrap_or(u32::MAX);
        let (verdict, reason) = match self.outcome.excluded.get(&index) {
            Some(why) => (Verdict::Void, Some(format!("excluded: {why}"))),
            None => (judged.verdict(), judged.reason().map(str::to_owned)),
        };
        let stimulus = &seen.stimulus;
        let onset = stimulus.onset_s;
        let hit = verdict == Verdict::Hit;
        let early = judged == Judged::Hit { early: true };
        let settle = seen.settle_s.filter(|_| hit || verdict == Verdict::Soft);
        // An onset read from the screen is as late as settle: nothing to take off.
        let lag = match stimulus.seen {
            OnsetSeen::Screen => Some(Lag::NONE),
            OnsetSeen::Direct | OnsetSeen::Sound => w.lag.lag,
        };
        let since = |from: f64| {
            let settle = settle.filter(|_| hit)?;
            Some(if early {
                0.0
            } else {
                tidy(((settle - from) * 1e3).max(0.0))
            })
        };
        let yardstick = self.yardsticks.get(&stimulus.side);
        schema::Trial {
            index,
            side: stimulus.side,
            verdict,
            reason,
            early: match stimulus.side {
                Some(_) => lag.map(|_| hit && early),
                None => Some(false),
            },
            move_s: stimulus.move_s.map(tidy),
            onset_s: tidy(onset),
            reaction_s: seen.reaction_s.map(tidy),
            settle_s: settle.map(tidy),
            end_s: tidy(seen.end_s),
            latency_ms: since(onset),
            latency_corrected_ms: lag.and_then(|l| since(onset + l.lag_s)),
            uncertainty_ms: hit.then(|| {
                let lag_u = lag.map_or(0.0, |l| l.u_s);
                tidy(seen.uncertainty_s.hypot(lag_u) * 1e3)
            }),
            reversals: Some(seen.reversals),
            relapses: Some(seen.relapses),
            overshoot_permille: seen.overshoot.map(tidy),
            onset_seen: Some(stimulus.seen),
            delta_permille: Some(tidy(rules.delta)),
            hit_limit_permille: Some(tidy(rules.hit)),
            reference_from: yardstick.map(|y| y.from),
            close_call: seen.is_close(rules.hit) && verdict != Verdict::Void,
            blur_permille: Some(schema::Blur {
                onset: seen.onset.map(tidy),
                end: seen.end.map(tidy),
                end_u: seen.end.map(|_| tidy(seen.end_u)),
            }),
            cues: w.cues.claims(onset, seen.end_s),
        }
    }
}

fn of_side(side: Option<Side>) -> &'static str {
    match side {
        None => "",
        Some(Side::Near) => "near side: ",
        Some(Side::Far) => "far side: ",
    }
}

/// That a whole clip is less sharp than another of its setup: its trials are
/// right or wrong together.
fn behind(side: Option<Side>, yardstick: &Yardstick) -> Option<String> {
    (yardstick.behind > 0.0).then(|| {
        format!(
            "{}nothing in this clip is as sharp as another clip of the setup, by {:.1} ‰ of blur at \
             least, which every trial is charged with: it never focused as well here, or the camera \
             that filmed it did not. A clip focused by hand tells the two apart",
            of_side(side),
            yardstick.behind.sqrt()
        )
    })
}

/// A clip that could not be watched.
pub fn failed(rig: &Rig, outcome: &Outcome) -> schema::Clip {
    clip_record(rig, outcome, None)
}

fn clip_record(rig: &Rig, outcome: &Outcome, watched: Option<&Watched>) -> schema::Clip {
    let lag = watched.and_then(|w| w.lag.lag);
    schema::Clip {
        path: outcome.path.clone(),
        sha256: outcome.sha256.clone(),
        frames: watched.map_or(0, |w| w.frames),
        duration_s: tidy(watched.map_or(0.0, |w| w.duration_s)),
        capture_fps: outcome.capture_fps.map(tidy),
        screen: screen_record(rig, watched),
        least_permille: None,
        steadiness: watched.map(|w| w.footing.record()),
        live_view_lag_ms: lag.map(|l| tidy(l.lag_s * 1e3)),
        live_view_lag_u_ms: lag.map(|l| tidy(l.u_s * 1e3)),
        live_view_mean_lag_ms: watched.and_then(|w| w.lag.mean_s).map(|s| tidy(s * 1e3)),
        hygiene: watched.and_then(|w| w.hygiene.clone()),
        warnings: watched.map_or_else(Vec::new, |w| w.warnings.clone()),
        error: outcome.watched.as_ref().err().cloned(),
        trials: Vec::new(),
    }
}

/// Nine significant digits: more would be noise of the arithmetic.
pub(super) fn tidy(v: f64) -> f64 {
    if v == 0.0 || !v.is_finite() {
        return 0.0;
    }
    format!("{v:.8e}").parse().unwrap_or(v)
}

/// What was measured, with everything that its numbers depend on.
pub fn measure_record(rig: &Rig) -> serde_json::Value {
    let mut out = serde_json::json!({
        "name": BLUR,
        "version": BLUR_VERSION,
        "settle_permille": rig.trial.settle_permille,
        "hit_permille": rig.trial.hit_permille,
        "signal": rig.measure.name(),
    });
    if let Some(map) = out.as_object_mut() {
        let own = rig.measure.parameters();
        map.extend(own.into_iter().map(|(key, v)| (key.to_owned(), v.into())));
    }
    out
}
