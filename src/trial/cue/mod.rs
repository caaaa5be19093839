//! What the camera under test shows or sounds of its own accord: when each
//! claim was on.
//!
//! In: a signal per frame (share of pixels of a colour, brightness of a part of
//! the screen) with times in seconds as shot, or sound. Out: [`Spell`]s, and
//! per trial what was [`Claim`]ed in its window. A cue is a claim, never the
//! truth: nothing here looks at sharpness, and nothing of it reaches a verdict.
//!
//! Sources: IEEE Std 181-2011 (two state levels, histogram mode method).

mod burst;
mod edge;
mod tone;

pub(crate) use edge::{fullest, spells};
pub use tone::{Tone, tones};

/// A time during which a cue was on.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Spell {
    /// When it came on, seconds as shot; `None`: it was on when the film began.
    pub on_s: Option<f64>,
    /// When it went; `None`: it was on when the film ended.
    pub off_s: Option<f64>,
}

/// What a cue did in one trial.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Claim {
    /// When it first came on within the window.
    pub shown_s: Option<f64>,
    /// It had come on before the onset and was still on.
    pub on_at_onset: bool,
}

/// What `spells` (in order of time) say of a trial from `onset_s` to `end_s`.
pub fn claim(spells: &[Spell], onset_s: f64, end_s: f64) -> Claim {
    let on = |s: &Spell| s.on_s.unwrap_or(f64::MIN);
    let off = |s: &Spell| s.off_s.unwrap_or(f64::MAX);
    let within = |t: &f64| (onset_s..=end_s).contains(t);
    Claim {
        shown_s: spells.iter().filter_map(|s| s.on_s).find(within),
        on_at_onset: spells.iter().any(|s| on(s) < onset_s && off(s) > onset_s),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spell(on_s: Option<f64>, off_s: Option<f64>) -> Spell {
        Spell { on_s, off_s }
    }

    #[test]
    fn a_claim_counts_from_its_edge_and_an_old_one_is_told() {
        let spells = [
            spell(None, Some(0.5)),
            spell(Some(1.2), Some(3.1)),
            spell(Some(3.4), None),
        ];
        let got = |onset, end| claim(&spells, onset, end);
        assert_eq!(got(1.0, 2.5).shown_s, Some(1.2));
        assert!(!got(1.0, 2.5).on_at_onset);
        // Still on from the trial before; then it goes and comes again.
        let again = got(3.0, 4.5);
        assert!(again.on_at_onset && again.shown_s == Some(3.4));
        let stays = got(4.0, 5.5);
        assert!(stays.on_at_onset && stays.shown_s.is_none());
        assert!(got(0.2, 0.4).on_at_onset);
        assert_eq!(got(0.6, 1.1), Claim::default());
    }
}
