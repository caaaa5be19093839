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
    /// Its clip.
    pub clip: &'a Clip,
    /// The trial.
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
    /// Sharpness, in the measure's own unit.
    pub sharpness: f64,
    /// Diameter of the blur disc, ‰ of the screen's height.
    pub blur: Option<f64>,
}

impl<'a> Close<'a> {
    /// A trial without evidence.
    #[must_use]
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
    #[must_use]
    pub fn file(&self) -> &'a str {
        self.clip.path.rsplit('/').next().unwrap_or(&self.clip.path)
    }

    /// Milliseconds after onset of an instant.
    #[must_use]
    pub fn after_onset(&self, s: f64) -> f64 {
        (s - self.trial.onset_s) * 1000.0
    }

    /// Length of the window, ms.
    #[must_use]
    pub fn window_ms(&self) -> f64 {
        self.after_onset(self.trial.end_s)
    }

    /// Its instants in order of time.
    #[must_use]
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
    #[must_use]
    pub fn updates(&self) -> Vec<Update> {
        let Some(curve) = self.kept.and_then(|k| k.curve.as_ref()) else {
            return Vec::new();
        };
        let around = AROUND_MS / 1000.0;
        let moved = self.trial.move_s.map_or(0.0, |m| self.trial.onset_s - m);
        let before = around.max(moved + 0.05).min(MOST_BEFORE_S);
        let blur = self.evidence.and_then(|e| e.blur.as_ref());
        curve
            .between(self.trial.onset_s - before, self.trial.end_s + around)
            .map(|k| Update {
                ms: self.after_onset(curve.shown_s[k]),
                sharpness: curve.sharpness[k],
                blur: blur.and_then(|b| b.permille.get(k.checked_sub(b.first)?).copied()),
            })
            .collect()
    }

    /// Sharpness of the side's best focus, or of this trial's own plateau.
    #[must_use]
    pub fn reference(&self) -> Option<f64> {
        let levels = self.trial.sharpness.as_ref()?;
        levels.reference.or(levels.plateau).filter(|r| *r > 0.0)
    }

    /// Sharpness at an instant as a share of the reference.
    #[must_use]
    pub fn share_at(&self, s: f64) -> Option<f64> {
        let curve = self.kept?.curve.as_ref()?;
        Some(curve.at(s)? / self.reference()?)
    }

    /// `near` or `far`.
    #[must_use]
    pub fn side(&self) -> Option<&'static str> {
        self.trial.side.map(super::super::row::side_name)
    }
}
