//! Which setups may stand on one plot.
//!
//! In: setups in the order of their files. Out: panels of setups whose trials
//! start alike, were seen to start alike and were judged by one δ; in the order
//! of their first setups, and each in the order of the files.

use super::kit::Kit;
use crate::report::words::permille;
use crate::stats::sample::Latencies;
use crate::store::schema::{OnsetSeen, Timing};

/// Where the onsets of a setup's judged trials were seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Seen {
    /// All of them there; `None` where the file does not say.
    At(Option<OnsetSeen>),
    /// Not all of them in one place.
    Several,
}

/// What setups on one plot have in common.
#[derive(Clone, Debug, PartialEq)]
struct Kind {
    stimulus: String,
    seen: Seen,
    measured: String,
    deltas: Vec<f64>,
}

impl Kind {
    /// `None` without a judged trial.
    fn of(timing: &Timing) -> Option<Self> {
        let mut seen = timing.judged().map(|t| t.onset_seen);
        let first = seen.next()?;
        Some(Self {
            stimulus: stimulus(timing),
            seen: match seen.all(|s| s == first) {
                true => Seen::At(first),
                false => Seen::Several,
            },
            measured: timing.measured(),
            deltas: timing.deltas(),
        })
    }

    fn onset(&self) -> String {
        let what = stimulus_word(&self.stimulus);
        let seen = match self.seen {
            Seen::At(Some(OnsetSeen::Direct)) => "seen directly",
            Seen::At(Some(OnsetSeen::Screen)) => "seen on the screen",
            Seen::At(Some(OnsetSeen::Sound)) => "heard in the clip",
            Seen::At(None) => "where it was seen is not stated",
            Seen::Several => "seen directly in some trials and on the screen in others",
        };
        format!("{what}, {seen}")
    }

    fn judged_by(&self) -> String {
        let deltas: Vec<String> = self.deltas.iter().map(|d| permille(*d)).collect();
        format!("{}, δ {}", self.measured, deltas.join(" and "))
    }
}

/// `swing`, `light` or `tone`, as the rig has it.
fn stimulus(timing: &Timing) -> String {
    let kind = timing.rig.pointer("/stimulus/kind");
    let kind = kind.and_then(|k| k.as_str());
    kind.unwrap_or_default().to_owned()
}

fn stimulus_word(kind: &str) -> &str {
    match kind {
        "swing" => "a swing",
        "light" => "a trigger light",
        "tone" => "a tone",
        "" => "a stimulus that the rig does not state",
        other => other,
    }
}

/// Setups for one plot.
pub(super) struct Panel<'k, 'a> {
    /// What the trials start with and where that was seen.
    pub onset: String,
    /// What the times hold of the screen's lag.
    pub lag: &'static str,
    /// In the order of the files.
    pub kits: Vec<&'k Kit<'a>>,
}

impl Panel<'_, '_> {
    /// Longest window, ms.
    pub fn window_ms(&self) -> f64 {
        let windows = self.kits.iter().map(|k| k.window_ms());
        windows.fold(1.0, f64::max)
    }
}

/// Every setup in one of the panels. A setup without a judged trial has nothing
/// to be set beside others, so it stands where its stimulus does.
pub(super) fn panels<'k, 'a>(kits: &'k [Kit<'a>]) -> Vec<Panel<'k, 'a>> {
    let mut found: Vec<(Kind, Vec<&'k Kit<'a>>)> = Vec::new();
    let (judged, bare): (Vec<_>, Vec<_>) = kits
        .iter()
        .map(|kit| (Kind::of(kit.source.timing), kit))
        .partition(|(kind, _)| kind.is_some());
    for (kind, kit) in judged {
        let Some(kind) = kind else { continue };
        match found.iter_mut().find(|(k, _)| *k == kind) {
            Some((_, those)) => those.push(kit),
            None => found.push((kind, vec![kit])),
        }
    }
    let mut alone: Vec<(String, Vec<&'k Kit<'a>>)> = Vec::new();
    for (_, kit) in bare {
        let own = stimulus(kit.source.timing);
        if let Some((_, those)) = found.iter_mut().find(|(k, _)| k.stimulus == own) {
            those.push(kit);
        } else if let Some((_, those)) = alone.iter_mut().find(|(s, _)| *s == own) {
            those.push(kit);
        } else {
            alone.push((own, vec![kit]));
        }
    }
    let first = found.first().map(|(kind, _)| kind.judged_by());
    let alike = found.iter().all(|(k, _)| Some(k.judged_by()) == first);
    let mut panels: Vec<Panel> = found
        .into_iter()
        .map(|(kind, kits)| Panel {
            onset: match alike {
                true => kind.onset(),
                false => format!("{}; judged by {}", kind.onset(), kind.judged_by()),
            },
            lag: lag(kind.seen, kits[0].latencies),
            kits,
        })
        .collect();
    panels.extend(alone.into_iter().map(|(own, kits)| Panel {
        onset: format!("{}, no trial judged", stimulus_word(&own)),
        lag: "",
        kits,
    }));
    for panel in &mut panels {
        panel.kits.sort_by_key(|k| k.place);
    }
    panels.sort_by_key(|p| p.kits[0].place);
    panels
}

fn lag(seen: Seen, latencies: Latencies) -> &'static str {
    match (seen, latencies) {
        (Seen::At(Some(OnsetSeen::Screen)), _) => {
            "Onset and settling are both read from the screen, so its lag is in neither."
        }
        (_, Latencies::Corrected) => "The screen's lag is taken off these times.",
        (_, Latencies::AsSeen) => "The screen's lag is part of these times.",
    }
}
