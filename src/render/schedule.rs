//! When live-view pictures are taken and when the screen shows them.
//!
//! Picture i is taken (middle of exposure) at s_i, is ready at s_i + lag and
//! is held from the first refresh at or after that until the next picture.

use rand::RngExt;

use super::rng;
use super::scene::Scene;

/// One picture on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Update {
    /// Middle of the picture's exposure, s.
    pub taken_s: f64,
    /// Start of the refresh that first shows it, s.
    pub shown_s: f64,
}

/// Pictures in the order they are shown; the first is on the screen before
/// the film's first exposure.
pub(crate) fn updates(scene: &Scene, duration_s: f64) -> Vec<Update> {
    let refresh = 1.0 / scene.screen.refresh_hz;
    let period = 1.0 / live_fps(scene);
    let lag = scene.live_view.lag_ms / 1000.0;
    let lead = scene.live_view.phase_ms / 1000.0;
    let first = first_refresh(scene);
    let mut out: Vec<Update> = Vec::new();
    let before = 3.0 * period.max(refresh) + lead + scene.film.exposure_ms / 1000.0;
    let mut index = -(before / period).ceil();
    loop {
        let taken_s = first + index * period - lag - lead;
        let ready = taken_s + lag;
        let shown_s = first + ((ready - first) / refresh - 1e-6).ceil() * refresh;
        if shown_s > duration_s {
            return out;
        }
        if out
            .last()
            .is_some_and(|u| (u.shown_s - shown_s).abs() < refresh / 2.0)
        {
            out.pop();
        }
        out.push(Update { taken_s, shown_s });
        index += 1.0;
    }
}

/// Pictures per second.
pub(crate) fn live_fps(scene: &Scene) -> f64 {
    scene.live_view.fps.unwrap_or(scene.screen.refresh_hz)
}

/// A refresh, s: the feed's first picture is the first frame.
fn first_refresh(scene: &Scene) -> f64 {
    let refresh = 1.0 / scene.screen.refresh_hz;
    match scene.screen.phase_ms {
        _ if scene.film.feed => 0.0,
        Some(ms) => (ms / 1000.0) % refresh,
        None => rng::stream(scene.seed, rng::Use::Refresh).random::<f64>() * refresh,
    }
}

/// Start of the first update that shows the world at `world_s` or later.
pub(crate) fn shown(updates: &[Update], world_s: f64) -> Option<f64> {
    let i = updates.partition_point(|u| u.taken_s < world_s);
    updates.get(i).map(|u| u.shown_s)
}
