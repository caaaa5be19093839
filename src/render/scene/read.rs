//! From TOML to a [`Scene`], and the checks that need more than one key.

use super::{Beep, Origin, Outcome, Scene, Side, Stimulus, ThinLens, Trial};
use crate::geometry::{Point, Quad, UprightPx};
use crate::render::RenderError;
use crate::render::optics::Blur;
use crate::render::schedule;
use crate::written::{Fault, Faults, Known, Sheet};

impl Scene {
    /// Reads a scene; `file_name` is for messages.
    ///
    /// # Errors
    /// Names file, line and key of all that is unknown, out of range or does not
    /// go together.
    pub fn from_toml(text: &str, file_name: &str) -> Result<Self, RenderError> {
        let sheet = Sheet::new(file_name, text);
        let scene: Option<Self> = sheet.read(&Known::default());
        let faults = scene.iter().flat_map(Self::faults);
        faults.for_each(|(key, what)| sheet.fault(key, what));
        let mut scene = sheet.close(scene)?;
        let line = |key| sheet.line(key);
        scene.origin = Origin {
            file: file_name.to_owned(),
            near_image: Some(line("near.image")),
            far_image: Some(line("far.image")),
            stack: Some(line("stack")),
        };
        Ok(scene)
    }

    /// Checks a scene that was made in code.
    ///
    /// # Errors
    /// Names the keys of what does not go together.
    pub fn check(&self) -> Result<(), RenderError> {
        let faults = self.faults().into_iter();
        let list: Vec<Fault> = faults
            .map(|(key, what)| Fault::of_file("scene", key, what))
            .collect();
        if list.is_empty() {
            return Ok(());
        }
        Err(Faults { list }.into())
    }

    /// All that does not go together: key, what is wrong, what to do.
    fn faults(&self) -> Vec<(&'static str, String)> {
        let (film, file) = (&self.film, &self.container);
        let mut found = Found::default();
        let period = 1000.0 / film.fps;
        let long = format!("is longer than a frame's {period:.3} ms; shorten it");
        found.check(film.exposure_ms <= period, "film.exposure_ms", &long);
        found.check(film.readout_ms <= period, "film.readout_ms", &long);
        let most = 0.4 * period;
        let swap = "so that frames would swap; lower it";
        let swap = format!("is above 0.4 frames ({most:.3} ms), {swap}");
        found.check(file.jitter_ms <= most, "container.jitter_ms", &swap);
        let first = "holds the first frame, which cannot be dropped; take 0 out";
        found.check(!file.dropped.contains(&0), "container.dropped", first);
        let share = format!("is {}; give a share of at most 0.9", file.drop_share);
        found.check(file.drop_share <= 0.9, "container.drop_share", &share);
        let some = file.gaps_s.iter().all(|[a, b]| a < b);
        let empty = "hold one that is empty; give [from, to] with from < to";
        found.check(some, "container.gaps_s", empty);
        let wanted = "are no screen; give TL TR BR BL of a convex one of 1000 px to 8192x8192 px";
        found.check(self.screen_is_fit(), "screen.corners", wanted);
        let part = "is no part of the frame; give x0 < x1 and y0 < y1, 16 px or more, inside it";
        found.check(self.direct_view_is_fit(), "film.direct_view", part);
        let blind = "shows nothing to focus on; put card and background beyond the focal length, \
                     and let them blur each other by 0.1 to 300 permille";
        found.check(self.lens_is_fit(), "optics.lens", blind);
        let rising = file.segments.is_sorted_by(|a, b| a.from_s < b.from_s);
        let order = "are not in order; sort them by rising `from_s`";
        found.check(rising, "container.segments", order);
        let whole = |b: &Beep| 2.0 * b.attack_ms <= b.for_ms;
        let short = "is too long; let a beep last at least twice its attack";
        found.check(self.beeps.iter().all(whole), "beep.attack_ms", short);
        let swing = self.stimulus == Stimulus::Swing;
        if self.stack.on() {
            let still = "has no card that swings; set `stimulus = \"light\"`";
            found.check(!swing, "stack", still);
            let away = (self.stack.focus - self.stack.start).abs() >= 1e-6;
            found.check(away, "stack.start", "is in focus; move it away");
        }
        let above = self.hit_permille >= self.settle_permille;
        let low = "is below `settle_permille`; raise it";
        found.check(above, "hit_permille", low);
        let one = self.kit.is_none() || self.trials.is_empty();
        let both = "stands beside `[[trial]]`; give one of the two";
        found.check(one, "kit", both);
        if swing {
            self.swing_faults(&mut found);
        } else {
            let hold_ms = 1000.0 * schedule::hold_s(self);
            let seen = self.window_ms + hold_ms + self.live_view.lag_ms + 50.0;
            let short = "is too short, the lens is set back when the light goes off";
            let short = format!("{short}; give {seen} ms or more");
            found.check(self.light.on_ms >= seen, "light.on_ms", &short);
        }
        found.0
    }

    fn screen_is_fit(&self) -> bool {
        self.screen.corners.is_none_or(|c| {
            let quad: Quad<UprightPx> = Quad::new(c.map(|p| Point::new(p[0], p[1])));
            let big = quad.width().max(quad.height()) > 8192.0;
            quad.is_convex() && quad.area() >= 1000.0 && !big
        })
    }

    fn direct_view_is_fit(&self) -> bool {
        let [w, h] = self.film.size.map(|n| n as f64);
        let part = |lo: f64, hi: f64, end: f64| 0.0 <= lo && lo + 16.0 <= hi && hi <= end;
        let view = self.film.direct_view;
        view.is_none_or(|[x0, y0, x1, y1]| part(x0, x1, w) && part(y0, y1, h))
    }

    fn lens_is_fit(&self) -> bool {
        let blur = Blur::new(&self.optics);
        let seen = |side| (0.1..=300.0).contains(&blur.per_unit(side));
        let beyond = |l: &ThinLens| l.near_mm > l.focal_mm && l.far_mm > l.focal_mm;
        let lens = self.optics.lens.as_ref();
        lens.is_none_or(|l| beyond(l) && seen(Side::Near) && seen(Side::Far))
    }

    fn swing_faults(&self, found: &mut Found) {
        let [w, h] = self.near.size;
        let [left, top, right, bottom] = self.screen.af_area;
        let edges = |[x, y]: [f64; 2]| [x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0];
        let [x0, y0, x1, y1] = edges(self.near.rest);
        let covers = x0 <= left && y0 <= top && x1 >= right && y1 >= bottom;
        let small = "does not cover the autofocus area when the card is at `near.rest`; make it \
                     bigger";
        found.check(covers, "near.size", small);
        let [x0, y0, x1, y1] = edges(self.near.away);
        let leaves = x0 >= right || x1 <= left || y0 >= bottom || y1 <= top;
        let stays = "does not leave the autofocus area; move it further";
        found.check(leaves, "near.away", stays);
        let turns = |a: &Trial, b: &Trial| a.side.is_none() || a.side != b.side;
        let twice = "is the same twice running; let near and far take turns";
        found.check(self.trials.is_sorted_by(turns), "trial.side", twice);
        let still = |t: &Trial| t.outcome == Outcome::NeverMoved && t.hunts.is_some();
        let none = !self.trials.iter().any(still);
        found.check(
            none,
            "trial.hunts",
            "belongs to a lens that moves; take it out",
        );
    }
}

/// What does not go together.
#[derive(Default)]
struct Found(Vec<(&'static str, String)>);

impl Found {
    fn check(&mut self, fits: bool, key: &'static str, why: &str) {
        if !fits {
            self.0.push((key, why.to_owned()));
        }
    }
}
