//! What the filming camera's own movement and refocusing do to a clip: frames
//! without a screen are left out, trials they touch are void, and the person
//! is told.

use serde::{Deserialize, Serialize};

use super::gauge::Film;
use super::setup::tidy;
use crate::limits;
use crate::screen::steady::{Review, Sight, Untracked, review};
use crate::store::schema;
use crate::trial::Curve;

/// How a clip was held.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Footing {
    untracked: Option<Untracked>,
    review: Review,
    /// Per frame, where the screen is followed; kept as a row of its own.
    #[serde(skip)]
    lost: Vec<bool>,
    /// Spans of lost frames, and of frames out of focus, seconds as shot.
    lost_s: Vec<[f64; 2]>,
    soft_s: Vec<[f64; 2]>,
}

/// What the filming camera did during one trial.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Touched {
    /// The screen was lost for longer than a trial survives.
    pub lost: bool,
    /// The filming camera was out of its best focus.
    pub refocused: bool,
    /// Graphics came up or changed in the focus area.
    pub drawn_over: bool,
}

impl Touched {
    /// Whether its film says nothing of the blur.
    pub fn spoilt(self) -> bool {
        self.lost || self.refocused || self.drawn_over
    }
}

/// A screen seen for a shorter time between two losses was not seen, seconds.
const GLIMPSE_S: f64 = 0.05;
/// Movement worth a word, px.
const MOVED_PX: f64 = 3.0;
/// Growth or turning worth a word, px.
const BENT_PX: f64 = 3.0;

impl Footing {
    /// From the places of a clip's frames, shown at `times` (seconds as shot).
    /// Readings that the loss of the screen spoilt lose their comparison with
    /// the frame before.
    pub fn of(untracked: Option<Untracked>, film: &mut Film, times: &[f64]) -> Self {
        let places = &mut film.places;
        let black = places.iter().zip(&film.readings);
        let black: Vec<bool> = black
            .map(|(p, r)| p.sight == Sight::Dark && r.mean < limits::DARK.get())
            .collect();
        // A backlight that goes black between pictures is no loss.
        let long = |r: &(usize, usize)| times[r.1 - 1] - times[r.0] > limits::LONGEST_HOLE_S.get();
        for (from, to) in runs(&black).filter(long) {
            let row = &mut places[from..to];
            row.iter_mut().for_each(|p| p.sight = Sight::Lost);
        }
        let review = review(places, times);
        let mut lost: Vec<bool> = places.iter().map(|p| p.sight == Sight::Lost).collect();
        bridge(&mut lost, times);
        for (k, reading) in film.readings.iter_mut().enumerate() {
            let gone = |i: Option<usize>| i.and_then(|i| lost.get(i)).copied().unwrap_or(false);
            if gone(Some(k)) || gone(k.checked_sub(1)) {
                reading.change = None;
            }
        }
        let ends = |first: usize, end: usize| [times[first], times[end - 1]];
        Self {
            untracked,
            lost_s: runs(&lost).map(|(a, b)| ends(a, b)).collect(),
            soft_s: review
                .refocused
                .iter()
                .map(|r| ends(r.first, r.end))
                .collect(),
            lost,
            review,
        }
    }

    /// Whether the screen was lost, frame by frame; empty where it is not
    /// followed.
    pub fn lost(&self) -> &[bool] {
        &self.lost
    }

    /// Puts back what [`Self::lost`] gave.
    pub fn set_lost(&mut self, lost: Vec<bool>) {
        self.lost = lost;
    }

    /// Leaves out updates whose frames do not show the screen.
    pub fn thin(&self, curve: &mut Curve) {
        if self.lost_s.is_empty() {
            return;
        }
        curve.samples.retain(|s| self.is_there(s.first, s.end));
    }

    /// Whether the screen was there in all of these frames.
    pub fn is_there(&self, first: usize, end: usize) -> bool {
        self.lost_s.is_empty() || !self.lost[first..end].iter().any(|l| *l)
    }

    /// Times and values of the frames that show the screen.
    pub fn seen<T: Copy>(&self, times: &[f64], values: &[T]) -> (Vec<f64>, Vec<T>) {
        let there = |k: &usize| !self.lost.get(*k).copied().unwrap_or(false);
        (0..times.len().min(values.len()))
            .filter(there)
            .map(|k| (times[k], values[k]))
            .unzip()
    }

    /// What losses and changes of focus do to trials, whose `spans` are from
    /// before the move to the end of the hold, seconds as shot; and what there
    /// is to say of it.
    pub fn touched(&self, spans: &[[f64; 2]], frame_s: f64) -> (Vec<Touched>, Vec<String>) {
        let away = |s: &[f64; 2]| s[1] - s[0] + frame_s > limits::LONGEST_HOLE_S.get();
        let touched: Vec<Touched> = spans
            .iter()
            .map(|[from, to]| {
                let touches = |s: &&[f64; 2]| s[0] <= *to && s[1] >= *from;
                Touched {
                    lost: self.lost_s.iter().filter(touches).any(away),
                    refocused: self.soft_s.iter().any(|s| touches(&s)),
                    drawn_over: false,
                }
            })
            .collect();
        let those = |f: fn(&Touched) -> bool| -> Vec<usize> {
            (0..touched.len()).filter(|k| f(&touched[*k])).collect()
        };
        let mut said = self.of_following();
        said.extend(self.of_loss(&those(|t| t.lost)));
        said.extend(self.of_focus(&those(|t| t.refocused)));
        (touched, said)
    }

    fn of_following(&self) -> Vec<String> {
        let r = &self.review;
        let mut said = Vec::new();
        match self.untracked {
            Some(Untracked::Feed) | None => {}
            Some(why) => said.push(format!(
                "the screen was not followed, because {}: the focus area stays where the rig put \
                 it, and whether the filming camera moved or refocused is not known",
                why.words()
            )),
        }
        if r.max_px > MOVED_PX {
            said.push(format!(
                "the filming camera moved by up to {:.1} px ({:.1} px rms); the screen was \
                 followed. Above {MOVED_PX} px, look to the tripods and touch neither camera",
                r.max_px, r.rms_px
            ));
        }
        if r.bent_px > BENT_PX {
            said.push(format!(
                "the screen grew, shrank or turned by {:.1} px in the film, which is not made up \
                 for; above {BENT_PX} px the focus area is not quite the same throughout",
                r.bent_px
            ));
        }
        said
    }

    fn of_loss(&self, trials: &[usize]) -> Option<String> {
        let longest = self.lost_s.iter().map(|s| s[1] - s[0]).fold(0.0, f64::max);
        let first = self.lost_s.first()?[0];
        let frames = self.lost.iter().filter(|l| **l).count();
        let hole = limits::LONGEST_HOLE_S.get();
        Some(format!(
            "the screen was lost in {frames} frames, first at {first:.2} s, at most for \
             {longest:.2} s; losses above {hole} s void the trials they touch as cut \
             ({})",
            list(trials)
        ))
    }

    fn of_focus(&self, trials: &[usize]) -> Option<String> {
        let first = self.soft_s.first()?;
        let blur = self.review.refocused.iter().map(|r| r.blur_px);
        let blur = blur.fold(0.0, f64::max);
        Some(format!(
            "the filming camera itself went out of focus (the screen's edges blurred by up to \
             {blur:.1} px), {} times, first from {:.2} to {:.2} s; the trials it touches are void \
             ({}): lock focus on the filming camera",
            self.soft_s.len(),
            first[0],
            first[1],
            list(trials)
        ))
    }

    /// As the timing file has it.
    pub fn record(&self) -> schema::Steadiness {
        let tracked = self.untracked.is_none();
        let known = |v: f64| tracked.then(|| tidy((v * 100.0).round() / 100.0));
        schema::Steadiness {
            tracked,
            moved_max_px: known(self.review.max_px),
            moved_rms_px: known(self.review.rms_px),
            lost_frames: self.lost.iter().filter(|l| **l).count() as u64,
            refocused_s: self.soft_s.iter().map(|s| s.map(tidy)).collect(),
        }
    }
}

/// Fills in short glimpses between losses.
fn bridge(lost: &mut [bool], times: &[f64]) {
    let gaps: Vec<(usize, usize)> = runs(lost).collect();
    for pair in gaps.windows(2) {
        let (from, to) = (pair[0].1, pair[1].0);
        if times[to] - times[from] < GLIMPSE_S {
            lost[from..to].fill(true);
        }
    }
}

/// First and one past the last of each row of `true`.
fn runs(flags: &[bool]) -> impl Iterator<Item = (usize, usize)> + '_ {
    let mut at = 0;
    std::iter::from_fn(move || {
        let first = at + flags[at..].iter().position(|f| *f)?;
        let n = flags[first..].iter().take_while(|f| **f).count();
        at = first + n;
        Some((first, at))
    })
}

/// Trials by number, in words.
pub fn list(trials: &[usize]) -> String {
    if trials.is_empty() {
        return "none".to_owned();
    }
    let names: Vec<String> = trials.iter().map(ToString::to_string).collect();
    let word = if names.len() == 1 { "trial" } else { "trials" };
    format!("{word} {}", names.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_glimpse_between_losses_is_part_of_them() {
        let times: Vec<f64> = (0..60).map(|k| f64::from(k) / 120.0).collect();
        let mut lost = vec![false; 60];
        lost[10..20].fill(true);
        lost[22..30].fill(true);
        lost[50..55].fill(true);
        bridge(&mut lost, &times);
        assert_eq!(runs(&lost).collect::<Vec<_>>(), [(10, 30), (50, 55)]);
        assert_eq!(runs(&[true, true]).collect::<Vec<_>>(), [(0, 2)]);
        assert_eq!(runs(&[]).count(), 0);
    }

    #[test]
    fn trials_are_named_in_plain_words() {
        assert_eq!(list(&[]), "none");
        assert_eq!(list(&[3]), "trial 3");
        assert_eq!(list(&[0, 4]), "trials 0, 4");
    }
}
