//! The draft: values, and the rig file made of them.

use std::ffi::OsStr;
use std::path::Path;

use super::around::{Direct, Place};
use super::findings::Finding;
use super::graphics::Graphics;
use super::parts::Part;
use super::{ASSUMED_FPS, DEFAULT_HOLD, DEFAULT_WINDOW, Found, RateFrom, Rehearsed, Request};
use crate::clip::ClipIndex;
use crate::job::{NotFound, whole_that_fits};
use crate::names::{self, plain};

/// Steps in which a window is proposed, ms.
const WINDOW_STEP_MS: f64 = 50.0;
/// Instants are told to an update or two: so much is left free before the next
/// trial, ms.
const MARGIN_MS: f64 = 40.0;
/// Shortest window a rig may have, ms.
pub(super) const SHORTEST_MS: f64 = 100.0;
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
    /// Parts of other rates, where the clip is slowed down in part; else none.
    pub parts: Vec<Part>,
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
    /// Why the trial run found no trial, where it did not.
    pub not_found: Option<NotFound>,
}

impl Draft {
    /// What is known before anything is tried.
    pub fn new(clip: &Path, index: &ClipIndex, request: &Request, found: Option<Found>) -> Self {
        let text = |name: &OsStr| name.to_string_lossy().into_owned();
        let (stem, file) = (clip.file_stem().map(text), clip.file_name().map(text));
        let said = request.fps.map(|f| (f, None));
        let stated = index.stated_fps.map(|f| (f, Some(RateFrom::Metadata)));
        let own = (index.stored_fps > 61.0).then_some((index.stored_fps, Some(RateFrom::Stamps)));
        Self {
            name: request.name.clone().or(stem).unwrap_or("rig".to_owned()),
            clip: file.unwrap_or_default(),
            size: index.orientation.upright_size(),
            frames: index.stamps.len(),
            stored_fps: index.stored_fps,
            rate: said.or(stated).or(own),
            parts: Vec::new(),
            found,
            kind: Kind::Swing(None),
            graphics: Graphics::default(),
            refresh_hz: None,
            trials: 0,
            longest_ms: None,
            lamp: None,
            warnings: Vec::new(),
            not_found: None,
        }
    }

    pub(super) fn fps(&self) -> f64 {
        self.rate.map_or(ASSUMED_FPS, |r| r.0)
    }

    /// Takes over the parts of a clip that is slowed down in part.
    pub(super) fn take_parts(&mut self, parts: Vec<Part>) {
        let full = parts.iter().map(|p| p.fps).fold(0.0, f64::max);
        self.rate = self.rate.filter(|r| r.1 != Some(RateFrom::Stamps));
        self.rate = self.rate.or(Some((full, Some(RateFrom::Stamps))));
        self.parts = parts;
    }

    /// Takes over what trying it out showed.
    pub fn take(&mut self, seen: &Rehearsed) {
        self.refresh_hz = seen.refresh_hz;
        self.trials = seen.trials.len();
        self.warnings.clone_from(&seen.warnings);
        self.not_found.clone_from(&seen.not_found);
        let room = seen.trials.iter().filter_map(|t| t.room_s);
        let mut room: Vec<f64> = room.map(|s| s * 1e3).collect();
        room.sort_by(f64::total_cmp);
        let tight = room.get(room.len() / 10);
        self.longest_ms = tight.map(|r| whole_that_fits(r - DEFAULT_HOLD.0));
        let flicker = seen.hygiene.as_ref().and_then(|h| h.flicker.as_ref());
        self.lamp = flicker.and_then(|f| Some((f.seen_hz?, f.confirms_capture_fps?)));
    }

    /// The window that is proposed, ms.
    pub fn window_ms(&self) -> f64 {
        let longest = self.longest_ms.map(|ms| ms - MARGIN_MS);
        let fits = longest.unwrap_or(DEFAULT_WINDOW.0);
        let stepped = (fits / WINDOW_STEP_MS).floor() * WINDOW_STEP_MS;
        stepped.clamp(SHORTEST_MS.max(DEFAULT_HOLD.0), DEFAULT_WINDOW.0)
    }

    /// The rate that a screen of 60 refreshes a second speaks for, where
    /// nothing else tells.
    pub fn suggested_fps(&self) -> Option<f64> {
        let updates = self.refresh_hz.filter(|_| self.rate.is_none())?;
        let guess = ASSUMED_FPS * 60.0 / updates;
        let near = |f: &f64| (guess / f - 1.0).abs() < 0.02;
        USUAL_FPS.into_iter().find(near)
    }

    /// The rig to try out with on the clip's beginning, up to the stored second
    /// `until`: the rate is always given.
    pub fn trial_toml(&self, until: f64) -> String {
        let mut short = self.clone();
        short.parts.retain(|p| p.from_s < until);
        if self.parts.is_empty() {
            short.rate = Some((self.fps(), None));
        }
        short.toml()
    }

    /// The rig file.
    pub fn toml(&self) -> String {
        let mut t = format!(
            "# Drafted by `focuslag scout` from {}. Look at the picture beside this file\n\
             # before you rely on it.\nname = {}\n\n[capture]\n",
            plain(&self.clip),
            names::toml(&plain(&self.name))
        );
        comment(&mut t, &self.rate_finding());
        t += &match self.rate {
            _ if !self.parts.is_empty() => self.segments_toml(),
            Some((fps, None)) => format!("fps = {}\n", number(fps)),
            Some((fps, Some(_))) => format!("# fps = {}\n", number(fps)),
            None => {
                let fps = number(self.suggested_fps().unwrap_or(ASSUMED_FPS));
                format!("# fps = {fps}   # take out the first # once you are sure\n")
            }
        };
        let (w, h) = self.size;
        t += &format!("frame_size = [{w}, {h}]\n\n[screen]\n");
        comment(&mut t, &self.screen_finding());
        t += &match &self.found {
            Some(f) => format!("corners = {:?}\n", f.rounded()),
            None => "feed = true\n".to_owned(),
        };
        comment(&mut t, &self.refresh_finding());
        if let Some(hz) = self.refresh_hz {
            t += &format!("# refresh_hz = {}\n", number(hz));
        }
        comment(&mut t, &self.area_finding());
        t += "af_area = [0.35, 0.30, 0.65, 0.70]\n";
        comment(&mut t, &self.masks_finding());
        if !self.graphics.masks.is_empty() {
            t += &format!("masks = {:?}\n", self.graphics.masks);
        }
        t += "\n[stimulus]\n";
        comment(&mut t, &self.stimulus_finding());
        t += &match self.kind {
            Kind::Light(p) => format!("kind = \"light\"\nregion = {:?}\n", p.rect),
            Kind::Swing(None) => "kind = \"swing\"\nat = \"rest\"\n".to_owned(),
            Kind::Swing(Some(d)) => {
                let region = d.place.rect;
                format!("kind = \"swing\"\nat = \"rest\"\nregion = {region:?}\n")
            }
        };
        t += "\n[trial]\n";
        comment(&mut t, &self.window_finding());
        let (window, hold) = (number(self.window_ms()), number(DEFAULT_HOLD.0));
        t + &format!("window_ms = {window}\nhold_ms = {hold}\n")
    }

    fn segments_toml(&self) -> String {
        let row = |p: &Part| format!("{{ from_s = {:.3}, fps = {} }}", p.from_s, number(p.fps));
        let rows: Vec<String> = self.parts.iter().map(row).collect();
        format!("segments = [{}]\n", rows.join(", "))
    }
}

/// A finding as comment lines.
fn comment(t: &mut String, f: &Finding) {
    let mut text = format!("{}: {}. {}.", capital(f.what), f.value, capital(f.sure));
    if !f.check.is_empty() {
        text += &format!(" Check: {}.", f.check);
    }
    for l in textwrap::wrap(&plain(&text), 84) {
        *t += &format!("# {l}\n");
    }
}

fn capital(s: &str) -> String {
    let mut c = s.chars();
    c.next()
        .map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

/// A number to a hundredth, whole where it is nearly so; TOML takes it as it is.
pub(super) fn number(v: f64) -> String {
    let near = (v * 100.0).round() / 100.0;
    format!("{near}")
}
