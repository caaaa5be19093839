//! The stack as subject: clips of one setup, each framed a little differently.

use std::path::Path;

use focuslag::render::scene::{Outcome, Shot, Stack, Stimulus, Trial};
use focuslag::render::{Scene, Truth};
use rand::seq::SliceRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::discs::Optics;
use crate::held::framing::{self, Corners};
use crate::ways::{Stop, Way, drive_left, way};

/// A clip to be filmed, and what its lens does.
pub struct Clip {
    pub name: String,
    pub scene: Scene,
    pub ways: Vec<(Stop, Way)>,
    /// Onsets in the world, s.
    pub onsets: Vec<f64>,
}

/// Judged with.
pub const WINDOW_MS: f64 = 1100.0;
pub const HOLD_MS: f64 = 200.0;
/// Trials of a clip.
const TRIALS: usize = 12;
/// Clips of a setup.
pub const CLIPS: usize = 8;
/// Length of a clip that rests in focus, s.
const RESTS_S: f64 = 1.5;
/// Where the lens starts, from focus, in the stack's units.
const START: [f64; 2] = [26.0, 42.0];

/// Clips whose screen is `high` px high, then as many that rest in focus in
/// the same framings, and one that rests in another.
pub fn clips(optics: &Optics, high: f64, seed: u64, change: fn(&mut Scene)) -> Vec<Clip> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let framings: Vec<_> = (0..=CLIPS).map(|k| framing(k, high, &mut rng)).collect();
    let mut stops = stops(&mut rng);
    let mut out: Vec<Clip> = (0..CLIPS)
        .map(|k| {
            let trials = stops.split_off(stops.len() - TRIALS);
            let ways = ways(trials, optics, &mut rng);
            let mut scene = base(optics, high, framings[k], &mut rng);
            change(&mut scene);
            film(format!("{}", k + 1), scene, ways, optics)
        })
        .collect();
    for (k, corners) in framings.into_iter().enumerate() {
        let mut scene = base(optics, high, corners, &mut rng);
        change(&mut scene);
        scene.motion.tail_ms = Some(RESTS_S * 1e3 - scene.motion.lead_ms);
        let ways = vec![(Stop::In, Way::rest(optics.best() as f64))];
        out.push(film(format!("rest-{}", k + 1), scene, ways, optics));
    }
    out
}

/// Two thirds in focus, a sixth out, a sixth between, shuffled.
fn stops(rng: &mut impl Rng) -> Vec<Stop> {
    let all = TRIALS * CLIPS;
    let mut out = vec![Stop::In; all];
    out[..all / 6].fill(Stop::Out);
    out[all / 6..all / 3].fill(Stop::Between);
    out.shuffle(rng);
    out
}

fn ways(stops: Vec<Stop>, optics: &Optics, rng: &mut impl Rng) -> Vec<(Stop, Way)> {
    let best = optics.best() as f64;
    stops
        .into_iter()
        .map(|stop| {
            let off = rng.random_range(START[0]..START[1]);
            let start = best + if rng.random() { off } else { -off };
            (stop, way(stop, best, start, optics.units(1.0), rng))
        })
        .collect()
}

/// Corners of a square screen: the first upright in its place.
fn framing(k: usize, high: f64, rng: &mut impl Rng) -> Corners {
    let middle = centre(high);
    match k {
        0 => framing::put(middle, [high; 2], 0.0),
        _ => framing::again(middle, [high; 2], rng),
    }
}

/// Room around the screen, and for the trigger light left of it, px.
const ROOM: f64 = 62.0;
const LIGHT_ROOM: f64 = 70.0;

fn centre(high: f64) -> [f64; 2] {
    [high / 2.0 + ROOM + LIGHT_ROOM, high / 2.0 + ROOM]
}

fn base(optics: &Optics, high: f64, corners: Corners, rng: &mut impl Rng) -> Scene {
    let even = |v: f64| (v / 2.0).round() as usize * 2;
    let mut s = Scene {
        seed: rng.random_range(1..1_000_000),
        look_seed: Some(1),
        stimulus: Stimulus::Light,
        window_ms: WINDOW_MS,
        hold_ms: HOLD_MS,
        ..Scene::default()
    };
    s.stack.px_per_unit = high / 1e3 / optics.units(1.0);
    s.live_view.lag_ms = rng.random_range(40.0..80.0);
    // The photograph as it is, whatever the film's size.
    s.live_view.size = Some([400, 400]);
    s.light.on_ms = WINDOW_MS + HOLD_MS + s.live_view.lag_ms + 60.0;
    s.light.off_ms = 600.0;
    s.motion.lead_ms = 400.0;
    s.motion.pause_jitter_ms = 60.0;
    s.film.size = [
        even(high + 2.0 * ROOM + LIGHT_ROOM),
        even(high + 2.0 * ROOM),
    ];
    s.screen.corners = Some(corners);
    s.light.center = [40.0, 40.0];
    s.light.radius = 14.0;
    s
}

/// The scene's lens is made a clock: from `CLOCK[0]` to `CLOCK[1]` in one drive
/// over the whole clip. The photographs lie along it in the order of the way,
/// so that any way can be played.
const CLOCK: [f64; 2] = [0.0, 1000.0];
/// The drive begins before the film and ends after it, s.
const AROUND_S: f64 = 0.5;
/// Steps of the way, s.
const STEP_S: f64 = 0.001;

fn film(name: String, mut scene: Scene, ways: Vec<(Stop, Way)>, optics: &Optics) -> Clip {
    scene.stack = Stack {
        folder: Some("/".to_owned()),
        focus: CLOCK[1],
        start: CLOCK[0],
        ..scene.stack
    };
    // All but the last would set the lens back after them.
    let still = Trial {
        outcome: Outcome::NeverMoved,
        ..Trial::default()
    };
    scene.trials = vec![still; ways.len()];
    let onsets: Vec<f64> = foresee(&scene)
        .trials
        .iter()
        .map(|t| t.world.onset_s)
        .collect();
    let tail_s = scene.motion.tail_ms.map_or(2.0, |ms| ms / 1e3);
    let last = onsets[onsets.len() - 1];
    let span_s = last + tail_s + 2.0 * AROUND_S;
    scene.trials[ways.len() - 1] = Trial {
        delay_ms: Some(-1e3 * (last + AROUND_S)),
        drive_ms: Some(1e3 * span_s),
        ..Trial::default()
    };
    let mut clip = Clip {
        name,
        scene,
        ways,
        onsets,
    };
    let clock = |t: f64| CLOCK[1] - drive_left((t + AROUND_S) / span_s) * (CLOCK[1] - CLOCK[0]);
    let steps = (span_s / STEP_S) as usize;
    let times = (0..=steps).map(|k| k as f64 / steps as f64 * span_s - AROUND_S);
    let shown: Vec<(f64, i64)> = times.map(|t| (clock(t), clip.shot(t, optics))).collect();
    let keep = |k: &usize| {
        let z = |k: usize| shown.get(k).map(|s| s.1);
        let before = k.checked_sub(1).and_then(z);
        before != z(*k) || z(k + 1) != z(*k)
    };
    let kept = (0..shown.len()).filter(keep).map(|k| shown[k]);
    clip.scene.stack.pictures = kept
        .map(|(position, z)| Shot {
            file: optics.files[&z].display().to_string(),
            position,
        })
        .collect();
    clip
}

/// The truth of the scene's clock: onsets and updates, no verdicts.
pub fn foresee(scene: &Scene) -> Truth {
    focuslag::render::foresee(scene).expect("a truth")
}

/// From the light's going off to the lens's way back, and how long that takes, s.
const BACK_S: [f64; 2] = [0.05, 0.3];

impl Clip {
    /// The photograph that the live view takes at `t`.
    pub fn shot(&self, t: f64, optics: &Optics) -> i64 {
        let z = self.position(t);
        let after = optics.files.range(z.ceil() as i64..).next();
        let before = optics.files.range(..=z.floor() as i64).next_back();
        let near = [before, after].into_iter().flatten().map(|f| *f.0);
        near.min_by(|a, b| (*a as f64 - z).abs().total_cmp(&(*b as f64 - z).abs()))
            .expect("photographs")
    }

    /// Where the lens is at `t`.
    fn position(&self, t: f64) -> f64 {
        let next = self.onsets.partition_point(|o| *o <= t);
        let Some(k) = next.checked_sub(1) else {
            return self.ways[0].1.start;
        };
        let way = &self.ways[k].1;
        let off_s = self.onsets[k] + self.scene.light.on_ms / 1e3 + BACK_S[0];
        match self.ways.get(next) {
            Some((_, to)) if t > off_s => {
                let left = drive_left((t - off_s) / BACK_S[1]);
                to.start + left * (way.end - to.start)
            }
            _ => way.at(t - self.onsets[k]),
        }
    }

    /// The rig that fits; without corners the screen is to be found.
    pub fn rig(&self, corners: bool) -> String {
        let s = &self.scene;
        let (c, r) = (s.light.center, s.light.radius * 0.7);
        let mut text = String::from("name = \"stack\"\n[screen]\n");
        if let Some(c) = s.screen.corners.filter(|_| corners) {
            text += &format!("corners = {c:?}\n");
        }
        text + &format!(
            "[stimulus]\nkind = \"light\"\nregion = [{}, {}, {}, {}]\n[trial]\nwindow_ms = {WINDOW_MS}\n",
            c[0] - r,
            c[1] - r,
            c[0] + r,
            c[1] + r
        )
    }

    /// Where its film lies.
    pub fn path(&self, folder: &Path) -> std::path::PathBuf {
        folder.join(format!("{}.mp4", self.name))
    }
}
