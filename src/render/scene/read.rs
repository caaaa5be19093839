//! From TOML to a [`Scene`], and the checks that need more than one key.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::{Origin, Outcome, Scene, Side, Stimulus};
use crate::geometry::{Point, Quad, UprightPx};
use crate::render::RenderError;
use crate::render::optics::Blur;
use crate::render::schedule;

impl Scene {
    /// Reads a scene; `file_name` is for messages.
    ///
    /// # Errors
    /// Names file, line and key of what is unknown, out of range or does not
    /// go together.
    pub fn from_toml(text: &str, file_name: &str) -> Result<Self, RenderError> {
        let mut scene: Self = toml::from_str(text).map_err(|e| RenderError::Scene {
            file: file_name.to_owned(),
            line: e.span().map(|s| line(text, &s)),
            what: e.message().trim().to_owned()
                + &e.span().map_or(String::new(), |s| key_hint(text, &s)),
        })?;
        match scene.faults() {
            None => {
                scene.origin = Origin {
                    file: file_name.to_owned(),
                    near_image: find(text, &["near", "image"]),
                    far_image: find(text, &["far", "image"]),
                    stack: find(text, &["stack"]),
                };
                Ok(scene)
            }
            Some((path, what)) => Err(RenderError::Scene {
                file: file_name.to_owned(),
                line: find(text, &path),
                what: format!("`{}`: {what}", path.join(".")),
            }),
        }
    }

    /// Checks a scene that was made in code.
    ///
    /// # Errors
    /// Names the key of what does not go together.
    pub fn check(&self) -> Result<(), RenderError> {
        match self.faults() {
            None => Ok(()),
            Some((path, what)) => Err(RenderError::Scene {
                file: "scene".into(),
                line: None,
                what: format!("`{}`: {what}", path.join(".")),
            }),
        }
    }

    /// The first thing that does not go together: key and what to do.
    fn faults(&self) -> Option<(Vec<&'static str>, String)> {
        let fault = |path: &[&'static str], what: &str| Some((path.to_vec(), what.to_owned()));
        let period = 1000.0 / self.film.fps;
        if self.film.exposure_ms > period {
            return fault(
                &["film", "exposure_ms"],
                &format!("longer than a frame's {period:.3} ms: shorten it"),
            );
        }
        if self.film.readout_ms > period {
            return fault(
                &["film", "readout_ms"],
                &format!("longer than a frame's {period:.3} ms: shorten it"),
            );
        }
        if self.container.jitter_ms > 0.4 * period {
            return fault(
                &["container", "jitter_ms"],
                &format!(
                    "above 0.4 frames ({:.3} ms): frames would swap",
                    0.4 * period
                ),
            );
        }
        if self.container.dropped.contains(&0) {
            return fault(
                &["container", "dropped"],
                "the first frame cannot be dropped",
            );
        }
        if self.container.drop_share > 0.9 || self.container.gaps_s.iter().any(|[a, b]| a >= b) {
            return fault(
                &["container", "gaps_s"],
                "give [from, to] with from < to, and a `drop_share` of at most 0.9",
            );
        }
        if self
            .live_view
            .size
            .is_some_and(|s| s.iter().any(|n| !(32..=4096).contains(n)))
        {
            return fault(&["live_view", "size"], "must be within 32..=4096 px");
        }
        if let Some(c) = self.screen.corners {
            let quad: Quad<UprightPx> = Quad::new(c.map(|p| Point::new(p[0], p[1])));
            let big = quad.width().max(quad.height()) > 8192.0;
            if !quad.is_convex() || quad.area() < 1000.0 || big {
                return fault(
                    &["screen", "corners"],
                    "must be TL TR BR BL of a convex screen of 1000 px to 8192x8192 px",
                );
            }
        }
        if let Some([x0, y0, x1, y1]) = self.film.direct_view {
            let [w, h] = self.film.size.map(|n| n as f64);
            if !(0.0 <= x0 && x0 + 16.0 <= x1 && x1 <= w && 0.0 <= y0 && y0 + 16.0 <= y1 && y1 <= h)
            {
                return fault(
                    &["film", "direct_view"],
                    "needs x0 < x1 and y0 < y1, 16 px or more, inside the frame",
                );
            }
        }
        if self.container.b_frames > 16 {
            return fault(&["container", "b_frames"], "must be within 0..=16");
        }
        if let Some(lens) = &self.optics.lens {
            let far_enough = lens.near_mm > lens.focal_mm && lens.far_mm > lens.focal_mm;
            let blur = Blur::new(&self.optics);
            let seen = |side| (0.1..=300.0).contains(&blur.per_unit(side));
            if !far_enough || !seen(Side::Near) || !seen(Side::Far) {
                return fault(
                    &["optics", "lens"],
                    "card and background must lie beyond the focal length and blur each other by 0.1..=300 permille",
                );
            }
        }
        let starts = self.container.segments.iter().map(|s| s.from_s);
        if !starts.is_sorted_by(|a, b| a < b) {
            return fault(&["container", "segments"], "sort them by rising `from_s`");
        }
        if self.beeps.iter().any(|b| 2.0 * b.attack_ms > b.for_ms) {
            return fault(
                &["beep", "attack_ms"],
                "a beep must last at least twice its attack",
            );
        }
        if self.stack.on() && self.stimulus == Stimulus::Swing {
            return fault(
                &["stack"],
                "photographs have no card that swings: set `stimulus = \"light\"`",
            );
        }
        if self.stack.on() && (self.stack.focus - self.stack.start).abs() < 1e-6 {
            return fault(
                &["stack", "start"],
                "the lens starts in focus: move it away",
            );
        }
        if self.hit_permille < self.settle_permille {
            return fault(&["hit_permille"], "must not be below `settle_permille`");
        }
        if self.kit.is_some() && !self.trials.is_empty() {
            return fault(&["kit"], "give either `kit` or `[[trial]]`, not both");
        }
        if self.stimulus == Stimulus::Swing {
            return self.swing_faults();
        }
        let hold_ms = 1000.0 * schedule::hold_s(self);
        let seen = self.window_ms + hold_ms + self.live_view.lag_ms + 50.0;
        if self.light.on_ms < seen {
            return fault(
                &["light", "on_ms"],
                &format!("the lens is set back when the light goes off: needs {seen} ms or more"),
            );
        }
        None
    }

    fn swing_faults(&self) -> Option<(Vec<&'static str>, String)> {
        let fault = |path: &[&'static str], what: &str| Some((path.to_vec(), what.to_owned()));
        let [w, h] = self.near.size;
        let [left, top, right, bottom] = self.screen.af_area;
        let edges = |c: [f64; 2]| {
            [
                c[0] - w / 2.0,
                c[1] - h / 2.0,
                c[0] + w / 2.0,
                c[1] + h / 2.0,
            ]
        };
        let rest = edges(self.near.rest);
        if !(rest[0] <= left && rest[1] <= top && rest[2] >= right && rest[3] >= bottom) {
            return fault(
                &["near", "size"],
                "the card at `near.rest` does not cover the autofocus area: make it bigger",
            );
        }
        let away = edges(self.near.away);
        if away[0] < right && away[2] > left && away[1] < bottom && away[3] > top {
            return fault(
                &["near", "away"],
                "the card does not leave the autofocus area: move it further",
            );
        }
        let mut previous = None;
        for trial in &self.trials {
            if trial.side.is_some() && trial.side == previous {
                return fault(&["trial", "side"], "near and far must take turns");
            }
            previous = trial.side;
        }
        if self
            .trials
            .iter()
            .any(|t| t.outcome == Outcome::NeverMoved && t.hunts.is_some())
        {
            return fault(&["trial", "hunts"], "a lens that never moves cannot hunt");
        }
        None
    }
}

fn line(text: &str, span: &Range<usize>) -> usize {
    let upto = span.start.min(text.len());
    text.as_bytes()[..upto]
        .iter()
        .filter(|b| **b == b'\n')
        .count()
        + 1
}

/// The key written on the line where an error was found.
fn key_hint(text: &str, span: &Range<usize>) -> String {
    let row = text.lines().nth(line(text, span) - 1).unwrap_or("");
    match row.split_once('=') {
        Some((key, _)) => format!(" (key `{}`)", key.trim()),
        None => String::new(),
    }
}

/// Line of a key, or of the nearest table above it that is there.
fn find(text: &str, path: &[&str]) -> Option<usize> {
    let root = DeTable::parse(text).ok()?;
    let mut table = root.get_ref();
    let mut found = None;
    for name in path {
        let Some((key, value)) = table.get_key_value(*name) else {
            break;
        };
        found = Some(line(text, &key.span()));
        match value.get_ref() {
            DeValue::Table(inner) => table = inner,
            _ => break,
        }
    }
    found
}
