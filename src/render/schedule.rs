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
    /// Middle of its exposure, s.
    pub taken_s: f64,
    /// Start of the refresh that first shows it, s.
    pub shown_s: f64,
}

/// Pictures in the order they are shown; the first is on the screen before
/// the film's first exposure.
pub(crate) fn updates(scene: &Scene, duration_s: f64) -> Vec<Update> {
    let refresh = 1.0 / refresh_hz(scene);
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
        out.pop_if(|u| (u.shown_s - shown_s).abs() < refresh / 2.0);
        out.push(Update { taken_s, shown_s });
        index += 1.0;
    }
}

/// Pictures per second.
pub(crate) fn live_fps(scene: &Scene) -> f64 {
    scene.live_view.fps.unwrap_or(scene.screen.refresh_hz)
}

/// Refreshes per second; a feed has one per picture.
pub(crate) fn refresh_hz(scene: &Scene) -> f64 {
    if scene.film.feed {
        return live_fps(scene);
    }
    scene.screen.refresh_hz
}

/// A hold, s: at least five updates of the screen.
pub(crate) fn hold_s(scene: &Scene) -> f64 {
    let update_s = 1.0 / live_fps(scene).min(refresh_hz(scene));
    (scene.hold_ms / 1000.0).max(HOLD_UPDATES * update_s)
}

/// Updates of the shortest hold (the definition's own).
const HOLD_UPDATES: f64 = 5.0;

/// A refresh, s: the feed's first picture is the first frame.
fn first_refresh(scene: &Scene) -> f64 {
    let refresh = 1.0 / refresh_hz(scene);
    match scene.screen.phase_ms {
        _ if scene.film.feed => 0.0,
        Some(ms) => (ms / 1000.0) % refresh,
        None => rng::stream(scene.seed, rng::Use::Refresh).random::<f64>() * refresh,
    }
}

/// The refresh at or after `t`.
pub(crate) fn next_refresh(scene: &Scene, t: f64) -> f64 {
    let (first, refresh) = (first_refresh(scene), 1.0 / refresh_hz(scene));
    first + ((t - first) / refresh - 1e-6).ceil() * refresh
}

/// Start of the first update that shows the world at `world_s` or later.
pub(crate) fn shown(updates: &[Update], world_s: f64) -> Option<f64> {
    let i = updates.partition_point(|u| u.taken_s < world_s);
    updates.get(i).map(|u| u.shown_s)
}

/// Which update is on the screen at `t`, that which a hair's breadth later is.
pub(crate) fn on_screen(updates: &[Update], t: f64) -> usize {
    let after = updates.partition_point(|u| u.shown_s <= t + 1e-9);
    after.saturating_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scene(refresh_hz: f64, fps: Option<f64>, lag_ms: f64) -> Scene {
        let mut scene = Scene::default();
        scene.screen.refresh_hz = refresh_hz;
        scene.screen.phase_ms = Some(0.0);
        scene.live_view.fps = fps;
        scene.live_view.lag_ms = lag_ms;
        scene
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    fn even(updates: &[Update], period_s: f64) -> bool {
        let mut steps = updates.windows(2).map(|w| w[1].shown_s - w[0].shown_s);
        steps.all(|step| near(step, period_s))
    }

    /// Refreshes at k/60 s, lag 58 ms: a change at 1 s is ready at 1.058 s and
    /// waits for refresh 64 (63.48 rounded up).
    #[test]
    fn a_change_waits_for_the_next_refresh() {
        let updates = updates(&scene(60.0, None, 58.0), 3.0);
        assert!(near(shown(&updates, 1.0).unwrap(), 64.0 / 60.0));
        assert!(updates[0].shown_s < -0.004);
        assert!(even(&updates, 1.0 / 60.0));
        assert!(updates.iter().all(|u| near(u.shown_s - u.taken_s, 0.058)));
        assert!(shown(&updates, 2.99).is_none());
    }

    #[test]
    fn a_slow_live_view_is_held_for_two_refreshes() {
        let updates = updates(&scene(60.0, Some(30.0), 40.0), 2.0);
        assert!(even(&updates, 1.0 / 30.0));
    }

    /// Lag seen = lag … lag + one refresh, evenly, where the two run free.
    #[test]
    fn free_running_pictures_wait_up_to_a_refresh() {
        let updates = updates(&scene(60.0, Some(25.0), 40.0), 30.0);
        let waits = updates.iter().map(|u| u.shown_s - u.taken_s - 0.040);
        let waits: Vec<f64> = waits.collect();
        assert!(waits.iter().all(|w| (-1e-7..1.0 / 60.0).contains(w)));
        let mean = waits.iter().sum::<f64>() / waits.len() as f64;
        assert!((mean - 0.5 / 60.0).abs() < 0.004, "{mean}");
        // Each update lies on a refresh.
        let mut refreshes = updates.iter().map(|u| u.shown_s * 60.0);
        assert!(refreshes.all(|r| near(r.round(), r)));
    }

    #[test]
    fn of_two_pictures_in_one_refresh_the_later_is_shown() {
        let updates = updates(&scene(60.0, Some(120.0), 40.0), 1.0);
        assert!(even(&updates, 1.0 / 60.0));
        let waits = updates.iter().map(|u| u.shown_s - u.taken_s);
        assert!(waits.fold(0.0, f64::max) < 0.040 + 1.0 / 120.0);
    }
}
