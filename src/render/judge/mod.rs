//! What an ideal observer of the screen must say of every trial: the clip's
//! truth, from the plan and the schedule, never from pixels.
//!
//! The observer sees the blur of every update without noise and applies the
//! definitions of a trial: hit limit, δ, hold, stay.

pub(super) mod stay;

use super::optics::{Blur, stack_position};
use super::plan::{Event, Plan, covered};
use super::scene::{Scene, Side, Stimulus};
use super::schedule::{self, Update, shown};
use super::truth::{
    BlurTruth, PositionTruth, TrialTruth, UpdateTruth, Verdict, WorldTruth, WouldBe,
};
use stay::{Band, Shown};

/// What is needed to judge.
pub(crate) struct Observer<'a> {
    pub scene: &'a Scene,
    pub plan: &'a Plan,
    pub updates: &'a [Update],
    /// Height of the screen on the film, px.
    pub screen_px: f64,
    /// Last stamp of the film, s.
    pub end_s: f64,
}

/// The pair of `settle_s`: δ times and ÷ this (stated with the truth's shape).
pub(super) const PAIR: f64 = 1.5;

/// Of a focal stack the second end is the photograph it ends with, within this
/// many of its own units: near focus, neighbouring photographs of a real
/// subject differ in sharpness by more than their blur would tell.
const NEAR_POSITION: f64 = 0.5;

/// A smaller change of blur is none, ‰: what the lens's own law calls still.
const VISIBLE_PERMILLE: f64 = 0.5;

/// A change within this span before onset is a lens on the move, s.
const MOVING_S: f64 = 0.05;

/// Holds that a stay lasts that does not reach to the end.
pub(super) const HOLDS: f64 = 3.0;

/// A trial's instants, s, on the clip's time line.
#[derive(Clone, Copy)]
struct Span {
    /// From here on what is shown belongs to the trial.
    begin: f64,
    onset: f64,
    window_end: f64,
    /// End of the hold after it, or where the trial stops being observable.
    until: f64,
    cut: bool,
}

/// What a course of blur comes to.
struct Found {
    verdict: Verdict,
    reason: Option<&'static str>,
    settle_s: Option<[f64; 2]>,
    crossing_s: Option<f64>,
    end: f64,
}

impl Observer<'_> {
    /// Every trial of the clip.
    pub(crate) fn judge(&self) -> Vec<TrialTruth> {
        let blurred = [Side::Near, Side::Far].map(|side| self.ever_blurred(side));
        let events = &self.plan.events;
        events.iter().map(|e| self.trial(e, blurred)).collect()
    }

    /// Every update that the film shows.
    pub(crate) fn updates(&self) -> Vec<UpdateTruth> {
        let seen = self.updates.iter();
        seen.filter(|u| (0.0..=self.end_s).contains(&u.shown_s))
            .map(|u| {
                let swing = self.scene.stimulus == Stimulus::Swing;
                let side = self.subject(u.taken_s);
                UpdateTruth {
                    shown_s: u.shown_s,
                    permille: side.map(|s| self.blur(s, u.taken_s)),
                    side: side.filter(|_| swing),
                }
            })
            .collect()
    }

    fn trial(&self, event: &Event, blurred: [bool; 2]) -> TrialTruth {
        let light = self.scene.stimulus != Stimulus::Swing;
        let span = self.span(event);
        let course = self.course(event.side, span.onset, span.until);
        let hit = self.scene.hit_permille;
        let never_out = course.iter().all(|s| s.permille <= hit);
        let mut found = self.find(event, span, &course);
        let early = never_out && !light;
        if early {
            found.verdict = Verdict::Hit;
            found.reason = None;
            let settled = found.settle_s.unwrap_or([span.onset; 2]);
            found.settle_s = Some(settled.map(|t| t.min(span.onset)));
            found.crossing_s = found.settle_s.map(|p| p[1]);
        }
        let mut truth = self.record(event, span, &found);
        truth.early = (!light).then_some(early);
        if span.cut {
            truth.void("cut");
        } else if never_out && (light || !self.came_from_focus(event, blurred)) {
            truth.void("not displaced");
        }
        truth
    }

    fn record(&self, event: &Event, span: Span, found: &Found) -> TrialTruth {
        let light = self.scene.stimulus != Stimulus::Swing;
        let (verdict, settle_s) = (found.verdict, found.settle_s);
        TrialTruth {
            side: (!light).then_some(event.side),
            verdict,
            reason: found.reason,
            move_s: event.move_s.map(|t| self.on_screen(t)),
            onset_s: span.onset,
            reaction_s: self.reaction(event, span),
            settle_s,
            crossing_s: found.crossing_s,
            window_end_s: span.window_end,
            blur_permille: BlurTruth {
                onset: self.blur_shown(event.side, span.onset),
                end: (!span.cut).then_some(found.end),
            },
            position: self.position(event, span.onset, settle_s.is_some()),
            early: None,
            direct_onset_s: (light || self.scene.film.direct_view.is_some())
                .then_some(event.onset_s),
            would_be: WouldBe { verdict, settle_s },
            world: self.world(event, span, found),
            cues: Vec::new(),
        }
    }

    fn span(&self, event: &Event) -> Span {
        let light = self.scene.stimulus != Stimulus::Swing;
        let mut onset = event.onset_s;
        if !light {
            onset = self.on_screen(onset);
        }
        let starts = event.drive.start_s.into_iter().chain(event.move_s);
        let window_end = onset + self.scene.window_ms / 1000.0;
        let needed = window_end + schedule::hold_s(self.scene);
        let limit = self.limit(event);
        Span {
            begin: starts.fold(event.onset_s, f64::min),
            onset,
            window_end,
            until: needed.min(limit),
            cut: limit < needed,
        }
    }

    /// Applies the definitions to the blur from the shown onset on.
    fn find(&self, event: &Event, span: Span, course: &[Shown]) -> Found {
        let hold = schedule::hold_s(self.scene);
        // What is cut would be judged by the last hold that was seen.
        let tail_from = span.window_end.min(span.until - hold);
        let tail = course.partition_point(|s| s.at_s < tail_from - 1e-9);
        let end = stay::median(&course[tail..]).unwrap_or(0.0);
        let delta = self.scene.settle_permille;
        let hit = self.scene.hit_permille;
        let lost = |reason| Found {
            verdict: Verdict::Lost,
            reason: Some(reason),
            settle_s: None,
            crossing_s: None,
            end,
        };
        let blurs = || course.iter().map(|s| s.permille);
        let moved = blurs().fold(f64::MIN, f64::max) - blurs().fold(f64::MAX, f64::min);
        if end > hit && moved <= VISIBLE_PERMILLE {
            return lost("never moved");
        }
        let band = |half| Band { center: end, half };
        let last = stay::last_stay(course, band(delta));
        if last.is_none_or(|i| course[i].at_s > span.window_end) {
            return lost(if stay::held_once(course, delta, HOLDS * hold, hit) {
                "did not stay"
            } else {
                "hunted on"
            });
        }
        let [first, last] = self.pair();
        let settle = |half| self.settled(event.side, span, course, band(half));
        Found {
            verdict: if end <= hit {
                Verdict::Hit
            } else {
                Verdict::Soft
            },
            reason: None,
            // What is never as near as the pair's second end is at the end.
            settle_s: settle(first).map(|a| [a, settle(last).unwrap_or(span.until)]),
            crossing_s: settle(delta),
            end,
        }
    }

    /// First update of the first stay; one that was there at onset is followed
    /// back to where it began.
    fn settled(&self, side: Side, span: Span, course: &[Shown], band: Band) -> Option<f64> {
        let hold = schedule::hold_s(self.scene);
        let i = stay::first_stay(course, band, HOLDS * hold)?;
        if i > 0 {
            return Some(course[i].at_s);
        }
        let whole = self.course(side, span.begin.min(span.onset), span.onset);
        let before = whole.iter().rev();
        let held = before.take_while(|s| (s.permille - band.center).abs() <= band.half);
        Some(held.last().map_or(course[0].at_s, |s| s.at_s))
    }

    /// Blur of the updates on the screen from `from` to `to`, s.
    fn course(&self, side: Side, from: f64, to: f64) -> Vec<Shown> {
        let seen = self.updates[schedule::on_screen(self.updates, from)..].iter();
        seen.take_while(|u| u.shown_s < to - 1e-9)
            .map(|u| Shown {
                at_s: u.shown_s,
                permille: self.blur(side, u.taken_s),
            })
            .collect()
    }

    /// Whether the other side was in focus in the last hold before the move,
    /// and this side out of focus at some time: a sharp onset then says that
    /// the lens was quick.
    fn came_from_focus(&self, event: &Event, blurred: [bool; 2]) -> bool {
        let Some(move_s) = event.move_s.map(|t| self.on_screen(t)) else {
            return false;
        };
        let from = move_s - schedule::hold_s(self.scene);
        let other = self.course(event.side.other(), from, move_s);
        let seen = other.len() > 1 && from >= 0.0;
        let sharp = stay::median(&other).is_some_and(|b| b <= self.scene.hit_permille);
        seen && sharp && blurred[usize::from(event.side == Side::Far)]
    }

    /// Whether a side was above the hit limit at some time while it was seen.
    fn ever_blurred(&self, side: Side) -> bool {
        let seen = self.updates.iter();
        seen.filter(|u| (0.0..=self.end_s).contains(&u.shown_s))
            .filter(|u| self.subject(u.taken_s) == Some(side))
            .any(|u| self.blur(side, u.taken_s) > self.scene.hit_permille)
    }

    /// What fills the autofocus area; none while the target is under way.
    fn subject(&self, t: f64) -> Option<Side> {
        if self.scene.stimulus != Stimulus::Swing {
            return Some(Side::Near);
        }
        covered(self.scene, self.plan.place(t))
    }

    /// Where the lens stands, in the units of a stack.
    fn position(&self, event: &Event, onset_s: f64, settled: bool) -> Option<PositionTruth> {
        let stack = Some(&self.scene.stack).filter(|s| s.on())?;
        let taken = self.updates[schedule::on_screen(self.updates, onset_s)].taken_s;
        Some(PositionTruth {
            onset: stack_position(stack, self.plan.lens.at(taken)),
            settled: settled.then(|| stack_position(stack, event.drive.goal)),
            focus: stack.focus,
        })
    }

    /// First update whose blur differs visibly from that at onset; none where
    /// the lens was moving before.
    fn reaction(&self, event: &Event, span: Span) -> Option<f64> {
        let start = event.drive.start_s?;
        let before = self.blur_shown(event.side, span.onset);
        let earlier = self.blur_shown(event.side, span.onset - MOVING_S);
        if start < event.onset_s || (before - earlier).abs() > VISIBLE_PERMILLE {
            return None;
        }
        let course = self.course(event.side, span.onset, span.until);
        let changed = |s: &&Shown| (s.permille - before).abs() > VISIBLE_PERMILLE;
        course.iter().skip(1).find(changed).map(|s| s.at_s)
    }

    /// The two ends of `settle_s`, ‰.
    fn pair(&self) -> [f64; 2] {
        let delta = self.scene.settle_permille;
        let mut last = delta / PAIR;
        if self.scene.stack.on() {
            last = last.min(NEAR_POSITION * self.unit());
        }
        [delta * PAIR, last]
    }

    /// ‰ of the screen's height per unit of the plan's blur: 1, but for a
    /// stack, whose plan counts its own units.
    fn unit(&self) -> f64 {
        if !self.scene.stack.on() {
            return 1.0;
        }
        1000.0 * self.scene.stack.px_per_unit / self.screen_px
    }

    /// Blur of a side in the world, ‰.
    fn blur(&self, side: Side, t: f64) -> f64 {
        self.unit() * self.plan.blur_at(side, t)
    }

    /// When the trial stops being observable: the next stimulus or the end.
    fn limit(&self, event: &Event) -> f64 {
        match event.over_s {
            None => self.end_s,
            Some(t) if self.scene.stimulus != Stimulus::Swing => t,
            Some(t) => self.on_screen(t),
        }
    }

    /// Blur on the screen at `t`, ‰.
    fn blur_shown(&self, side: Side, t: f64) -> f64 {
        let i = schedule::on_screen(self.updates, t);
        self.blur(side, self.updates[i].taken_s)
    }

    /// First update that shows the world at `t`; the clip's end if none does.
    fn on_screen(&self, t: f64) -> f64 {
        shown(self.updates, t).unwrap_or(self.end_s)
    }

    fn world(&self, event: &Event, span: Span, found: &Found) -> WorldTruth {
        let lag = self.scene.live_view.lag_ms / 1000.0;
        let end = event.drive.leaves_s.unwrap_or(span.until - lag);
        let settle = |half: f64| {
            let step = 1e-4;
            let begin = event.drive.start_s?;
            let steps = ((end - begin) / step).max(0.0) as usize;
            let off = |t: &f64| (self.blur(event.side, *t) - found.end).abs() > half;
            let mut back = (0..=steps).rev().map(|k| begin + k as f64 * step);
            let last = back.find(off)?;
            (last + step < end).then_some(last + step)
        };
        let [first, last] = self.pair();
        let pair = settle(first).zip(settle(last)).map(|(a, b)| [a, b]);
        WorldTruth {
            move_s: event.move_s,
            onset_s: event.onset_s,
            lens_start_s: event.drive.start_s,
            leaves_s: event.drive.leaves_s,
            settle_s: pair.filter(|_| found.settle_s.is_some()),
        }
    }
}

/// Largest blur of each side over the lens's whole way, ‰.
pub(crate) fn widest(plan: &Plan) -> [f64; 2] {
    let most = |side: Side| {
        let start = plan.blur.permille(side, Blur::plane(side.other()));
        let blurs = plan.lens.turns().map(|phi| plan.blur.permille(side, phi));
        blurs.fold(start, f64::max)
    };
    [most(Side::Near), most(Side::Far)]
}
