//! What happens when: the world's side of a clip, from the scene alone.

use rand::RngExt;

use super::kit;
use super::lens::{Drive, LensPath};
use super::motion::{Way, coverage};
use super::optics::Blur;
use super::rng::{self, Use};
use super::scene::{At, Scene, Side, Stimulus, Trial};
use super::schedule;

/// A trial in world time.
#[derive(Clone, Debug)]
pub(crate) struct Event {
    /// The layer that is to be focused.
    pub side: Side,
    /// The target starts (swing only).
    pub move_s: Option<f64>,
    pub onset_s: f64,
    /// The target no longer is where this trial needs it, or the next light
    /// goes on; `None` for the last trial.
    pub over_s: Option<f64>,
    pub drive: Drive,
}

/// The world's side of a clip, s from the first frame's stamp.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub events: Vec<Event>,
    pub ways: Vec<Way>,
    pub lens: LensPath,
    pub blur: Blur,
    /// When the trigger light is on.
    pub lit: Vec<(f64, f64)>,
    pub duration_s: f64,
    home: [f64; 2],
}

impl Plan {
    pub(crate) fn new(scene: &Scene) -> Self {
        match scene.stimulus {
            Stimulus::Swing => swing(scene),
            Stimulus::Light | Stimulus::Tone => light(scene),
        }
    }

    /// Centre of the card, fractions of the screen.
    pub(crate) fn place(&self, t: f64) -> [f64; 2] {
        let after = self.ways.partition_point(|w| w.start_s <= t);
        match after.checked_sub(1) {
            None => self.home,
            Some(i) => self.ways[i].place(t),
        }
    }

    /// Blur of a side, ‰ of the screen's height.
    pub(crate) fn blur_at(&self, side: Side, t: f64) -> f64 {
        self.blur.permille(side, self.lens.at(t))
    }

    /// Whether the trigger light is on.
    pub(crate) fn light_on(&self, t: f64) -> bool {
        self.lit.iter().any(|(on, off)| (*on..*off).contains(&t))
    }
}

/// What is needed after the last onset to judge it, s.
fn tail(scene: &Scene) -> f64 {
    let whole = scene.window_ms + scene.live_view.lag_ms + 120.0;
    let rest = || whole / 1000.0 + schedule::hold_s(scene);
    scene.motion.tail_ms.map_or_else(rest, |ms| ms / 1000.0)
}

fn swing(scene: &Scene) -> Plan {
    let trials = kit::trials(scene);
    let blur = Blur::of(scene);
    let first = trials.first().and_then(|t| t.side).unwrap_or(Side::Near);
    let place = |side| match side {
        Side::Near => scene.near.rest,
        Side::Far => scene.near.away,
    };
    let mut pauses = rng::stream(scene.seed, Use::Pauses);
    let mut clock = scene.motion.lead_ms / 1000.0;
    let mut ways = Vec::with_capacity(trials.len());
    let mut side = first;
    for trial in &trials {
        let way = Way::new(&scene.motion, clock, place(side.other()), place(side));
        let jitter = scene.motion.pause_jitter_ms * (2.0 * pauses.random::<f64>() - 1.0);
        let pause = trial.pause_ms.unwrap_or(scene.motion.pause_ms);
        clock = way.end_s();
        if pause > 0.0 {
            clock += (pause + jitter).max(0.0) / 1000.0;
        }
        ways.push((way, side));
        side = side.other();
    }
    let onsets: Vec<f64> = ways.iter().map(|(w, s)| onset(scene, w, *s)).collect();
    let end = onsets.last().map_or(clock, |o| o + tail(scene));
    let begun = trials.iter().zip(&onsets);
    let starts: Vec<f64> = begun.map(|(t, o)| start(scene, t, *o)).collect();
    let mut lens = LensPath::new(Blur::plane(first.other()));
    let mut events = Vec::with_capacity(trials.len());
    for (i, trial) in trials.iter().enumerate() {
        let until = starts.get(i + 1).copied().unwrap_or(end);
        let (way, side) = &ways[i];
        let what = (*side, trial.outcome);
        let drive = lens.trial(what, &trial.lens(&scene.lens), blur, starts[i], until);
        events.push(Event {
            side: *side,
            move_s: Some(way.start_s),
            onset_s: onsets[i],
            over_s: ways.get(i + 1).map(|(next, _)| over(scene, next, *side)),
            drive,
        });
    }
    Plan {
        events,
        ways: ways.into_iter().map(|(w, _)| w).collect(),
        lens,
        blur,
        lit: Vec::new(),
        duration_s: end,
        home: place(first.other()),
    }
}

fn start(scene: &Scene, trial: &Trial, onset_s: f64) -> f64 {
    onset_s + trial.lens(&scene.lens).delay_ms / 1000.0
}

/// Onset of a swing in world time: the target at rest against its stop, else the
/// area covered or clear. On the far side it is clear wherever the target stops.
fn onset(scene: &Scene, way: &Way, side: Side) -> f64 {
    match (scene.at, side) {
        (At::Rest, Side::Near) => way.rest_s(),
        _ => way.last_not(|t| covers(scene, way, side, t)),
    }
}

/// When the next way ends the trial on `side`: as it begins, or as the card
/// uncovers (covers) the area again.
fn over(scene: &Scene, next: &Way, side: Side) -> f64 {
    match scene.at {
        At::Rest => next.start_s,
        At::Cover => next.first(|t| !covers(scene, next, side, t)),
    }
}

fn covers(scene: &Scene, way: &Way, side: Side, t: f64) -> bool {
    covered(scene, way.place(t)) == Some(side)
}

/// What fills the autofocus area with the card's centre at `place`: the card
/// covers 90 % of it or more, or 10 % or less.
pub(crate) fn covered(scene: &Scene, place: [f64; 2]) -> Option<Side> {
    match coverage(place, scene.near.size, scene.screen.af_area) {
        share if share >= 0.9 => Some(Side::Near),
        share if share <= 0.1 => Some(Side::Far),
        _ => None,
    }
}

/// From the light's going off to the lens's being set back, and how long it takes.
const RESET_S: (f64, f64) = (0.1, 0.3);

fn light(scene: &Scene) -> Plan {
    let blur = Blur::of(scene);
    let home = if scene.stack.on() {
        0.0
    } else {
        Blur::plane(Side::Near) - scene.light.start_permille / blur.per_unit(Side::Near)
    };
    let mut lens = LensPath::new(home);
    let mut clock = scene.motion.lead_ms / 1000.0;
    let mut pauses = rng::stream(scene.seed, Use::Pauses);
    let (mut events, mut lit) = (Vec::new(), Vec::new());
    let trials = kit::trials(scene);
    for (i, trial) in trials.iter().enumerate() {
        let off = clock + scene.light.on_ms / 1000.0;
        let what = (Side::Near, trial.outcome);
        let begin = start(scene, trial, clock);
        let own = trial.lens(&scene.lens);
        let drive = lens.trial(what, &own, blur, begin, off + RESET_S.0);
        events.push(Event {
            side: Side::Near,
            move_s: None,
            onset_s: clock,
            over_s: None,
            drive,
        });
        lit.push((clock, off));
        if i + 1 < trials.len() {
            lens.go(off + RESET_S.0, RESET_S.1, home);
        }
        let jitter = scene.motion.pause_jitter_ms * (2.0 * pauses.random::<f64>() - 1.0);
        clock = off + (scene.light.off_ms + jitter).max(500.0) / 1000.0;
    }
    let onsets: Vec<f64> = events.iter().map(|e: &Event| e.onset_s).collect();
    for (event, next) in events.iter_mut().zip(onsets.iter().skip(1)) {
        event.over_s = Some(*next);
    }
    let last = onsets.last().copied().unwrap_or(clock);
    Plan {
        events,
        ways: Vec::new(),
        lens,
        blur,
        lit,
        duration_s: last + tail(scene),
        home: scene.near.rest,
    }
}
