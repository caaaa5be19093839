//! The draft: values, how sure each is, and the rig file made of them.

use std::fmt::Write as _;
use std::path::Path;

use serde::Serialize;

use super::around::{Direct, Place};
use super::graphics::Graphics;
use super::{
    ASSUMED_FPS, DEFAULT_HOLD, DEFAULT_WINDOW, FEWEST_TRIALS, Found, RateFrom, Rehearsed, Request,
    SMALL_AREA_PX, area_px,
};
use crate::clip::ClipIndex;
use crate::units::{CaptureRate, TimeScale};

/// Steps in which a window is proposed, ms.
const WINDOW_STEP_MS: f64 = 50.0;
/// Instants are told to an update or two: so much is left free before the next
/// trial, ms.
const MARGIN_MS: f64 = 40.0;
/// Shortest window a rig may have, ms.
const SHORTEST_MS: f64 = 100.0;
/// Rates filming cameras have.
const USUAL_FPS: [f64; 8] = [30.0, 60.0, 100.0, 120.0, 200.0, 240.0, 480.0, 960.0];

/// What starts a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// A swing, perhaps with the target seen directly.
    Swing(Option<Direct>),
    /// A trigger light.
    Light(Place),
}

/// One value that was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// What.
    pub what: &'static str,
    /// Its value in words.
    pub value: String,
    /// How sure.
    pub sure: &'static str,
    /// What to check by eye; empty: nothing.
    pub check: String,
}

/// A rig in the making.
#[derive(Clone, Debug)]
pub struct Draft {
    /// The rig's name.
    pub name: String,
    /// The clip's file name.
    pub clip: String,
    /// Upright frame, px.
    pub size: (usize, usize),
    /// Frames looked at, of how many.
    pub frames: usize,
    /// Rate of the stamps.
    pub stored_fps: f64,
    /// True rate and who says so; `None`: nothing tells.
    pub rate: Option<(f64, Option<RateFrom>)>,
    /// The screen; `None` for a feed.
    pub found: Option<Found>,
    /// What starts a trial.
    pub kind: Kind,
    /// Graphics over the focus area.
    pub graphics: Graphics,
    /// Updates per second as shot, where they were told.
    pub refresh_hz: Option<f64>,
    /// Trials seen while trying the draft out.
    pub trials: usize,
    /// The longest window that fits between the trials, ms.
    pub longest_ms: Option<f64>,
    /// The lamp's line in the film: whether it confirms the rate.
    pub lamp: Option<(f64, bool)>,
    /// What the trial run warned of.
    pub warnings: Vec<String>,
}

impl Draft {
    /// What is known before anything is tried.
    #[must_use]
    pub fn new(clip: &Path, index: &ClipIndex, request: &Request, found: Option<Found>) -> Self {
        let stem = clip.file_stem().map(|s| s.to_string_lossy().into_owned());
        let said = request.fps.map(|f| (f, None));
        let stated = index.stated_fps.map(|f| (f, Some(RateFrom::Metadata)));
        let own = (index.stored_fps > 61.0).then_some((index.stored_fps, Some(RateFrom::Stamps)));
        Self {
            name: request
                .name
                .clone()
                .or(stem)
                .unwrap_or_else(|| "rig".to_owned()),
            clip: clip
                .file_name()
                .map_or_else(String::new, |n| n.to_string_lossy().into_owned()),
            size: index.orientation.upright_size(),
            frames: index.stamps.len(),
            stored_fps: index.stored_fps,
            rate: said.or(stated).or(own),
            found,
            kind: Kind::Swing(None),
            graphics: Graphics::default(),
            refresh_hz: None,
            trials: 0,
            longest_ms: None,
            lamp: None,
            warnings: Vec::new(),
        }
    }

    fn fps(&self) -> f64 {
        self.rate.map_or(ASSUMED_FPS, |r| r.0)
    }

    /// World seconds per stored second, as far as known.
    #[must_use]
    pub fn seconds_per_stored(&self) -> f64 {
        CaptureRate::new(self.fps()).map_or(1.0, |r| TimeScale::new(self.stored_fps, r).factor())
    }

    /// Takes over what trying it out showed.
    pub fn take(&mut self, seen: &Rehearsed) {
        self.refresh_hz = seen.refresh_hz;
        self.trials = seen.trials.len();
        self.warnings.clone_from(&seen.warnings);
        let mut room: Vec<f64> = seen
            .trials
            .windows(2)
            .map(|p| (p[1].move_s.unwrap_or(p[1].onset_s) - p[0].onset_s) * 1e3)
            .collect();
        room.sort_by(f64::total_cmp);
        self.longest_ms = room
            .get(room.len() / 10)
            .map(|r| (r - DEFAULT_HOLD.0).max(0.0));
        let flicker = seen.hygiene.as_ref().and_then(|h| h.flicker.as_ref());
        self.lamp = flicker.and_then(|f| Some((f.seen_hz?, f.confirms_capture_fps?)));
    }

    /// The window that is proposed, ms.
    #[must_use]
    pub fn window_ms(&self) -> f64 {
        let fits = self
            .longest_ms
            .map_or(DEFAULT_WINDOW.0, |ms| ms - MARGIN_MS);
        let stepped = (fits / WINDOW_STEP_MS).floor() * WINDOW_STEP_MS;
        stepped.clamp(SHORTEST_MS.max(DEFAULT_HOLD.0), DEFAULT_WINDOW.0)
    }

    /// The rate that a screen of 60 refreshes a second speaks for, where
    /// nothing else tells.
    #[must_use]
    pub fn suggested_fps(&self) -> Option<f64> {
        let updates = self.refresh_hz.filter(|_| self.rate.is_none())?;
        let guess = ASSUMED_FPS * 60.0 / updates;
        USUAL_FPS
            .into_iter()
            .find(|f| (guess / f - 1.0).abs() < 0.02)
    }

    /// The rig to try out with: the rate is always given.
    #[must_use]
    pub fn trial_toml(&self) -> String {
        let mut text = self.toml();
        if !matches!(self.rate, Some((_, None))) {
            let fps = format!("[capture]\nfps = {}\n", number(self.fps()));
            text = text.replacen("[capture]\n", &fps, 1);
        }
        text
    }

    /// The rig file.
    #[must_use]
    pub fn toml(&self) -> String {
        let mut t = format!(
            "# Drafted by `focuslag scout` from {}. Look at the picture beside this file\n\
             # before you rely on it.\nname = {}\n\n[capture]\n",
            one_line(&self.clip),
            toml::Value::String(self.name.clone())
        );
        let rate = self.rate_finding();
        comment(&mut t, &rate);
        match self.rate {
            Some((fps, None)) => line(&mut t, &format!("fps = {}", number(fps))),
            Some((fps, Some(_))) => line(&mut t, &format!("# fps = {}", number(fps))),
            None => line(
                &mut t,
                &format!(
                    "# fps = {}   # take out the first # once you are sure",
                    number(self.suggested_fps().unwrap_or(ASSUMED_FPS))
                ),
            ),
        }
        line(
            &mut t,
            &format!(
                "frame_size = [{}, {}]\n\n[screen]",
                self.size.0, self.size.1
            ),
        );
        comment(&mut t, &self.screen_finding());
        match &self.found {
            Some(f) => line(&mut t, &format!("corners = {:?}", f.rounded())),
            None => line(&mut t, "feed = true"),
        }
        comment(&mut t, &self.refresh_finding());
        if let Some(hz) = self.refresh_hz {
            line(&mut t, &format!("# refresh_hz = {}", number(hz)));
        }
        comment(&mut t, &self.area_finding());
        line(&mut t, "af_area = [0.35, 0.30, 0.65, 0.70]");
        comment(&mut t, &self.masks_finding());
        if !self.graphics.masks.is_empty() {
            line(&mut t, &format!("masks = {:?}", self.graphics.masks));
        }
        line(&mut t, "\n[stimulus]");
        comment(&mut t, &self.stimulus_finding());
        t + &self.stimulus_toml() + &self.trial_table()
    }

    fn stimulus_toml(&self) -> String {
        match self.kind {
            Kind::Light(p) => format!("kind = \"light\"\nregion = {:?}\n", p.rect),
            Kind::Swing(None) => "kind = \"swing\"\nat = \"rest\"\n".to_owned(),
            Kind::Swing(Some(d)) => format!(
                "kind = \"swing\"\nat = \"rest\"\nregion = {:?}\n",
                d.place.rect
            ),
        }
    }

    fn trial_table(&self) -> String {
        let mut t = "\n[trial]\n".to_owned();
        comment(&mut t, &self.window_finding());
        line(&mut t, &format!("window_ms = {}", number(self.window_ms())));
        line(&mut t, &format!("hold_ms = {}", number(DEFAULT_HOLD.0)));
        t
    }

    /// Everything that was found, in the order of the file.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        vec![
            self.rate_finding(),
            self.screen_finding(),
            self.refresh_finding(),
            self.area_finding(),
            self.masks_finding(),
            self.stimulus_finding(),
            self.window_finding(),
        ]
    }

    fn rate_finding(&self) -> Finding {
        let stored = number(self.stored_fps);
        let (value, mut sure, mut check) = match self.rate {
            Some((fps, None)) => (
                format!("{} frames a second, as you said", number(fps)),
                "as you said",
                String::new(),
            ),
            Some((fps, Some(RateFrom::Metadata))) => (
                format!(
                    "{} frames a second, from the clip's metadata (stored at {stored})",
                    number(fps)
                ),
                "fairly sure",
                "metadata state what the filming camera was set to".to_owned(),
            ),
            Some((fps, Some(_))) => (
                format!("{} frames a second, as the time stamps run", number(fps)),
                "sure",
                String::new(),
            ),
            None => {
                let hint = self.suggested_fps().map_or(String::new(), |f| {
                    format!(
                        "; if the camera's screen refreshes 60 times a second it is {}",
                        number(f)
                    )
                });
                (
                    format!(
                        "not known: stored at {stored} frames a second, which real time and slow motion both are{hint}"
                    ),
                    "not known",
                    "write the rate the filming camera was set to, or run scout again with --fps"
                        .to_owned(),
                )
            }
        };
        if let Some((hz, confirms)) = self.lamp {
            if confirms && self.rate.is_some() {
                check = format!("a lamp's flicker seen at {} Hz confirms it", number(hz));
            } else if !confirms {
                sure = "in doubt";
                check = format!(
                    "a lamp's flicker seen at {} Hz does not fit this rate",
                    number(hz)
                );
            }
        }
        Finding {
            what: "capture rate",
            value,
            sure,
            check,
        }
    }

    fn screen_finding(&self) -> Finding {
        let Some(f) = &self.found else {
            return Finding {
                what: "screen",
                value: "the whole frame is the feed".to_owned(),
                sure: "as you said",
                check: String::new(),
            };
        };
        Finding {
            what: "screen",
            value: format!(
                "{:.0} × {:.0} px, corners to ±{:.1} px; its edge was seen along {:.0} % of its \
                 least plain side{}",
                f.corners.width(),
                f.corners.height(),
                2.0 * f.corner_u_px,
                100.0 * f.support,
                shakes(f.sway_px)
            ),
            sure: f.sureness(),
            check: "the outline in the picture runs along the inner edge of the dark rim, and TL \
                    is the top left corner as the screen's user reads it (the frame is taken to \
                    be not upside down)"
                .to_owned(),
        }
    }

    fn refresh_finding(&self) -> Finding {
        match self.refresh_hz {
            Some(hz) => Finding {
                what: "refresh",
                value: format!(
                    "the screen changes {} times a second; measured anew in every clip",
                    number(hz)
                ),
                sure: if self.rate.is_some() {
                    "fairly sure"
                } else {
                    "not sure"
                },
                check: if self.rate.is_some() {
                    String::new()
                } else {
                    format!("for a true rate of {} only", number(self.fps()))
                },
            },
            None => Finding {
                what: "refresh",
                value: "could not be told: every frame changes, or hardly any".to_owned(),
                sure: "not known",
                check: "write `refresh_hz` if you know it; else times are good to a frame only"
                    .to_owned(),
            },
        }
    }

    fn area_finding(&self) -> Finding {
        let px = self.found.as_ref().map(|f| area_px(&f.corners));
        let small = px
            .filter(|p| *p < SMALL_AREA_PX)
            .map_or(String::new(), |p| {
                format!("; it is only {p:.0} px across, {SMALL_AREA_PX:.0} are better")
            });
        Finding {
            what: "focus area",
            value: "the middle of the screen, by default".to_owned(),
            sure: "not looked for",
            check: format!(
                "the box AF in the picture lies where the camera focuses, and the target fills it{small}"
            ),
        }
    }

    fn masks_finding(&self) -> Finding {
        let n = self.graphics.masks.len();
        let (value, sure, check) = if self.graphics.too_much {
            (
                "much is drawn over the focus area, too much to leave out".to_owned(),
                "fairly sure",
                "turn off what the camera draws over its picture".to_owned(),
            )
        } else if n == 0 {
            (
                "no graphics that stay were seen over the focus area".to_owned(),
                "fairly sure",
                String::new(),
            )
        } else {
            (
                format!("{n} rectangles over graphics that never change"),
                "fairly sure",
                "the red boxes in the picture lie on graphics, not on the target".to_owned(),
            )
        };
        Finding {
            what: "graphics",
            value,
            sure,
            check,
        }
    }

    fn stimulus_finding(&self) -> Finding {
        let few = self.trials < FEWEST_TRIALS;
        let n = self.trials;
        let (value, sure, check) = match self.kind {
            Kind::Light(_) => (
                format!("a light beside the screen goes on {n} times"),
                "fairly sure",
                "the box LIGHT in the picture lies on your trigger light, and on nothing else that blinks".to_owned(),
            ),
            Kind::Swing(_) if few => (
                format!("no swing was seen on the screen ({n} trials)"),
                "not known",
                "set `kind`, and `region` for a trigger light; or use a clip with several swings".to_owned(),
            ),
            Kind::Swing(None) => (
                format!("something swings on the screen, {n} trials"),
                "fairly sure",
                "`at = \"rest\"` is for a target against a stop; write \"cover\" for a free pendulum".to_owned(),
            ),
            Kind::Swing(Some(d)) => (
                format!(
                    "something swings on the screen, {n} trials; beside it the same is seen {:.0} ms earlier",
                    1e3 * d.lead_s
                ),
                if d.alike > 0.8 { "fairly sure" } else { "not sure" },
                "the box DIRECT in the picture holds the target's whole way and nothing else that moves; \
                 `at = \"rest\"` is for a target against a stop, \"cover\" for a free pendulum".to_owned(),
            ),
        };
        Finding {
            what: "stimulus",
            value,
            sure,
            check,
        }
    }

    fn window_finding(&self) -> Finding {
        let (value, sure, check) = match self.longest_ms {
            Some(ms) if ms < SHORTEST_MS.max(DEFAULT_HOLD.0) => (
                format!("only {ms:.0} ms fit between two trials: too little"),
                "fairly sure",
                "leave more time between swings".to_owned(),
            ),
            Some(ms) => (
                format!("up to {ms:.0} ms fit between two trials"),
                "fairly sure",
                String::new(),
            ),
            None => (
                "the default; too few trials to tell what fits".to_owned(),
                "not looked for",
                String::new(),
            ),
        };
        Finding {
            what: "window",
            value,
            sure,
            check,
        }
    }
}

fn line(t: &mut String, text: &str) {
    t.push_str(text);
    t.push('\n');
}

/// A finding as comment lines.
fn comment(t: &mut String, f: &Finding) {
    let mut text = format!("{}: {}. {}.", capital(f.what), f.value, capital(f.sure));
    if !f.check.is_empty() {
        let _ = write!(text, " Check: {}.", f.check);
    }
    for l in textwrap::wrap(&one_line(&text), 84) {
        line(t, &format!("# {l}"));
    }
}

/// A word where the filming camera moves.
fn shakes(sway_px: f64) -> String {
    if sway_px < 0.3 {
        return String::new();
    }
    format!(
        "; the film shakes by about ±{:.1} px around that",
        2.0 * sway_px
    )
}

fn capital(s: &str) -> String {
    let mut c = s.chars();
    c.next()
        .map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

/// A comment must not end early.
fn one_line(s: &str) -> String {
    s.chars()
        .map(|c| if c.is_control() { '·' } else { c })
        .collect()
}

/// A number to a hundredth, whole where it is nearly so; TOML takes it as it is.
fn number(v: f64) -> String {
    let near = (v * 100.0).round() / 100.0;
    format!("{near}")
}
