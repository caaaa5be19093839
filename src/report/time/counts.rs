//! What was filmed of a setup, what of it was void and why, and what a hit
//! means.

use super::*;

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
        (soft > 0).then(|| format!("{soft} soft: settled, but less sharp than a hit must be."))
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

    /// What "hit" means here.
    pub(super) fn yardstick(&self) -> String {
        let from: BTreeSet<(Option<Side>, &str)> = self
            .trials()
            .filter_map(|t| Some((t.side, t.sharpness.as_ref()?.reference_from.as_deref()?)))
            .collect();
        let sides = |wanted: &str| -> Vec<String> {
            let found = from.iter().filter(|(_, f)| *f == wanted);
            found
                .filter_map(|(side, _)| side.map(|s| named(Some(s))))
                .collect()
        };
        let any = |wanted: &str| from.iter().any(|(_, f)| *f == wanted);
        let own = "the setup's own best, so \"hit\" only means as sharp as that";
        match (any("clip"), any("trials")) {
            (true, false) => "Reference: focused by hand.".to_owned(),
            (true, true) => format!(
                "Reference: {} by hand; {} {own}.",
                sides("clip").join(", "),
                sides("trials").join(", ")
            ),
            (false, true) => format!("Reference: {own}."),
            (false, false) => "Reference: none, no trial reached a level to hold on to.".to_owned(),
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
pub(in crate::report) fn counted(n: u64, what: &str) -> String {
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
        "never moved" => "out of focus, and focus did not move",
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
        "not displaced" if swing => "no fair start: the other side was not in focus just before",
        "not displaced" => "already in focus at the start",
        "cannot tell" => "noise, or what a warning names",
        "no signal" => "dark or glare",
        other => return other.to_owned(),
    };
    format!("{reason} ({meaning})")
}
