//! A trial in words.

use crate::report::time::counts::{counted, lost_how, spelled_out};
use crate::report::words::{fixed, whole};
use crate::store::schema::{Trial, Verdict};

/// `hit`, `soft`, `lost`, `void` or `excluded`, by which a trial is drawn.
pub(in crate::report) fn kind(trial: &Trial) -> &'static str {
    match trial.verdict {
        Verdict::Hit => "hit",
        Verdict::Soft => "soft",
        Verdict::Lost => "lost",
        Verdict::Void if excluded(trial).is_some() => "excluded",
        Verdict::Void => "void",
    }
}

/// Why the user took it out.
pub(in crate::report) fn excluded(trial: &Trial) -> Option<&str> {
    trial.reason.as_deref()?.strip_prefix("excluded: ")
}

/// `hit, 322 ms` or `lost, hunted on`, for a list.
pub(in crate::report) fn glance(trial: &Trial) -> String {
    match (trial.verdict, trial.latency_ms, trial.reason.as_deref()) {
        (Verdict::Hit, Some(ms), _) => format!("hit, {} ms", whole(Some(ms))),
        (Verdict::Hit, None, _) => "hit".to_owned(),
        (Verdict::Soft, ..) => match end_blur(trial) {
            Some(b) => format!("soft, {b}"),
            None => "soft".to_owned(),
        },
        (Verdict::Lost, _, why) => format!("lost, {}", why.unwrap_or("no reason given")),
        (Verdict::Void, _, why) => format!("void, {}", why.unwrap_or("no reason given")),
    }
}

/// `7.3 ‰` where the end was watched.
fn end_blur(trial: &Trial) -> Option<String> {
    Some(format!("{} ‰", fixed(trial.blur_permille?.end?, 1)))
}

/// What happened, in one or two sentences.
pub(in crate::report) fn verdict_words(trial: &Trial) -> String {
    let after = |s: f64| fixed((s - trial.onset_s) * 1000.0, 0);
    let sharp = end_blur(trial).map_or(String::new(), |b| {
        let limit = trial.hit_limit_permille.map_or(String::new(), |l| {
            format!(" (a hit ends within {} ‰)", fixed(l, 1))
        });
        format!(", ending at {b} of blur{limit}")
    });
    let told = match trial.verdict {
        Verdict::Hit if trial.early == Some(true) => {
            format!("Hit: already in focus when the stimulus was complete{sharp}.")
        }
        Verdict::Hit => {
            let give = trial
                .uncertainty_ms
                .map_or(String::new(), |u| format!(" ± {}", fixed(2.0 * u, 0)));
            let ms = whole(trial.latency_ms);
            format!("Hit: in focus {ms}{give} ms after onset and still so at the end{sharp}.")
        }
        Verdict::Soft => {
            let when = match trial.settle_s {
                Some(s) if s <= trial.onset_s => "where it stood at onset".to_owned(),
                s => format!("{} ms after onset", s.map_or("…".to_owned(), after)),
            };
            format!("Soft: stopped {when}{sharp}: on the wrong plane, so it has no latency.")
        }
        Verdict::Lost => {
            let how = lost_how(trial.reason.as_deref().unwrap_or("no reason given"));
            format!("Lost: {how}{sharp}. It has no latency.")
        }
        Verdict::Void => {
            let why = trial.reason.as_deref().unwrap_or("no reason given");
            let why = spelled_out(why, trial.side.is_some());
            format!("Void: {why}. It is counted, and no part of any rate.")
        }
    };
    let turns = trial
        .reversals
        .filter(|n| *n > 0 && trial.verdict != Verdict::Void);
    let turns = turns.map_or(String::new(), |n| {
        format!(" It turned back {}.", counted(n.into(), "time"))
    });
    let again = trial
        .relapses
        .filter(|n| *n > 0 && trial.verdict != Verdict::Void);
    let again = again.map_or(String::new(), |n| {
        format!(" It lost focus again {}.", counted(n.into(), "time"))
    });
    format!("{told}{turns}{again}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{swings, void};

    #[test]
    fn every_verdict_has_its_words() {
        let trials = swings(&[Some(321.6), None]);
        assert_eq!(
            verdict_words(&trials[0]),
            "Hit: in focus 322 ± 14 ms after onset and still so at the end."
        );
        assert!(verdict_words(&trials[1]).starts_with("Lost: hunted on (still hunting"));
        let mut out = void(2, None);
        out.reason = Some("excluded: a gull".to_owned());
        assert_eq!(
            verdict_words(&out),
            "Void: excluded (a gull). It is counted, and no part of any rate."
        );
        assert_eq!((kind(&out), excluded(&out)), ("excluded", Some("a gull")));
        assert_eq!(glance(&trials[1]), "lost, hunted on");
    }
}
