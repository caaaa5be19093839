//! What a rig fixes of a scene.

use crate::geometry::{Point, Quad};
use crate::render::Scene;
use crate::render::scene::{At, Stimulus as SceneStimulus};
use crate::rig::{PixelRect, Rig, Stimulus, SwingAt};

/// Rates, geometry and stimulus of a rig.
#[derive(Clone, Debug)]
pub struct Bed {
    /// The rig; its geometry is that of the scenes (a cut-out of its frame).
    pub rig: Rig,
    /// Refreshes of the screen, Hz.
    pub refresh_hz: f64,
    /// Live-view pictures per second; `None`: one per refresh.
    pub live_fps: Option<f64>,
    /// Width and height of the frame, px, even.
    size: [usize; 2],
}

/// Why no scene can be made for a rig.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BedError {
    /// The rate is left to the clip.
    #[error("capture.fps: not given: a rendered clip cannot tell it; give the true rate")]
    Rate,
}

/// Frame of a rig that names none, px.
const FRAME: [usize; 2] = [960, 540];
/// Room kept around screen and regions, px.
const MARGIN: f64 = 28.0;
/// Refresh of a rig that names none, Hz.
const REFRESH_HZ: f64 = 60.0;

impl Bed {
    /// The bed of a rig: its frame cut down to what is looked at, the density
    /// of pixels kept.
    ///
    /// # Errors
    /// Where the rig leaves its rate open.
    pub fn of(rig: &Rig) -> Result<Self, BedError> {
        if rig.capture.fps.is_none() {
            return Err(BedError::Rate);
        }
        let mut bed = Self {
            refresh_hz: rig.screen.refresh_hz.map_or(REFRESH_HZ, |r| r.0),
            live_fps: None,
            size: rig.capture.frame_size.map_or(FRAME, |(w, h)| [w, h]),
            rig: rig.clone(),
        };
        bed.rig.capture.segments.clear();
        if bed.rig.screen.feed {
            bed.size = bed.rig.capture.frame_size.map_or([640, 480], |_| bed.size);
            if let Some(fps) = bed.rig.capture.fps {
                bed.refresh_hz = fps.fps();
            }
        } else {
            bed.cut();
        }
        bed.rig.capture.frame_size = Some((bed.size[0], bed.size[1]));
        Ok(bed)
    }

    /// Cuts the frame down and moves everything in it.
    fn cut(&mut self) {
        let quad = self.rig.screen.corners.unwrap_or_else(|| self.usual());
        let [mut x0, mut y0, mut x1, mut y1] = quad.bounds();
        if let Some(r) = region(&mut self.rig.stimulus) {
            (x0, y0) = (x0.min(r.x0), y0.min(r.y0));
            (x1, y1) = (x1.max(r.x1), y1.max(r.y1));
        }
        let [w, h] = self.size.map(|n| n as f64);
        let low = |v: f64| (v - MARGIN).max(0.0).floor();
        let (left, top) = (low(x0), low(y0));
        let span = |v: f64, from: f64, n: f64| {
            let end = (v + MARGIN).min(n).ceil() - from;
            ((end / 2.0).ceil() as usize * 2).max(64)
        };
        self.size = [span(x1, left, w), span(y1, top, h)];
        let corners = quad.corners.map(|c| Point::new(c.x - left, c.y - top));
        self.rig.screen.corners = Some(Quad::new(corners));
        if let Some(r) = region(&mut self.rig.stimulus) {
            (r.x0, r.x1) = (r.x0 - left, r.x1 - left);
            (r.y0, r.y1) = (r.y0 - top, r.y1 - top);
        }
    }

    /// An upright 4:3 screen, two thirds of the frame high.
    fn usual(&self) -> Quad<crate::geometry::UprightPx> {
        let [w, h] = self.size.map(|n| n as f64);
        let high = (0.68 * h).min(0.6 * w);
        let (dx, dy) = (high * 2.0 / 3.0, high / 2.0);
        Quad::rect(w / 2.0 - dx, h / 2.0 - dy, w / 2.0 + dx, h / 2.0 + dy)
    }

    /// True rate, frames per second.
    pub fn fps(&self) -> f64 {
        self.rig.capture.fps.map_or(0.0, |f| f.fps())
    }

    /// Puts rates, geometry and stimulus into a scene.
    pub(super) fn put(&self, scene: &mut Scene) {
        let rig = &self.rig;
        scene.film.fps = self.fps();
        scene.film.exposure_ms = (480.0 / self.fps()).min(4.0);
        scene.film.size = self.size;
        scene.film.feed = rig.screen.feed;
        scene.screen.refresh_hz = self.refresh_hz;
        scene.live_view.fps = self.live_fps;
        let a = &rig.screen.af_area;
        scene.screen.af_area = [a.left, a.top, a.right, a.bottom];
        scene.screen.corners = rig.screen.corners.map(|q| q.corners.map(|p| [p.x, p.y]));
        scene.window_ms = rig.trial.window.0;
        scene.hold_ms = rig.trial.hold.0;
        scene.settle_permille = rig.trial.settle_permille;
        scene.hit_permille = rig.trial.hit_permille;
        match &rig.stimulus {
            Stimulus::Light { region } => {
                scene.stimulus = SceneStimulus::Light;
                let half = (region.x1 - region.x0).min(region.y1 - region.y0) / 2.0;
                let (x, y) = ((region.x0, region.x1), (region.y0, region.y1));
                scene.light.center = [x, y].map(|(a, b)| f64::midpoint(a, b));
                scene.light.radius = half * 1.2;
            }
            Stimulus::Swing { at, region } => {
                scene.at = match at {
                    SwingAt::Rest => At::Rest,
                    SwingAt::Cover => At::Cover,
                };
                scene.film.direct_view = region.map(|r| [r.x0, r.y0, r.x1, r.y1]);
                let grow = |low: f64, high: f64| {
                    let reach = (high - 0.5).max(0.5 - low);
                    (2.2 * reach + 0.1).max(0.52)
                };
                let size = [grow(a.left, a.right), grow(a.top, a.bottom)];
                let clear = a.right + size[0] / 2.0 + 0.05;
                let away = a.right.max(1.0) + size[0] / 2.0 - 0.25;
                (scene.near.size, scene.near.away) = (size, [away.max(clear), 0.5]);
            }
            Stimulus::Tone => scene.stimulus = SceneStimulus::Tone,
        }
    }
}

fn region(stimulus: &mut Stimulus) -> Option<&mut PixelRect> {
    match stimulus {
        Stimulus::Light { region } => Some(region),
        Stimulus::Swing { region, .. } => region.as_mut(),
        Stimulus::Tone => None,
    }
}
