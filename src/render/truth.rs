//! The truth beside a clip (`CLIP.truth.json`).
//!
//! Seconds count from the first frame's stamp, as shot. A stamp is the middle
//! of its frame's exposure. A shown update's time is the start of its refresh.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::RenderError;
use super::judge::stay::{Band, Shown, first_stay};
use super::judge::{HOLDS, PAIR};
use super::scene::Side;
use crate::beside::write_whole;

/// How a trial must be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Settled in focus.
    Hit,
    /// Settled on the wrong plane.
    Soft,
    /// Did not settle in the window.
    Lost,
    /// Cannot be judged.
    Void,
}

/// Truth of a clip.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Truth {
    /// Always `focuslag-truth`.
    pub format: &'static str,
    /// Always 1.
    pub version: u32,
    /// Rate of the film as shot, 1/s.
    pub capture_fps: f64,
    /// Refreshes of the screen, 1/s.
    pub refresh_hz: f64,
    /// Live-view pictures, 1/s.
    pub live_view_fps: f64,
    /// From the middle of a live-view exposure to its earliest refresh, ms.
    pub live_view_lag_ms: f64,
    /// Where the screen lies.
    pub screen: ScreenTruth,
    /// Left top right bottom, fractions of the screen.
    pub af_area: [f64; 4],
    /// `swing`, `light` or `tone`.
    pub stimulus: &'static str,
    /// `rest` or `cover`.
    pub at: &'static str,
    /// Window and hold the verdicts are for, ms.
    pub window_ms: f64,
    /// See `window_ms`; at least five updates.
    pub hold_ms: f64,
    /// δ of the verdicts and of `settle_s`, ‰ of the screen's height.
    pub settle_permille: f64,
    /// Largest end blur of a hit, ‰.
    pub hit_permille: f64,
    /// Frames in the file.
    pub frames: usize,
    /// The scene's seed.
    pub seed: u64,
    /// Every new picture on the screen.
    pub updates: Vec<UpdateTruth>,
    /// The trials in order.
    pub trials: Vec<TrialTruth>,
}

/// When a trial settles, at a stated δ, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// First updates of the first stays within 1.5 δ, and within δ ÷ 1.5, of
    /// the end blur.
    pub pair: [f64; 2],
    /// The same within δ itself.
    pub crossing: f64,
}

impl Truth {
    /// When trial `k` settles at `delta` ‰, whatever δ the scene is judged at:
    /// a film may allow none so fine. `None` where it does not.
    pub fn settled(&self, k: usize, delta: f64) -> Option<Settled> {
        let t = self.trials.get(k)?;
        if (delta - self.settle_permille).abs() < 1e-9 {
            let (pair, crossing) = (t.settle_s?, t.crossing_s?);
            return Some(Settled { pair, crossing });
        }
        let hold_s = self.hold_ms / 1e3;
        let center = t.blur_permille.end?;
        let until = t.window_end_s + hold_s;
        let shown = |u: &UpdateTruth| {
            let within = u.shown_s >= t.onset_s - 1e-9 && u.shown_s < until;
            let permille = u.permille.filter(|_| within && u.side == t.side)?;
            let at_s = u.shown_s;
            Some(Shown { at_s, permille })
        };
        let course: Vec<Shown> = self.updates.iter().filter_map(shown).collect();
        let at = |half: f64| {
            let k = first_stay(&course, Band { center, half }, HOLDS * hold_s)?;
            Some(course[k].at_s)
        };
        Some(Settled {
            pair: [at(PAIR * delta)?, at(delta / PAIR)?],
            crossing: at(delta)?,
        })
    }
}

/// A new picture on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UpdateTruth {
    /// Start of the refresh that first shows it, s.
    pub shown_s: f64,
    /// Blur of the subject in the autofocus area, disc diameter in ‰ of the
    /// screen's height; none while the target is under way.
    pub permille: Option<f64>,
    /// Which subject; none under way, and none for light and tone.
    pub side: Option<Side>,
}

/// Where the screen lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScreenTruth {
    /// TL TR BR BL in px of the upright frame; none for a feed.
    pub corners: Option<[[f64; 2]; 4]>,
}

/// Truth of a trial. Instants are on-screen ones, except a light's onset.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialTruth {
    /// None for light.
    pub side: Option<Side>,
    pub verdict: Verdict,
    /// Why, for lost and void.
    pub reason: Option<&'static str>,
    /// The target starts.
    pub move_s: Option<f64>,
    pub onset_s: f64,
    /// First update whose blur differs by more than 0.5 ‰ from that at onset;
    /// none where the lens moved before onset.
    pub reaction_s: Option<f64>,
    /// First updates of the first stays within 1.5 δ, and within δ ÷ 1.5, of
    /// the end blur; at or before onset where `early`.
    pub settle_s: Option<[f64; 2]>,
    /// First update of the first stay within δ itself.
    pub crossing_s: Option<f64>,
    /// End of the window, from the shown onset.
    pub window_end_s: f64,
    /// Disc diameter, ‰ of the screen's height.
    pub blur_permille: BlurTruth,
    /// Of a focal stack: where the lens stands, in the stack's units. Its
    /// blur is what `stack.px_per_unit` says.
    pub position: Option<PositionTruth>,
    /// Within the hit limit at onset, and stays so (swing).
    pub early: Option<bool>,
    /// The stimulus in world time, where the film shows it directly.
    pub direct_onset_s: Option<f64>,
    /// What the lens did, whatever made the trial void.
    pub would_be: WouldBe,
    /// The same instants in the world.
    pub world: WorldTruth,
    /// When the scene's named overlays appear in this trial, and its named
    /// beeps sound.
    pub cues: Vec<CueTruth>,
}

/// A named overlay or beep in a trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CueTruth {
    pub name: String,
    /// Start of the refresh that first shows it, s; of a beep: when it reaches
    /// half its level.
    pub shown_s: f64,
}

/// Lens positions of a focal stack, in its own units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PositionTruth {
    /// On the screen at onset.
    pub onset: f64,
    /// After settling.
    pub settled: Option<f64>,
    /// In best focus.
    pub focus: f64,
}

/// Blur of the side that is to be focused.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BlurTruth {
    /// On the screen at onset.
    pub onset: f64,
    /// Median over the hold that follows the end of the window; none where
    /// that is cut.
    pub end: Option<f64>,
}

/// A trial seen without what made it void.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WouldBe {
    pub verdict: Verdict,
    /// As [`TrialTruth::settle_s`].
    pub settle_s: Option<[f64; 2]>,
}

/// Instants in the world, s.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WorldTruth {
    pub move_s: Option<f64>,
    pub onset_s: f64,
    pub lens_start_s: Option<f64>,
    /// The lens leaves the plane it had settled on.
    pub leaves_s: Option<f64>,
    /// Within 1.5 δ and δ ÷ 1.5 of the end blur for good.
    pub settle_s: Option<[f64; 2]>,
}

impl TrialTruth {
    /// Makes the trial void.
    pub(crate) fn void(&mut self, reason: &'static str) {
        self.verdict = Verdict::Void;
        self.reason = Some(reason);
        self.settle_s = None;
        self.crossing_s = None;
        self.early = self.early.map(|_| false);
    }
}

/// Where a clip's truth stands.
pub fn truth_path(clip: &Path) -> PathBuf {
    let mut name = clip.as_os_str().to_os_string();
    name.push(".truth.json");
    PathBuf::from(name)
}

impl Truth {
    /// Writes the truth beside the clip: complete or not at all.
    pub(crate) fn write(&self, clip: &Path) -> Result<(), RenderError> {
        let path = truth_path(clip);
        let io = |source| RenderError::Io {
            path: path.clone(),
            source,
        };
        let mut text = serde_json::to_string_pretty(self).map_err(|e| io(e.into()))?;
        text.push('\n');
        write_whole(&path, text.as_bytes()).map_err(io)
    }
}

#[cfg(test)]
mod tests {
    use crate::render::{Scene, foresee};

    /// What is worked out for any δ is, a hair beside the scene's own δ, what the
    /// scene's own verdicts were made by.
    #[test]
    fn a_settle_at_any_delta_joins_on_to_the_one_that_is_written() {
        let scene = "seed = 9\nsettle_permille = 3.0\n\
                     [kit]\ncount = 40\nhunt = 0.2\nsoft = 0.2\novershoot = 0.4\n";
        let truth = foresee(&Scene::from_toml(scene, "scene").unwrap()).unwrap();
        let mut compared = 0;
        for (k, t) in truth.trials.iter().enumerate() {
            let Some(pair) = t.settle_s.filter(|p| p[0] > t.onset_s) else {
                continue;
            };
            let near = truth.settled(k, truth.settle_permille + 1e-7).unwrap();
            assert_eq!(near.pair, pair, "trial {k}");
            assert_eq!(Some(near.crossing), t.crossing_s, "trial {k}");
            let finer = truth.settled(k, 1.5).unwrap();
            assert!(finer.crossing >= near.crossing, "trial {k}");
            compared += 1;
        }
        assert!(compared >= 20, "{compared}");
        assert!(truth.settled(truth.trials.len(), 3.0).is_none());
    }
}
