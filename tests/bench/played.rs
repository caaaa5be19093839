//! A scene and the rig that fits it, true geometry filled in.

use focuslag::render::scene::Stimulus;
use focuslag::render::{Scene, Truth};

pub struct Case {
    pub name: String,
    pub scene: Scene,
}

impl Case {
    /// The rig that fits, true geometry filled in.
    pub fn rig(&self, truth: &Truth, trial: &str) -> String {
        let s = &self.scene;
        let mut t = format!("name = \"{}\"\n[screen]\n", self.name);
        match truth.screen.corners {
            Some(c) => t += &format!("corners = {c:?}\n"),
            None => t += "feed = true\n",
        }
        let stimulus = match s.stimulus {
            Stimulus::Light => {
                // On a surface of its own a light may lie anywhere in its region.
                let r = if s.light.surround_px > 0.0 {
                    20.0
                } else {
                    s.light.radius * 0.7
                };
                let c = s.light.center;
                format!(
                    "kind = \"light\"\nregion = [{}, {}, {}, {}]\n",
                    c[0] - r,
                    c[1] - r,
                    c[0] + r,
                    c[1] + r
                )
            }
            Stimulus::Tone => "kind = \"tone\"\n".to_owned(),
            Stimulus::Swing => match s.film.direct_view {
                Some(v) => format!("kind = \"swing\"\nregion = {v:?}\n"),
                None => "kind = \"swing\"\n".to_owned(),
            },
        };
        t += &format!("[stimulus]\n{stimulus}");
        if s.film.fps < 61.0 || s.film.feed {
            t += &format!("[capture]\nfps = {}\n", truth.capture_fps);
        }
        t + &format!("[trial]\n{trial}")
    }
}
