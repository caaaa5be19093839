//! What of the gathered evidence is kept with the timing file.

use std::collections::BTreeMap;
use std::path::Path;

use super::super::clip::Watched;
use super::super::setup::Verdicts;
use super::super::verdicts::Course;
use super::super::{JobError, JobOptions, output};
use super::shots::{Shot, instants};
use crate::rig::Setup;
use crate::store::evidence::{
    BlurCurve, ClipEvidence, Evidence, FORMAT, Index, Moment, NoEvidence, Pack, SignalCurve,
    StillRecord, TrialEvidence, VERSION, beside,
};
use crate::store::schema::{Clip, Side, Trial, Verdict};
use crate::trial::{Curve, Observed};

/// Seconds of blur kept before the onset and after the end.
const BEFORE_S: f64 = 1.0;
const AFTER_S: f64 = 0.25;
/// An earlier still serves a moment this near to it, s.
const NEAR_S: f64 = 0.01;

/// A fault where a file that is no evidence stands where it would go.
pub fn occupied(setup: &Setup, options: &JobOptions) -> Option<JobError> {
    let path = beside(&output::file_of(&setup.name, &options.out));
    match Evidence::open(&path) {
        Err(NoEvidence::Unusable { .. }) => Some(JobError::Occupied {
            path,
            what: "something that is no evidence of this version".to_owned(),
        }),
        _ => None,
    }
}

/// Curves and the pictures that the verdicts call for; `earlier` is what lies
/// beside the timing file from an earlier run, and beside the kept signals. With
/// them the number of trials that lack a picture because their clip was not
/// decoded.
pub fn pack(
    setup: &str,
    clips: &[Clip],
    verdicts: &[Option<Verdicts<'_>>],
    earlier: &mut [Evidence],
) -> (Pack, usize) {
    let mut pictures = BTreeMap::new();
    let mut lacking = 0;
    let clips = clips
        .iter()
        .zip(verdicts)
        .enumerate()
        .map(|(k, (clip, verdicts))| {
            let seen = verdicts.as_ref().and_then(Verdicts::evidence);
            let trials = seen.map_or_else(Vec::new, |(w, courses)| {
                let each = clip.trials.iter().enumerate();
                each.map(|(i, trial)| {
                    let shots = wanted(w, i, trial);
                    let shots = if shots.is_empty() {
                        let found = again(w, &w.glimpsed[i], trial, &clip.sha256, earlier);
                        lacking += usize::from(found.iter().any(Option::is_none));
                        found.into_iter().flatten().collect()
                    } else {
                        shots
                    };
                    TrialEvidence {
                        index: trial.index,
                        onset_s: trial.onset_s,
                        blur: blur(courses, trial),
                        stills: shots
                            .into_iter()
                            .map(|s| record(&format!("{k}/{}", trial.index), s, &mut pictures))
                            .collect(),
                    }
                })
                .collect()
            });
            ClipEvidence {
                path: clip.path.clone(),
                sha256: clip.sha256.clone(),
                curve: seen.map(|(w, _)| signal(&w.curve)),
                trials,
            }
        })
        .collect();
    let index = Index {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: setup.to_owned(),
        timing_sha256: None,
        clips,
    };
    (Pack { index, pictures }, lacking)
}

/// Whether a trial's strip ends where it settled, or at its end.
fn shown(trial: &Trial, moment: Moment) -> bool {
    match moment {
        Moment::Settled => trial.verdict == Verdict::Hit,
        Moment::End => trial.verdict != Verdict::Hit,
        Moment::Onset | Moment::Blurred => true,
    }
}

fn wanted(watched: &Watched, place: usize, trial: &Trial) -> Vec<Shot> {
    let own = watched.shots.get(place).into_iter().flatten();
    own.filter(|s| shown(trial, s.moment)).cloned().collect()
}

/// Pictures of an earlier run that still lie at the moments of a trial; a hole
/// for every moment without one.
fn again(
    watched: &Watched,
    seen: &Observed,
    trial: &Trial,
    sha256: &str,
    earlier: &mut [Evidence],
) -> Vec<Option<Shot>> {
    let moments = instants(seen, &watched.curve);
    let moments = moments.into_iter().filter(|(m, _)| shown(trial, *m));
    moments
        .map(|(moment, t)| {
            let mut from = earlier.iter_mut();
            from.find_map(|e| taken_over(e, sha256, moment, t))
        })
        .collect()
}

/// The earlier still nearest to an instant, where it is near enough.
fn taken_over(earlier: &mut Evidence, sha256: &str, moment: Moment, t: f64) -> Option<Shot> {
    let off = |s: &&StillRecord| (s.time_s - t).abs();
    let trials = &earlier.of_hash(sha256)?.trials;
    let all = trials.iter().flat_map(|t| &t.stills);
    let nearest = all.min_by(|a, b| off(a).total_cmp(&off(b)));
    let still = nearest.filter(|s| off(s) < NEAR_S)?.clone();
    Some(Shot {
        moment,
        frame: usize::try_from(still.frame).ok()?,
        time_s: still.time_s,
        area: earlier.picture(&still.file)?,
        screen: still.screen.as_ref().and_then(|n| earlier.picture(n)),
    })
}

/// All the stills of a clip as they were taken, whatever its verdicts will be.
#[must_use]
pub fn stills(sha256: &str, watched: &Watched) -> Pack {
    let mut pictures = BTreeMap::new();
    let trials = watched.glimpsed.iter().zip(&watched.shots).zip(0..);
    let trials = trials.map(|((seen, shots), index)| TrialEvidence {
        index,
        onset_s: seen.stimulus.onset_s,
        blur: None,
        stills: shots
            .iter()
            .map(|s| record(&index.to_string(), s.clone(), &mut pictures))
            .collect(),
    });
    let clip = ClipEvidence {
        path: String::new(),
        sha256: sha256.to_owned(),
        curve: None,
        trials: trials.collect(),
    };
    let index = Index {
        format: FORMAT.to_owned(),
        version: VERSION,
        setup: String::new(),
        timing_sha256: None,
        clips: vec![clip],
    };
    Pack { index, pictures }
}

/// What is said of trials that lack a picture.
pub fn lacking(setup: &str, trials: usize) -> String {
    let many = if trials == 1 {
        "trial has"
    } else {
        "trials have"
    };
    format!(
        "{setup}: {trials} {many} a moment without a still, because the film was not decoded; no \
         number depends on it, and --decode-again takes them"
    )
}

fn record(stem: &str, shot: Shot, pictures: &mut BTreeMap<String, Vec<u8>>) -> StillRecord {
    let word = match shot.moment {
        Moment::Onset => "onset",
        Moment::Blurred => "blurred",
        Moment::Settled => "settled",
        Moment::End => "end",
    };
    let file = format!("{stem}-{word}.jpg");
    pictures.insert(file.clone(), shot.area);
    let screen = shot.screen.map(|bytes| {
        let name = format!("{stem}-{word}-screen.jpg");
        pictures.insert(name.clone(), bytes);
        name
    });
    StillRecord {
        moment: shot.moment,
        time_s: micro(shot.time_s),
        frame: shot.frame as u64,
        file,
        screen,
    }
}

fn signal(curve: &Curve) -> SignalCurve {
    SignalCurve {
        period_s: micro(curve.period_s),
        shown_s: curve.samples.iter().map(|s| micro(s.shown_s)).collect(),
        sharpness: curve.samples.iter().map(|s| short(s.value)).collect(),
    }
}

/// Blur of the trial's side around it.
fn blur(courses: &BTreeMap<Option<Side>, Course>, trial: &Trial) -> Option<BlurCurve> {
    let trace = &courses.get(&trial.side)?.trace;
    let own = trace.between(trial.onset_s - BEFORE_S, trial.end_s + AFTER_S);
    Some(BlurCurve {
        first: trace.at_or_after(trial.onset_s - BEFORE_S),
        permille: own.iter().map(|u| short(u.permille)).collect(),
    })
}

/// To a microsecond.
fn micro(seconds: f64) -> f64 {
    (seconds * 1e6).round() / 1e6
}

/// Five significant digits.
fn short(v: f64) -> f64 {
    if v.is_finite() {
        format!("{v:.4e}").parse().unwrap_or(v)
    } else {
        0.0
    }
}

/// The evidence of an earlier run, where there is any.
pub fn earlier(timing: &Path) -> Option<Evidence> {
    Evidence::of(timing).ok()
}
