//! What an ideal observer of the screen must say of every trial: the clip's
//! truth, from the plan and the schedule, never from pixels.

use super::optics::{Blur, stack_position};
use super::plan::{Event, Plan};
use super::scene::{Outcome, Scene, Side, Stimulus};
use super::schedule::{Update, shown};
use super::truth::{BlurTruth, PositionTruth, TrialTruth, Verdict, WorldTruth, WouldBe};

/// What is needed to judge.
pub(crate) struct Observer<'a> {
    pub scene: &'a Scene,
    pub plan: &'a Plan,
    pub updates: &'a [Update],
    /// Film pixels per ‰ of the screen's height.
    pub px_per_permille: f64,
    /// Last stamp of the film, s.
    pub end_s: f64,
}

/// "Settled" within this much blur, film px: the two ends of `settle_s`.
const NEAR_PX: [f64; 2] = [1.0, 0.25];

/// Of a focal stack the second end is the photograph it ends with, within this
/// many of its own units: near focus, neighbouring photographs of a real
/// subject differ in sharpness by more than their blur would tell.
const NEAR_POSITION: f64 = 0.5;

/// A change within this span before onset is a lens on the move, s.
const MOVING_S: f64 = 0.05;

impl Observer<'_> {
    /// Every trial of the clip.
    pub(crate) fn judge(&self) -> Vec<TrialTruth> {
        let mut before: Option<Verdict> = None;
        let swing = self.scene.stimulus == Stimulus::Swing;
        let events = &self.plan.events;
        (0..events.len())
            .map(|i| {
                let mut truth = self.trial(i);
                let displaced = !swing || before.is_none_or(|v| v == Verdict::Hit);
                let own = truth.would_be.verdict;
                if truth.verdict != Verdict::Void && !displaced {
                    truth.void("not displaced");
                }
                before = Some(own);
                truth
            })
            .collect()
    }

    fn trial(&self, i: usize) -> TrialTruth {
        let event = &self.plan.events[i];
        let light = self.scene.stimulus != Stimulus::Swing;
        let onset_s = if light {
            event.onset_s
        } else {
            self.on_screen(event.onset_s)
        };
        let begin = event.drive.start_s.unwrap_or(event.onset_s);
        let begin = begin.min(event.move_s.unwrap_or(event.onset_s));
        let window_end = onset_s + self.scene.window_ms / 1000.0;
        let needed = window_end + self.scene.hold_ms / 1000.0;
        let limit = self.limit(event);
        let leaves = event.drive.leaves_s.map(|t| self.on_screen(t));
        let until = needed.min(limit).min(leaves.unwrap_or(f64::MAX));
        let goal = self.plan.blur.permille(event.side, event.drive.goal);
        let endless = event.outcome == Outcome::HuntedOn;
        let ends = self.near_px();
        let settle =
            (!endless).then(|| ends.map(|px| self.settled(event.side, goal, px, (begin, until))));
        let settle = settle.and_then(|[a, b]| Some([a?, b?]));
        let (verdict, reason) = self.verdict(event, settle, goal, window_end, leaves);
        let at_onset = self.blur_shown(event.side, onset_s);
        let ended = matches!(verdict, Verdict::Hit | Verdict::Soft);
        let settle_s = settle.filter(|_| ended);
        let mut truth = TrialTruth {
            side: (!light).then_some(event.side),
            verdict,
            reason,
            move_s: event.move_s.map(|t| self.on_screen(t)),
            onset_s,
            reaction_s: self.reaction(event, onset_s, until),
            settle_s,
            blur_permille: BlurTruth {
                onset: (!self.scene.stack.on()).then_some(at_onset),
                settled: settle_s.map(|_| goal).filter(|_| !self.scene.stack.on()),
            },
            position: self.position(event, onset_s, settle_s.is_some()),
            early: settle_s
                .map_or(Some(false), |s| early(s, onset_s))
                .filter(|_| !light),
            direct_onset_s: (light || self.scene.film.direct_view.is_some())
                .then_some(event.onset_s),
            would_be: WouldBe { verdict, settle_s },
            world: self.world(event, until),
            cues: Vec::new(),
        };
        if limit < needed {
            truth.void("cut");
        } else if light && event.drive.start_s.is_none() && self.sharp(at_onset) {
            truth.void("not displaced");
        }
        truth
    }

    /// Where the lens stands, in the units of a stack.
    fn position(&self, event: &Event, onset_s: f64, settled: bool) -> Option<PositionTruth> {
        let stack = Some(&self.scene.stack).filter(|s| s.on())?;
        let i = self
            .updates
            .partition_point(|u| u.shown_s <= onset_s + 1e-9);
        let taken = self.updates[i.saturating_sub(1)].taken_s;
        Some(PositionTruth {
            onset: stack_position(stack, self.plan.lens.at(taken)),
            settled: settled.then(|| stack_position(stack, event.drive.goal)),
            focus: stack.focus,
        })
    }

    fn verdict(
        &self,
        event: &Event,
        settle: Option<[f64; 2]>,
        goal: f64,
        window_end: f64,
        leaves: Option<f64>,
    ) -> (Verdict, Option<&'static str>) {
        let lost = |why| (Verdict::Lost, Some(why));
        let sharp = self.sharp(goal);
        match (event.outcome, settle) {
            (Outcome::HuntedOn, _) | (_, None) => lost("hunted on"),
            (Outcome::NeverMoved, _) if !sharp => lost("never moved"),
            (_, Some([first, _])) if first > window_end => lost("hunted on"),
            _ => {
                let gone = leaves.is_some_and(|t| t <= window_end);
                let back = self.blur_shown(event.side, window_end) - goal;
                if gone && back.abs() * self.px_per_permille > NEAR_PX[0] {
                    lost("did not stay")
                } else if sharp {
                    (Verdict::Hit, None)
                } else {
                    (Verdict::Soft, None)
                }
            }
        }
    }

    /// First update after which the blur stays within `px` of `goal` (‰);
    /// looks at updates that show the world from `range.0` on and are shown
    /// before `range.1`.
    fn settled(&self, side: Side, goal: f64, px: f64, range: (f64, f64)) -> Option<f64> {
        let mut first = None;
        let seen = self
            .updates
            .iter()
            .filter(|u| u.taken_s >= range.0 && u.shown_s < range.1);
        for update in seen {
            let off = (self.plan.blur_at(side, update.taken_s) - goal).abs();
            if off * self.px_per_permille > px {
                first = None;
            } else if first.is_none() {
                first = Some(update.shown_s);
            }
        }
        first
    }

    /// First update whose blur differs visibly from that at onset; none where
    /// the lens was moving before.
    fn reaction(&self, event: &Event, onset_s: f64, until: f64) -> Option<f64> {
        let start = event.drive.start_s?;
        let before = self.blur_shown(event.side, onset_s);
        let earlier = self.blur_shown(event.side, onset_s - MOVING_S);
        let moving = (before - earlier).abs() * self.px_per_permille > NEAR_PX[1];
        if start < event.onset_s || moving {
            return None;
        }
        self.updates
            .iter()
            .filter(|u| u.shown_s > onset_s && u.shown_s < until)
            .find(|u| {
                let change = (self.plan.blur_at(event.side, u.taken_s) - before).abs();
                change * self.px_per_permille > NEAR_PX[1]
            })
            .map(|u| u.shown_s)
    }

    /// The two ends of `settle_s`, film px.
    fn near_px(&self) -> [f64; 2] {
        let stack = self.scene.stack.on();
        let position = NEAR_POSITION * self.px_per_permille;
        let last = if stack {
            NEAR_PX[1].min(position)
        } else {
            NEAR_PX[1]
        };
        [NEAR_PX[0], last]
    }

    /// Whether a blur (‰) counts as none.
    fn sharp(&self, permille: f64) -> bool {
        permille * self.px_per_permille <= NEAR_PX[0]
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
        let i = self.updates.partition_point(|u| u.shown_s <= t + 1e-9);
        let taken = self.updates[i.saturating_sub(1)].taken_s;
        self.plan.blur_at(side, taken)
    }

    /// First update that shows the world at `t`; the clip's end if none does.
    fn on_screen(&self, t: f64) -> f64 {
        shown(self.updates, t).unwrap_or(self.end_s)
    }

    fn world(&self, event: &Event, until: f64) -> WorldTruth {
        let lag = self.scene.live_view.lag_ms / 1000.0;
        let end = event.drive.leaves_s.unwrap_or(until - lag);
        let goal = self.plan.blur.permille(event.side, event.drive.goal);
        let settle = |px: f64| {
            let step = 1e-4;
            let begin = event.drive.start_s?;
            let steps = ((end - begin) / step).max(0.0) as usize;
            let last = (0..=steps)
                .rev()
                .map(|k| begin + k as f64 * step)
                .find(|t| {
                    let off = (self.plan.blur_at(event.side, *t) - goal).abs();
                    off * self.px_per_permille > px
                })?;
            (last + step < end).then_some(last + step)
        };
        WorldTruth {
            move_s: event.move_s,
            onset_s: event.onset_s,
            lens_start_s: event.drive.start_s,
            leaves_s: event.drive.leaves_s,
            settle_s: match (settle(self.near_px()[0]), settle(self.near_px()[1])) {
                (Some(a), Some(b)) if event.outcome != Outcome::HuntedOn => Some([a, b]),
                _ => None,
            },
        }
    }
}

/// Already sharp at onset; unknown where the two ends disagree.
fn early([first, last]: [f64; 2], onset_s: f64) -> Option<bool> {
    match (first <= onset_s, last <= onset_s) {
        (true, true) => Some(true),
        (false, false) => Some(false),
        _ => None,
    }
}

/// Film pixels of a blur of 1 ‰, or of one unit of a stack's positions.
pub(crate) fn px_per_permille(scene: &Scene, screen_height_px: f64) -> f64 {
    if scene.stack.on() {
        scene.stack.px_per_unit
    } else {
        screen_height_px / 1000.0
    }
}

/// Largest blur of each side over the lens's whole way, ‰.
pub(crate) fn widest(plan: &Plan) -> [f64; 2] {
    let most = |side: Side| {
        let blurs = plan.lens.turns().map(|phi| plan.blur.permille(side, phi));
        blurs.fold(
            plan.blur.permille(side, Blur::plane(side.other())),
            f64::max,
        )
    };
    [most(Side::Near), most(Side::Far)]
}
