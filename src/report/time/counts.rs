//! What was filmed of a setup, what of it was void and why, and what a hit
//! means.

use super::*;
use crate::report::words::permille;

impl Told<'_> {
    /// `14 trials filmed in 2 clips, 3 void: …`.
    pub(super) fn voids(&self) -> Option<String> {
        let all = &self.summary.all;
        let clips = counted(self.timing.clips.len() as u64, "clip");
        let trials = counted(all.trials, "trial");
        if all.void == 0 {
            return Some(format!("{trials} filmed in {clips}, none void."));
        }
        let reasons = reasons(self.trials(), Verdict::Void);
        let swings = self.trials().any(|t| t.side.is_some());
        let list: Vec<String> = reasons
            .iter()
            .map(|(reason, n)| {
                let after = match self.detail.not_displaced_after_miss {
                    misses if *reason == "not displaced" && misses > 0 => {
                        format!(", {misses} of them right after a miss")
                    }
                    _ => String::new(),
                };
                format!("{n} {}{after}", spelled_out(reason, swings))
            })
            .collect();
        Some(format!(
            "{trials} filmed in {clips}, {} void: {}.",
            all.void,
            list.join("; ")
        ))
    }

    pub(super) fn missing(&self) -> Option<String> {
        let failed = self.timing.clips.iter().filter(|c| c.error.is_some());
        let names: Vec<&str> = failed.map(|c| c.path.as_str()).collect();
        (!names.is_empty()).then(|| {
            format!(
                "{} of {} could not be judged, and no number here knows of it: {}.",
                names.len(),
                counted(self.timing.clips.len() as u64, "clip"),
                names.join(", ")
            )
        })
    }

    pub(super) fn soft(&self) -> Option<String> {
        let soft = self.summary.all.soft;
        let limit = self.timing.hit_limit();
        let limit = limit.map_or(String::new(), |l| format!(" of {}", permille(l)));
        (soft > 0).then(|| {
            format!("{soft} soft: settled on the wrong plane, end blur above the hit limit{limit}.")
        })
    }

    pub(super) fn lost(&self) -> Option<String> {
        let reasons = reasons(self.trials(), Verdict::Lost);
        let list: Vec<String> = reasons
            .iter()
            .map(|(reason, n)| format!("{n} {}", lost_how(reason)))
            .collect();
        let lost = self.summary.all.lost;
        match (list.as_slice(), reasons.keys().next()) {
            ([], _) => None,
            ([_], Some(reason)) => Some(format!("{lost} lost: {}.", lost_how(reason))),
            _ => Some(format!("{lost} lost: {}.", list.join("; "))),
        }
    }
}

pub(super) fn named(side: Option<Side>) -> String {
    match side {
        Some(Side::Near) => "near",
        Some(Side::Far) => "far",
        None => "all",
    }
    .to_owned()
}

/// `1 clip`, `3 clips`.
pub(crate) fn counted(n: u64, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// Trials of a verdict by reason.
pub(super) fn reasons<'a>(
    trials: impl Iterator<Item = &'a Trial>,
    verdict: Verdict,
) -> BTreeMap<&'a str, u64> {
    let mut counts = BTreeMap::new();
    for trial in trials.filter(|t| t.verdict == verdict) {
        let reason = trial.reason.as_deref().unwrap_or("no reason given");
        *counts.entry(reason).or_insert(0) += 1;
    }
    counts
}

/// Why a trial was lost, for people.
pub(in crate::report) fn lost_how(reason: &str) -> String {
    let meaning = match reason {
        "hunted on" => "still hunting when the window was over",
        "never moved" => "out of focus, and blur did not change",
        "did not stay" => "came into focus and left it before the window was over",
        other => return other.to_owned(),
    };
    format!("{reason} ({meaning})")
}

/// A void's reason for people; `swing`: the trial was one.
pub(in crate::report) fn spelled_out(reason: &str, swing: bool) -> String {
    if let Some(why) = reason.strip_prefix("excluded: ") {
        return format!("excluded ({why})");
    }
    let meaning = match reason {
        "cut" => "not filmed to the end of its window",
        "not displaced" if swing => {
            "in focus at the start already, and not seen to be brought there: nothing was tested"
        }
        "not displaced" => "never out of focus: nothing was tested",
        "cannot tell" => "noise, or what a warning names",
        "no signal" => "dark or glare",
        other => return other.to_owned(),
    };
    format!("{reason} ({meaning})")
}
