//! What a timing file's trials must agree on before a number is made of them.

use std::collections::BTreeSet;

use super::error::StoreError;
use super::schema::{Clip, Timing, Trial, Verdict};
use crate::units::CAPTURE_FPS;

/// Longest window a rig may ask for, and with it the longest latency, ms.
const LONGEST_WINDOW_MS: f64 = 60_000.0;
/// Latest instant believed, s: a day and more of film.
const LATEST_S: f64 = 1e5;
/// Slack where decimals of two keys are compared, ms.
const SLACK_MS: f64 = 1.0;

const LOST: [&str; 3] = ["hunted on", "never moved", "did not stay"];
const VOID: [&str; 4] = ["cut", "not displaced", "cannot tell", "no signal"];
const EXCLUDED: &str = "excluded: ";

/// Whether every trial obeys the table of verdicts and lies in believable
/// bounds.
pub(super) fn check(timing: &Timing, name: &str) -> Result<(), StoreError> {
    let fault = |message: String| StoreError::File {
        file: name.to_owned(),
        message,
    };
    if timing.setup.name.trim().is_empty() {
        return Err(fault("key `setup.name` is empty".to_owned()));
    }
    let tags = timing.setup.tags.iter().flat_map(|(k, v)| [k, v]);
    std::iter::once(("setup.name", &timing.setup.name))
        .chain(tags.map(|t| ("setup.tags", t)))
        .try_for_each(short)
        .map_err(fault)?;
    let sided = sided(timing).map_err(fault)?;
    for clip in &timing.clips {
        check_clip(clip).map_err(|m| {
            let name: String = clip.path.chars().take(80).collect();
            fault(format!("clip {name}: {m}"))
        })?;
        let mut seen = BTreeSet::new();
        for trial in &clip.trials {
            let twice = !seen.insert(trial.index);
            check_trial(trial, sided)
                .and_then(|()| refuse(twice, "its index is there twice"))
                .map_err(|message| StoreError::Trial {
                    file: name.to_owned(),
                    clip: clip.path.clone(),
                    trial: trial.index,
                    message,
                })?;
        }
    }
    if let Some((first, again)) = repeated(&timing.clips) {
        return Err(fault(format!(
            "clips {first} and {again} are the same film with the same trials: \
             counting them twice would make the result look surer than it is"
        )));
    }
    if timing.clips.iter().all(|c| c.trials.is_empty()) {
        return Err(fault(
            "holds no trial: time clips that show at least one stimulus".to_owned(),
        ));
    }
    Ok(())
}

/// Trials whose keys say two things, in plain words: believed as `latency_ms`
/// has it, but worth a warning.
pub fn doubts(timing: &Timing) -> Vec<String> {
    let mut said = Vec::new();
    for (clip, trial) in timing
        .clips
        .iter()
        .flat_map(|c| c.trials.iter().map(move |t| (c, t)))
    {
        let spanned = trial.settle_s.map(|s| (s - trial.onset_s) * 1000.0);
        let early = trial.early == Some(true);
        let off = trial.latency_ms.zip(spanned).map(|(ms, span)| ms - span);
        if off.is_some_and(|off| !early && off.abs() > SLACK_MS) {
            said.push(format!(
                "trial {}:{}: `latency_ms` is not `settle_s` less `onset_s`; `latency_ms` is used",
                clip.path, trial.index
            ));
        }
    }
    said
}

type Fault = Result<(), String>;

fn refuse(wrong: bool, message: &str) -> Fault {
    if wrong {
        Err(message.to_owned())
    } else {
        Ok(())
    }
}

/// Longest name and longest running text, bytes.
const LONGEST_NAME: usize = 4096;
const LONGEST_PROSE: usize = 16_384;

fn short((key, text): (&str, &String)) -> Fault {
    let most = match key {
        "warnings" | "error" => LONGEST_PROSE,
        _ => LONGEST_NAME,
    };
    match text.len() {
        n if n > most => Err(format!("key `{key}` is {n} bytes long, more than {most}")),
        _ => Ok(()),
    }
}

/// Whether trials have sides: swings do, lights and tones do not.
fn sided(timing: &Timing) -> Result<bool, String> {
    match timing.rig.pointer("/stimulus/kind").map(|k| k.as_str()) {
        Some(Some("swing")) => Ok(true),
        Some(Some("light" | "tone")) => Ok(false),
        None => Ok(timing
            .clips
            .iter()
            .flat_map(|c| &c.trials)
            .any(|t| t.side.is_some())),
        Some(_) => Err("key `rig.stimulus.kind` must be swing, light or tone".to_owned()),
    }
}

fn check_clip(clip: &Clip) -> Fault {
    refuse(clip.path.is_empty(), "key `path` is empty")?;
    let cues = clip.trials.iter().flat_map(|t| t.cues.keys());
    let reasons = clip.trials.iter().filter_map(|t| t.reason.as_ref());
    let said = clip.warnings.iter().map(|w| ("warnings", w));
    said.chain([("path", &clip.path), ("sha256", &clip.sha256)])
        .chain(clip.error.iter().map(|e| ("error", e)))
        .chain(cues.map(|c| ("cues", c)))
        .chain(reasons.map(|r| ("reason", r)))
        .try_for_each(short)?;
    refuse(
        !(0.0..=LATEST_S).contains(&clip.duration_s),
        "key `duration_s` is negative or absurdly large",
    )?;
    refuse(
        clip.capture_fps
            .is_some_and(|fps| !CAPTURE_FPS.contains(&fps)),
        "key `capture_fps` must be above 0 and believable",
    )?;
    refuse(
        clip.screen
            .refresh_hz
            .is_some_and(|hz| !(hz > 0.0 && hz < 1e5)),
        "key `screen.refresh_hz` must be above 0 and believable",
    )?;
    refuse(
        clip.live_view_lag_ms.is_some_and(|ms| ms.abs() > 1e4),
        "key `live_view_lag_ms` is absurdly large",
    )
}

fn check_trial(trial: &Trial, sided: bool) -> Fault {
    check_side(trial, sided)?;
    check_window(trial)?;
    check_numbers(trial)?;
    match trial.verdict {
        Verdict::Hit => check_hit(trial),
        Verdict::Soft => {
            refuse(trial.settle_s.is_none(), "a soft trial needs `settle_s`")?;
            refuse(trial.reason.is_some(), "a soft trial has no `reason`")?;
            no_latency(trial)
        }
        Verdict::Lost => {
            check_reason(trial, &LOST, false)?;
            refuse(trial.settle_s.is_some(), "a lost trial has no `settle_s`")?;
            no_latency(trial)
        }
        Verdict::Void => {
            check_reason(trial, &VOID, true)?;
            refuse(trial.settle_s.is_some(), "a void trial has no `settle_s`")?;
            no_latency(trial)
        }
    }
}

fn check_side(trial: &Trial, sided: bool) -> Fault {
    refuse(
        sided && trial.side.is_none(),
        "key `side` is missing: a swing has near and far",
    )?;
    refuse(
        !sided && trial.side.is_some(),
        "key `side` must be null: light and tone have no sides",
    )
}

fn check_window(trial: &Trial) -> Fault {
    let instants = [
        ("move_s", trial.move_s),
        ("onset_s", Some(trial.onset_s)),
        ("reaction_s", trial.reaction_s),
        ("settle_s", trial.settle_s),
        ("end_s", Some(trial.end_s)),
    ];
    for (key, value) in instants {
        refuse(
            value.is_some_and(|s| !s.is_finite() || s.abs() > LATEST_S),
            &format!("key `{key}` is absurdly large"),
        )?;
    }
    let window_ms = (trial.end_s - trial.onset_s) * 1000.0;
    refuse(window_ms <= 0.0, "`end_s` must lie after `onset_s`")?;
    refuse(
        window_ms > LONGEST_WINDOW_MS + SLACK_MS,
        "the window from `onset_s` to `end_s` is longer than 60 s",
    )
}

fn check_numbers(trial: &Trial) -> Fault {
    let spans = [
        ("latency_ms", trial.latency_ms),
        ("latency_corrected_ms", trial.latency_corrected_ms),
        ("uncertainty_ms", trial.uncertainty_ms),
    ];
    for (key, value) in spans {
        refuse(
            value.is_some_and(|ms| ms < 0.0),
            &format!("key `{key}` is negative"),
        )?;
        refuse(
            value.is_some_and(|ms| !ms.is_finite() || ms > LONGEST_WINDOW_MS + SLACK_MS),
            &format!("key `{key}` is longer than any window"),
        )?;
    }
    Ok(())
}

fn check_hit(trial: &Trial) -> Fault {
    refuse(trial.settle_s.is_none(), "a hit needs `settle_s`")?;
    refuse(trial.reason.is_some(), "a hit has no `reason`")?;
    let Some(latency) = trial.latency_ms else {
        return Err("a hit needs `latency_ms`".to_owned());
    };
    let window_ms = (trial.end_s - trial.onset_s) * 1000.0;
    refuse(
        latency > window_ms + SLACK_MS,
        "`latency_ms` of a hit reaches beyond its window (`onset_s` to `end_s`)",
    )
}

fn no_latency(trial: &Trial) -> Fault {
    refuse(
        trial.latency_ms.is_some() || trial.latency_corrected_ms.is_some(),
        "only a hit has a latency: `latency_ms` and `latency_corrected_ms` must be null",
    )
}

fn check_reason(trial: &Trial, known: &[&str], may_exclude: bool) -> Fault {
    let list = known.join("`, `");
    let Some(reason) = trial.reason.as_deref() else {
        return Err(format!("`reason` is missing; it must be one of `{list}`"));
    };
    let ok = known.contains(&reason) || (may_exclude && reason.starts_with(EXCLUDED));
    let more = if may_exclude {
        ", or `excluded: …` with the user's words"
    } else {
        ""
    };
    refuse(
        !ok,
        &format!("`reason` \"{reason}\" is unknown; it must be one of `{list}`{more}"),
    )
}

/// Two clips of one content and the same trials.
fn repeated(clips: &[Clip]) -> Option<(&str, &str)> {
    clips.iter().enumerate().find_map(|(k, clip)| {
        clips[..k]
            .iter()
            .find(|c| c.sha256 == clip.sha256 && !clip.trials.is_empty() && c.trials == clip.trials)
            .map(|c| (c.path.as_str(), clip.path.as_str()))
    })
}
