//! All that the setups of a session share: their clips gone through
//! ([`super::watching`]), then judged together with one δ, then written.

use std::collections::BTreeMap;
use std::path::PathBuf;

use rayon::prelude::*;

use super::delta::delta;
use super::kept::{self, Kept};
use super::reference::{ByHand, by_hand, yardsticks};
use super::setup::{self, Outcome, Verdicts, rules};
use super::verdicts::Yardsticks;
use super::watching::WatchedSetup;
use super::{CONFIDENCE, Done, Events, JobOptions, again, evidence, lag, output};
use crate::rig::{Session, Setup, Stimulus};
use crate::stats::summary::summarise;
use crate::store::evidence::{Pack, write_evidence};
use crate::store::schema::{Clip, FORMAT, Timing, VERSION, Verdict};
use crate::store::{StoreError, write_timing};
use crate::trial::Bounds;

/// All that the setups of a session share.
pub struct Whole<'a> {
    pub session: &'a Session,
    pub options: &'a JobOptions,
    pub events: &'a dyn Events,
    pub kept: Kept,
}

impl Whole<'_> {
    /// Judges what was watched, with one δ for all of it.
    pub fn judge(
        &self,
        watched: &[(&Setup, WatchedSetup)],
        failures: &mut Vec<String>,
    ) -> Vec<(Timing, Pack)> {
        with_verdicts(watched, failures, |of, verdicts, delta, failures| {
            self.timing(of, verdicts, delta, failures)
        })
    }

    /// The records of each setup's clips, judged in the same way, and nothing else.
    pub fn records(&self, watched: &[(&Setup, WatchedSetup)]) -> Vec<Vec<Clip>> {
        with_verdicts(watched, &mut Vec::new(), |of, verdicts, delta, failures| {
            self.judged(of, verdicts, delta, failures)
        })
    }

    /// Writes a setup's result and its evidence.
    pub fn keep(&self, timing: &Timing, pack: &Pack, done: &mut Done) {
        if timing.clips.iter().all(|c| c.trials.is_empty()) {
            let name = &timing.setup.name;
            done.failures.push(format!(
                "{name}: no trial in any clip, so nothing was written"
            ));
            return;
        }
        done.failures.extend(unjudged(timing));
        match save(timing, self.options) {
            Ok(path) => {
                // Without its evidence a result is still a result.
                let kept = write_evidence(&path, pack);
                done.unfinished |= kept.is_err();
                done.failures.extend(kept.err().map(|e| e.to_string()));
                done.written.push((path, timing.clone()));
            }
            Err(e) => {
                done.unfinished = true;
                done.failures.push(e.to_string());
            }
        }
    }

    fn judged(
        &self,
        (setup, seen): &(&Setup, WatchedSetup),
        verdicts: &[Option<Verdicts<'_>>],
        delta: f64,
        failures: &mut Vec<String>,
    ) -> Vec<Clip> {
        let outcomes = &seen.clips;
        let each = outcomes.iter().zip(verdicts);
        let record = |(outcome, v): (&Outcome, &Option<Verdicts<'_>>)| {
            let mut clip = match v {
                Some(v) => v.record(&setup.rig, delta),
                None => setup::failed(&setup.rig, outcome),
            };
            let in_vain = output::excluded_in_vain(&clip, outcome.excluded.keys());
            clip.warnings.extend(in_vain);
            clip
        };
        let mut clips: Vec<Clip> = each.map(record).collect();
        advise(setup, outcomes, &mut clips, self.events, failures);
        clips
    }

    fn timing(
        &self,
        of: &(&Setup, WatchedSetup),
        verdicts: &mut [Option<Verdicts<'_>>],
        delta: f64,
        failures: &mut Vec<String>,
    ) -> (Timing, Pack) {
        let clips = self.judged(of, verdicts, delta, failures);
        let (setup, seen) = of;
        let summary = summarise(&clips, CONFIDENCE)
            .map_err(|e| failures.push(format!("{}: {e}", setup.name)))
            .ok();
        let file = output::file_of(&setup.name, &self.options.out);
        let kept = clips
            .iter()
            .map(|c| self.kept.stills(&c.sha256, &setup.rig));
        // An earlier run may have cut its pictures by another rig.
        let mut earlier: Vec<_> = kept.flatten().chain(evidence::earlier(&file)).collect();
        let (pack, lacking) = evidence::pack(&setup.name, &clips, verdicts, &mut earlier);
        if lacking > 0 {
            self.events.note(&evidence::lacking(&setup.name, lacking));
        }
        let all = seen.clips.iter().chain(seen.hand.iter().map(|h| &h.1));
        let timing = Timing {
            format: FORMAT.to_owned(),
            version: VERSION,
            setup: crate::store::schema::Setup {
                name: setup.name.clone(),
                tags: setup.tags.clone(),
            },
            rig: setup.rig.to_json(),
            measure: setup::measure_record(&setup.rig),
            made_by: made_by(all),
            clips,
            by_hand: again::hand_clips(setup, &seen.hand),
            summary,
        };
        (timing, pack)
    }
}

/// Holds the clips of all setups against what they are judged by, and hands each
/// setup on with its clips' verdicts and the δ of all.
fn with_verdicts<T>(
    watched: &[(&Setup, WatchedSetup)],
    failures: &mut Vec<String>,
    mut each: impl FnMut(
        &(&Setup, WatchedSetup),
        &mut [Option<Verdicts<'_>>],
        f64,
        &mut Vec<String>,
    ) -> T,
) -> Vec<T> {
    let hands: Vec<ByHand> = watched
        .iter()
        .map(|(setup, seen)| by_hand(setup, &seen.hand, failures))
        .collect();
    let yardsticks: Vec<Vec<Yardsticks>> = watched
        .par_iter()
        .zip(&hands)
        .map(|((setup, seen), hand)| yardsticks(&seen.clips, hand, rules(&setup.rig).hit))
        .collect();
    let mut verdicts: Vec<Vec<Option<Verdicts<'_>>>> = watched
        .par_iter()
        .zip(&yardsticks)
        .map(|((setup, seen), y)| {
            let clips = seen.clips.par_iter().zip(y);
            clips.map(|(o, y)| Verdicts::of(&setup.rig, o, y)).collect()
        })
        .collect();
    let delta = delta(verdicts.iter().flatten().flatten());
    watched
        .iter()
        .zip(&mut verdicts)
        .map(|(of, v)| each(of, v, delta, failures))
        .collect()
}

/// The programs behind a timing file: signals may have been decoded earlier.
fn made_by<'a>(outcomes: impl Iterator<Item = &'a Outcome>) -> BTreeMap<String, String> {
    let mut out = kept::made_by();
    let mut decoders: Vec<&str> = outcomes.filter_map(|o| o.ffmpeg.as_deref()).collect();
    decoders.sort_unstable();
    decoders.dedup();
    if !decoders.is_empty() {
        out.insert("ffmpeg".to_owned(), decoders.join(", "));
    }
    out
}

/// Warnings that only the whole setup tells.
fn advise(
    setup: &Setup,
    outcomes: &[Outcome],
    clips: &mut [Clip],
    events: &dyn Events,
    failures: &mut Vec<String>,
) {
    let watched = clips.iter().zip(outcomes).filter_map(|(c, o)| {
        let bounds = &o.watched.as_ref().ok()?.bounds;
        Some(c.trials.iter().zip(bounds.iter().map(Bounds::room_s)))
    });
    let ender = match setup.rig.stimulus {
        Stimulus::Swing { .. } => "the next swing",
        Stimulus::Light { .. } => "the light going out or the next press",
        Stimulus::Tone => "the next tone",
    };
    let advice = output::longest_window(watched.flatten(), setup.rig.trial.hold.0, ender);
    if let Some(text) = advice {
        for clip in clips.iter_mut().filter(|c| c.error.is_none()).take(1) {
            clip.warnings.push(text.clone());
        }
    }
    if let Some(text) = lag::of_rig(&setup.rig) {
        for clip in clips.iter_mut().filter(|c| !c.trials.is_empty()).take(1) {
            clip.warnings.push(text.to_owned());
        }
    }
    for clip in clips.iter_mut() {
        if clip.error.is_none() && clip.trials.is_empty() {
            failures.push(format!("{}: {}: no trial found", setup.name, clip.path));
        }
        for w in &clip.warnings {
            events.warning(&format!("{}: {}: {w}", setup.name, clip.path));
        }
    }
}

fn save(timing: &Timing, options: &JobOptions) -> Result<PathBuf, StoreError> {
    let path = output::file_of(&timing.setup.name, &options.out);
    write_timing(&path, timing)?;
    Ok(path)
}

/// That a setup has trials, and none of them tells anything. What a person took
/// out is no such trial.
fn unjudged(timing: &Timing) -> Option<String> {
    let trials = timing.clips.iter().flat_map(|c| &c.trials);
    let own = trials.filter(|t| t.reason.as_deref() != Some("excluded"));
    let (mut all, mut void) = (0, 0);
    for trial in own {
        all += 1;
        void += usize::from(trial.verdict == Verdict::Void);
    }
    (all > 0 && void == all).then(|| {
        format!(
            "{}: none of its {all} trials could be judged; the result says why of each, and the \
             warnings what to do",
            timing.setup.name
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing, void};

    #[test]
    fn a_setup_without_a_judged_trial_has_failed() {
        let none = timing(
            "kit-amber",
            vec![clip("a", vec![void(0, None), void(1, None)])],
        );
        let said = unjudged(&none).expect("a failure");
        assert!(
            said.starts_with("kit-amber: none of its 2 trials"),
            "{said}"
        );
        let mut some = swings(&[Some(200.0)]);
        some.push(void(1, None));
        assert_eq!(unjudged(&timing("kit-amber", vec![clip("a", some)])), None);
        let mut left = none;
        for trial in &mut left.clips[0].trials {
            trial.reason = Some("excluded".to_owned());
        }
        assert_eq!(unjudged(&left), None);
    }
}
