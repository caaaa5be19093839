//! Photographs beside the screen's verdicts on the same trials.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::pair::{Outside, PairError, Shot, Slot, Taken, Way, pair};
use super::record::{Photos, Picture, PictureVerdict, TrialName};
use crate::stats::agree::{Agreement, Ask, Judged, NotParted, Parting, Shown, agreement, part};
use crate::store::schema::{Rate, Timing, Trial, Verdict};

/// Draws of the threshold's interval.
const RESAMPLES: usize = 999;
/// Where chance comes from.
const SEED: u64 = 1;

/// How photographs were matched to trials.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Matched {
    /// By order alone.
    Order,
    /// By time alone: a picture was missing, or one too many.
    Time,
    /// Both ways, with the same answer.
    Both,
}

/// Screen and photograph of the same trials.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OnScreen {
    /// The timing file's name.
    pub timing: String,
    /// How the photographs were matched.
    pub matched: Matched,
    /// Photographs that belong to no trial.
    pub outside: usize,
    /// Trials that have another number of photographs than most.
    pub unlike: usize,
    /// Trials that both judge; of a burst its first photograph counts.
    pub trials: u64,
    /// Hit on the screen, hit in the photograph.
    pub both_hit: u64,
    /// Hit on the screen, miss in the photograph.
    pub screen_only: u64,
    /// Miss on the screen, hit in the photograph.
    pub photograph_only: u64,
    /// Miss in both.
    pub both_miss: u64,
    /// Share of trials in which both say the same.
    pub agreed: Option<Rate>,
    /// Of the screen's hits, those whose photograph is one.
    pub hits_good: Option<Rate>,
    /// Of the screen's misses, those whose photograph is one.
    pub misses_bad: Option<Rate>,
    /// McNemar's exact test, two-sided; null where the two never differ.
    pub mcnemar_p: Option<f64>,
    /// Cohen's kappa; null where it is not defined.
    pub kappa: Option<Between>,
    /// The blur on the screen from which photographs go bad, ‰ of the screen's
    /// height; null where it cannot be told, with the reason beside.
    pub bad_from_permille: Option<Between>,
    /// Why it cannot be told.
    pub not_told: Option<String>,
    /// How often the worse photograph of two has more blur on the screen, 0..=1.
    pub area: Option<Between>,
    /// Seed of the interval of `bad_from_permille`.
    pub seed: u64,
}

/// A number with its interval, where it has one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Between {
    /// The number.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
}

/// Matches a setup's photographs to the trials of its timing file, and holds both
/// verdicts against each other. `taken`: when each picture was taken.
///
/// # Errors
/// Photographs and trials that do not go together.
pub(crate) fn beside(
    photos: &mut Photos,
    taken: &[Option<Taken>],
    timing: &Timing,
    file: &str,
) -> Result<(), String> {
    let slots = slots(timing);
    let shots = shots(photos, taken);
    let paired = pair(&shots, &slots).map_err(|e: PairError| e.to_string())?;
    for (picture, slot) in photos.pictures.iter_mut().zip(&paired.slots) {
        picture.trial = slot.as_ref().ok().map(|k| TrialName {
            clip: slots[*k].film.clone(),
            index: slots[*k].trial,
        });
    }
    let both = both(photos, &paired.slots, &slots, timing);
    let judged: Vec<Judged> = both
        .iter()
        .map(|(_, hit, shown)| Judged {
            hit: *hit,
            good: shown.good,
        })
        .collect();
    let agreed = agreement(&judged, photos.confidence);
    let ask = Ask {
        confidence: photos.confidence,
        seed: SEED,
        resamples: RESAMPLES,
    };
    let told: Vec<Shown> = both.iter().filter(|b| b.0).map(|b| b.2).collect();
    photos.screen = Some(OnScreen {
        timing: file.to_owned(),
        matched: match paired.way {
            Way::Order(_) => Matched::Order,
            Way::Time => Matched::Time,
            Way::Both => Matched::Both,
        },
        outside: paired.slots.iter().filter(|s| s.is_err()).count(),
        unlike: paired.unlike.len(),
        ..record(agreed.as_ref(), &part(&told, &ask))
    });
    Ok(())
}

fn record(agreed: Option<&Agreement>, parted: &Result<Parting, NotParted>) -> OnScreen {
    let counts = agreed.map(|a| a.counts).unwrap_or_default();
    let parting = parted.as_ref().ok();
    OnScreen {
        timing: String::new(),
        matched: Matched::Order,
        outside: 0,
        unlike: 0,
        trials: counts.all(),
        both_hit: counts.hit_good,
        screen_only: counts.hit_bad,
        photograph_only: counts.miss_good,
        both_miss: counts.miss_bad,
        agreed: agreed.map(|a| a.agreed),
        hits_good: agreed.and_then(|a| Some(a.trust.hits_good?.rate)),
        misses_bad: agreed.and_then(|a| Some(a.trust.misses_bad?.rate)),
        mcnemar_p: agreed.and_then(|a| Some(a.mcnemar.as_ref()?.exact_p)),
        kappa: agreed.and_then(|a| a.kappa.as_ref()).map(|k| Between {
            value: k.value,
            low: k.interval.map(|i| i.low),
            high: k.interval.map(|i| i.high),
        }),
        bad_from_permille: parting.map(|p| Between {
            value: p.threshold_permille,
            low: p.interval.map(|i| i.low),
            high: p.interval.map(|i| i.high),
        }),
        not_told: parted.as_ref().err().map(why),
        area: parting.map(|p| Between {
            value: p.area.value,
            low: Some(p.area.low),
            high: Some(p.area.high),
        }),
        seed: SEED,
    }
}

fn why(not: &NotParted) -> String {
    let few = |n: &usize, what: &str| {
        let least = crate::stats::agree::FEWEST_EACH;
        format!("{n} {what} photographs are too few: {least} are needed")
    };
    match not {
        NotParted::TooFewGood { good } => few(good, "sharp"),
        NotParted::TooFewBad { bad } => few(bad, "blurred"),
        NotParted::NotBlurrier => {
            "photographs that are blurred show no more blur on the screen".to_owned()
        }
        NotParted::NoNumber { .. } => "a trial's blur is no number".to_owned(),
    }
}

/// All trials, voids included: a photograph was taken in each.
fn slots(timing: &Timing) -> Vec<Slot> {
    let clips = timing.clips.iter().enumerate();
    let of = |(k, clip): (usize, &crate::store::schema::Clip)| -> Vec<Slot> {
        let slot = |t: &Trial| Slot {
            clip: k,
            film: clip.path.clone(),
            trial: t.index,
            side: t.side,
            onset_s: t.onset_s,
            end_s: t.end_s,
        };
        clip.trials.iter().map(slot).collect()
    };
    clips.flat_map(of).collect()
}

/// The target that a picture is seen to show.
fn shown(picture: &Picture) -> Option<usize> {
    picture.target.filter(|_| !picture.beyond_recognition)
}

fn shots(photos: &Photos, taken: &[Option<Taken>]) -> Vec<Shot> {
    let pictures = photos.pictures.iter().zip(taken);
    pictures
        .map(|(picture, taken)| Shot {
            name: picture.file.clone(),
            taken: *taken,
            side: shown(picture).and_then(|k| photos.targets.get(k)?.side),
        })
        .collect()
}

/// Whether the blur on the screen is known, the screen's verdict, and both, of
/// every trial that both judge.
fn both(
    photos: &Photos,
    of: &[Result<usize, Outside>],
    slots: &[Slot],
    timing: &Timing,
) -> Vec<(bool, bool, Shown)> {
    let mut first: Vec<Option<usize>> = vec![None; slots.len()];
    for (k, slot) in of.iter().enumerate() {
        if let Ok(slot) = slot {
            first[*slot].get_or_insert(k);
        }
    }
    let trials = timing.clips.iter().flat_map(|c| &c.trials);
    let all = slots.iter().zip(trials).zip(first);
    all.filter_map(|((slot, trial), k)| {
        let good = match photos.pictures.get(k?)?.verdict {
            PictureVerdict::Hit => true,
            PictureVerdict::Miss => false,
            PictureVerdict::Void => return None,
        };
        let hit = match trial.verdict {
            Verdict::Hit => true,
            Verdict::Soft | Verdict::Lost => false,
            Verdict::Void => return None,
        };
        let end = trial.blur_permille.and_then(|b| b.end);
        let shown = Shown {
            clip: slot.clip,
            permille: end.unwrap_or_default(),
            good,
        };
        Some((end.is_some(), hit, shown))
    })
    .collect()
}

impl fmt::Display for Matched {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Order => "by order",
            Self::Time => "by time",
            Self::Both => "by order and by time",
        })
    }
}
