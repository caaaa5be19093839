//! Everything a clip needs, made once from its scene.

use std::path::Path;

use super::RenderError;
use super::film::{self, Clock, Frame, FrameMaker, Shake, Warp, World};
use super::judge::{self, Observer};
use super::layer::{Stage, State};
use super::marks::{Mark, Timeline};
use super::optics::{Breath, stack_position};
use super::pipeline::{self, Look, Reel};
use super::plan::Plan;
use super::scene::{At, Scene, Side, Stimulus};
use super::schedule::{self, Update};
use super::sound;
use super::source::Source;
use super::stack::Album;
use super::truth::{ScreenTruth, TrialTruth, Truth};
use crate::geometry::{Quad, UprightPx};
use crate::written::{Fault, Faults};

/// Room after the last frame for updates that its exposure may still see, s.
const AFTER_S: f64 = 0.1;

/// What happens in a clip and when, without a picture.
pub(crate) struct Course<'a> {
    scene: &'a Scene,
    plan: Plan,
    clock: Clock,
    updates: Vec<Update>,
    quad: Quad<UprightPx>,
    trials: Vec<TrialTruth>,
}

impl<'a> Course<'a> {
    pub(crate) fn new(scene: &'a Scene) -> Result<Self, RenderError> {
        scene.check()?;
        let plan = Plan::new(scene);
        let mut course = Self {
            scene,
            clock: Clock::new(scene, plan.duration_s),
            updates: schedule::updates(scene, plan.duration_s + AFTER_S),
            quad: film::seen_corners(scene),
            plan,
            trials: Vec::new(),
        };
        course.trials = course.observer().judge();
        let timeline = course.timeline();
        let cues: Vec<_> = (0..course.trials.len()).map(|i| timeline.cues(i)).collect();
        let heard = sound::cues(scene, &course.trials);
        for ((trial, cues), heard) in course.trials.iter_mut().zip(cues).zip(heard) {
            trial.cues = cues;
            trial.cues.extend(heard);
        }
        Ok(course)
    }

    fn end_s(&self) -> f64 {
        self.clock.frames.last().map_or(0.0, |f| f.1)
    }

    fn observer(&self) -> Observer<'_> {
        Observer {
            scene: self.scene,
            plan: &self.plan,
            updates: &self.updates,
            screen_px: self.quad.height(),
            end_s: self.end_s(),
        }
    }

    fn timeline(&self) -> Timeline<'a> {
        Timeline::new(self.scene, &self.trials, self.end_s())
    }

    pub(crate) fn truth(&self) -> Truth {
        let scene = self.scene;
        let corners = self.quad.corners.map(|p| [p.x, p.y]);
        Truth {
            format: "focuslag-truth",
            version: 1,
            capture_fps: self.clock.fps,
            refresh_hz: schedule::refresh_hz(scene),
            live_view_fps: schedule::live_fps(scene),
            live_view_lag_ms: scene.live_view.lag_ms,
            screen: ScreenTruth {
                corners: (!scene.film.feed).then_some(corners),
            },
            af_area: scene.screen.af_area,
            stimulus: match scene.stimulus {
                Stimulus::Swing => "swing",
                Stimulus::Light => "light",
                Stimulus::Tone => "tone",
            },
            at: match scene.at {
                At::Rest => "rest",
                At::Cover => "cover",
            },
            window_ms: scene.window_ms,
            hold_ms: 1000.0 * schedule::hold_s(scene),
            settle_permille: scene.settle_permille,
            hit_permille: scene.hit_permille,
            frames: self.clock.frames.len(),
            seed: scene.seed,
            updates: self.observer().updates(),
            trials: self.trials.clone(),
        }
    }

    /// What a live-view picture shows: the world in the middle of its exposure.
    fn state(&self, update: Update, album: Option<&Album>) -> State {
        if let Some(album) = album {
            let phi = self.plan.lens.at(update.taken_s);
            return State {
                blur: [0.0; 2],
                center: [0.5; 2],
                moved: [0.0; 2],
                shot: Some(album.nearest(stack_position(&self.scene.stack, phi))),
            };
        }
        let half = self.scene.live_view.exposure_ms / 2000.0;
        let t = update.taken_s;
        let (a, b) = (self.plan.place(t - half), self.plan.place(t + half));
        State {
            blur: [Side::Near, Side::Far].map(|side| self.plan.blur_at(side, t)),
            center: [0, 1].map(|i| f64::midpoint(a[i], b[i])),
            moved: [0, 1].map(|i| b[i] - a[i]),
            shot: None,
        }
    }

    /// What the screen shows and when, and what is drawn over it.
    fn looks(&self, album: Option<&Album>) -> (Vec<Update>, Vec<Look>, Vec<Vec<Mark>>) {
        let (timeline, end_s) = (self.timeline(), self.end_s() + AFTER_S);
        let gain = film::LiveGain::new(self.scene, &self.plan);
        let breath = Breath::new(self.scene, &self.plan);
        let shown = timeline.weave(&self.updates, end_s);
        let mut marks: Vec<Vec<Mark>> = Vec::new();
        let mut looks = Vec::with_capacity(shown.len());
        for update in &shown {
            let drawn = timeline.at(update.shown_s);
            if marks.last() != Some(&drawn) {
                marks.push(drawn);
            }
            looks.push(Look {
                state: self.state(*update, album),
                gain: gain.at(update.taken_s),
                breath: breath.at(&self.plan, update.taken_s),
                marks: marks.len() - 1,
            });
        }
        (shown, looks, marks)
    }

    /// Size of the live view's pictures and the largest values they need.
    fn stage(&self, looks: &[Look]) -> Stage {
        let scene = self.scene;
        let even = |v: f64| ((v / 2.0).round() as usize * 2).max(32);
        let size = match scene.live_view.size {
            Some([w, h]) => (w, h),
            None if scene.film.feed => (scene.film.size[0], scene.film.size[1]),
            // As the scene has it: a zoom changes the frame, not the camera.
            None => {
                let quad = film::corners(scene);
                (even(quad.width()), even(quad.height()))
            }
        };
        let (w, h) = (size.0 as f64, size.1 as f64);
        let moved = looks.iter().map(|l| l.state.moved);
        let moved = moved.map(|[x, y]| (x * w).hypot(y * h));
        Stage {
            size,
            blur: judge::widest(&self.plan),
            moved: moved.fold(0.0, f64::max),
        }
    }
}

/// A course with its pictures: ready to shoot.
pub(crate) struct Studio<'a> {
    course: Course<'a>,
    source: Source,
    warp: Warp,
    reel: Reel<'a>,
    /// The course's updates, and refreshes that only change the graphics.
    shown: Vec<Update>,
}

impl<'a> Studio<'a> {
    pub(crate) fn new(scene: &'a Scene, dir: &Path) -> Result<Self, RenderError> {
        let course = Course::new(scene)?;
        let album = scene.stack.on().then(|| Album::find(scene, dir));
        let mut album = album.transpose()?;
        if let Some(album) = &album {
            for phi in course.plan.lens.turns() {
                album.check(scene, stack_position(&scene.stack, phi))?;
            }
        }
        let (shown, looks, marks) = course.looks(album.as_ref());
        let stage = course.stage(&looks);
        let film_size = (scene.film.size[0], scene.film.size[1]);
        let mut warp = Warp::new(&course.quad, film_size, stage.size).ok_or_else(|| {
            let what = "the screen lies outside the frame";
            Faults::from(Fault::of_file(&scene.origin.file, "screen.corners", what))
        })?;
        warp.loose = Shake::new(scene, &course.plan).is_some();
        if let Some(album) = &mut album {
            let shots = looks.iter().filter_map(|l| l.state.shot);
            album.load(scene, stage.size, shots)?;
        }
        Ok(Self {
            source: Source::new(scene, dir, &stage, album)?,
            warp,
            reel: Reel::new(&looks, marks, &scene.overlays),
            shown,
            course,
        })
    }

    pub(crate) fn truth(&self) -> Truth {
        self.course.truth()
    }

    /// The sound track, where there is one.
    pub(crate) fn sound(&self) -> Option<sound::Track> {
        sound::Track::new(self.course.scene, &self.course.trials)
    }

    /// Makes every frame in order: stamp in s as shot, and samples.
    pub(crate) fn shoot<E>(&self, push: impl FnMut(f64, Frame) -> Result<(), E>) -> Result<(), E> {
        let c = &self.course;
        let world = World {
            scene: c.scene,
            plan: &c.plan,
            updates: &self.shown,
            clock: &c.clock,
            warp: &self.warp,
        };
        let maker = FrameMaker::new(world, &c.quad, self.source.card());
        let (reel, source, warp) = (&self.reel, &self.source, &self.warp);
        pipeline::run(reel, source, warp, maker, &c.clock, push)
    }
}
