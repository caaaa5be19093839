//! A trial with all that is known of it.

use crate::store::evidence::{ClipEvidence, TrialEvidence};
use crate::store::schema::{Clip, Timing, Trial};

/// How much of the curve is shown before the onset and after the end, ms.
const AROUND_MS: f64 = 250.0;
/// ... unless the target was on its way for longer; but no more than this, s.
const MOST_BEFORE_S: f64 = 1.0;

/// One trial.
#[derive(Clone, Copy, Debug)]
pub struct Close<'a> {
    /// The timing file it is of.
    pub timing: &'a Timing,
    /// The clip it is in.
    pub clip: &'a Clip,
    /// As the timing file has it.
    pub trial: &'a Trial,
    /// The clip's curve, where it was kept.
    pub kept: Option<&'a ClipEvidence>,
    /// Its pictures and its blur, where they were kept.
    pub evidence: Option<&'a TrialEvidence>,
}

/// An instant of a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// One letter, for a drawing.
    pub letter: char,
    /// In a word.
    pub name: &'static str,
    /// Milliseconds after onset.
    pub ms: f64,
}

/// One update of the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// Milliseconds after onset.
    pub ms: f64,
    /// The raw signal, in the measure's own unit.
    pub sharpness: f64,
    /// Diameter of the blur disc, ‰ of the screen's height; `None` where it
    /// could not be told.
    pub blur: Option<f64>,
}

/// What a trial's blur is held against, ‰ of the screen's height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// δ.
    pub delta: Option<f64>,
    /// Largest end blur of a hit.
    pub hit: Option<f64>,
    /// The least blur that the film tells from none.
    pub film: Option<f64>,
    /// The end blur.
    pub end: Option<f64>,
}

impl Limits {
    /// From the lower to the upper edge of what counts as staying.
    pub fn stay(&self) -> Option<(f64, f64)> {
        let (end, delta) = (self.end?, self.delta?);
        Some(((end - delta).max(0.0), end + delta))
    }
}

impl<'a> Close<'a> {
    /// A trial without evidence.
    pub fn bare(timing: &'a Timing, clip: &'a Clip, trial: &'a Trial) -> Self {
        Self {
            timing,
            clip,
            trial,
            kept: None,
            evidence: None,
        }
    }

    /// The clip's file name.
    pub fn file(&self) -> &'a str {
        self.clip.path.rsplit('/').next().unwrap_or(&self.clip.path)
    }

    /// Milliseconds after onset of an instant.
    pub fn after_onset(&self, s: f64) -> f64 {
        (s - self.trial.onset_s) * 1000.0
    }

    /// Length of the window, ms.
    pub fn window_ms(&self) -> f64 {
        self.after_onset(self.trial.end_s)
    }

    /// Its instants in order of time.
    pub fn marks(&self) -> Vec<Mark> {
        let t = self.trial;
        let all = [
            ('m', "move", t.move_s),
            ('o', "onset", Some(t.onset_s)),
            ('r', "reaction", t.reaction_s),
            ('s', "settle", t.settle_s),
            ('e', "end", Some(t.end_s)),
        ];
        let mut marks: Vec<Mark> = all
            .into_iter()
            .filter_map(|(letter, name, s)| {
                let ms = self.after_onset(s?);
                Some(Mark { letter, name, ms })
            })
            .collect();
        marks.sort_by(|a, b| a.ms.total_cmp(&b.ms));
        marks
    }

    /// The curve around the trial; empty where none was kept.
    pub fn updates(&self) -> Vec<Update> {
        let Some(curve) = self.kept.and_then(|k| k.curve.as_ref()) else {
            return Vec::new();
        };
        let around = AROUND_MS / 1000.0;
        let moved = self.trial.move_s.map_or(0.0, |m| self.trial.onset_s - m);
        let before = around.max(moved + 0.05).min(MOST_BEFORE_S);
        curve
            .between(self.trial.onset_s - before, self.trial.end_s + around)
            .map(|k| Update {
                ms: self.after_onset(curve.shown_s[k]),
                sharpness: curve.sharpness[k],
                blur: self.blur(k),
            })
            .collect()
    }

    /// What its blur is held against.
    pub fn limits(&self) -> Limits {
        let t = self.trial;
        Limits {
            delta: t.delta_permille.or(self.timing.asked("settle_permille")),
            hit: t.hit_limit_permille.or(self.timing.asked("hit_permille")),
            film: self.clip.least_permille,
            end: t.blur_permille.and_then(|b| b.end),
        }
    }

    /// Blur at an instant, ‰.
    pub fn blur_at(&self, s: f64) -> Option<f64> {
        let curve = self.kept?.curve.as_ref()?;
        self.blur(curve.place(s)?)
    }

    /// Blur of an update of the curve, ‰.
    fn blur(&self, k: usize) -> Option<f64> {
        let blur = self.evidence?.blur.as_ref()?;
        blur.permille.get(k.checked_sub(blur.first)?).copied()
    }

    /// The name of the raw signal.
    pub fn signal(&self) -> &'a str {
        let name = self.timing.measure.get("signal").and_then(|s| s.as_str());
        name.unwrap_or("sharpness")
    }

    /// `near` or `far`.
    pub fn side(&self) -> Option<&'static str> {
        self.trial.side.map(super::super::row::side_name)
    }
}
