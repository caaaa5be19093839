//! What graphics that come up or change in the focus area do to trials.
//!
//! A box that turns green over a picture in focus changes little. One that comes
//! up over a blurred picture looks as sharp as the subject. So a trial is void
//! where its blur, taken by the word, jumps with a graphic by more than δ.

use std::collections::BTreeMap;

use super::steady::{Touched, list};
use super::subject::{Energy, Seen, learn};
use crate::sharpness::disc;
use crate::store::schema::Side;
use crate::trial::graphics::Change;
use crate::trial::{Bounds, Curve, apart};

/// What a clip shows, to hold changes of graphics against.
pub struct Shown<'a> {
    /// Changes of graphics, in order.
    pub changes: &'a [Change],
    /// Energies of every update.
    pub energy: &'a Energy,
    /// One sample an update.
    pub curve: &'a Curve,
    /// The trials.
    pub bounds: &'a [Bounds],
    /// Each side, graphics and all.
    pub sides: &'a BTreeMap<Option<Side>, Seen>,
}

/// Graphics that make the blur jump.
pub struct Drawn {
    /// A warning, with what to do.
    pub words: String,
    /// Areas of the screen to leave out: left, top, right, bottom, shares of it.
    pub masks: Vec<[f64; 4]>,
}

/// Marks the trials in whose `spans` (from before the move to the end of the
/// hold, seconds as shot) a graphic makes the blur jump by more than `delta` ‰,
/// and says so.
pub fn touch(
    shown: &Shown<'_>,
    spans: &[[f64; 2]],
    delta: f64,
    touched: &mut [Touched],
) -> Option<Drawn> {
    if shown.changes.is_empty() {
        return None;
    }
    let subject = |s: &Seen| learn(shown.energy, &s.sharp, &s.stretches, s.hold);
    let sides = shown.sides.iter();
    let subjects: BTreeMap<_, _> = sides.map(|(side, s)| (*side, subject(s))).collect();
    let jumps = |side: Option<Side>, change: &Change| {
        let k = shown.curve.at_or_after(change.shown_s);
        let updates = &shown.energy.updates;
        let (Some(before), Some(after)) = (k.checked_sub(1), updates.get(k)) else {
            return false;
        };
        let Some(Some(subject)) = subjects.get(&side) else {
            return false;
        };
        let blur = |e| disc::diameter(subject.square(e));
        apart(blur(&updates[before]), blur(after)) > delta
    };
    let mut drawn: Vec<&Change> = Vec::new();
    for ((b, span), touched) in shown.bounds.iter().zip(spans).zip(touched.iter_mut()) {
        let within = |c: &&Change| (span[0]..=span[1]).contains(&c.shown_s);
        let mut here = shown.changes.iter().filter(within);
        let change = here.find(|c| jumps(b.stimulus.side, c));
        touched.drawn_over = change.is_some();
        drawn.extend(change);
    }
    let first = drawn.first()?;
    // What else moved in the same update only adds to where one is seen.
    let least = drawn.iter().min_by(|a, b| a.size().total_cmp(&b.size()))?;
    let trials = (0..touched.len()).filter(|k| touched[*k].drawn_over);
    let words = format!(
        "graphics that the camera draws into the focus area look like focus, first at {:.2} s; the \
         trials in which they come up or change are void ({}). Leave them out with \
         `screen.masks = {}`, or draw `screen.af_area` clear of them, and time again",
        first.shown_s,
        list(&trials.collect::<Vec<_>>()),
        rectangles(&least.parts)
    );
    Some(Drawn {
        words,
        masks: least.parts.clone(),
    })
}

/// Rectangles as a rig has them.
fn rectangles(parts: &[[f64; 4]]) -> String {
    let one = |p: &[f64; 4]| format!("[{}, {}, {}, {}]", p[0], p[1], p[2], p[3]);
    let all: Vec<String> = parts.iter().map(one).collect();
    format!("[{}]", all.join(", "))
}
