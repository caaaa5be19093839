//! What was found, in words: every value, how sure it is, what to check by eye.

use serde::Serialize;

use super::draft::{Draft, Kind, SHORTEST_MS, number};
use super::parts::Part;
use super::{DEFAULT_HOLD, FEWEST_TRIALS, RateFrom, SMALL_AREA_PX, area_px};

/// One value that was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    pub what: &'static str,
    /// Its value in words.
    pub value: String,
    /// How sure.
    pub sure: &'static str,
    /// What to check by eye; empty: nothing.
    pub check: String,
}

impl Finding {
    fn new(what: &'static str, value: String, sure: &'static str, check: &str) -> Self {
        Self {
            what,
            value,
            sure,
            check: check.to_owned(),
        }
    }
}

impl Draft {
    /// Everything that was found, in the order of the file.
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

    /// Rates of a clip that is slowed down in parts.
    fn parts_finding(&self) -> Finding {
        let part = |p: &Part| {
            let (fps, stored) = (number(p.fps), number(p.stored_fps));
            format!("{fps} from {:.3} s on (stored at {stored})", p.from_s)
        };
        let parts: Vec<String> = self.parts.iter().map(part).collect();
        let value = format!(
            "the clip is slowed down in parts; frames a second as filmed: {}",
            parts.join(", ")
        );
        let check = "the parts begin where motion becomes slow or quick; they hold for this clip \
                     alone, and every other clip that is slowed down in part needs a rig and a \
                     setup of its own";
        Finding::new("capture rate", value, "fairly sure", check)
    }

    pub(super) fn rate_finding(&self) -> Finding {
        if !self.parts.is_empty() {
            return self.parts_finding();
        }
        let stored = number(self.stored_fps);
        let rate = |fps| format!("{} frames a second", number(fps));
        let (value, mut sure, check) = match self.rate {
            Some((fps, None)) => (rate(fps), "as you said", ""),
            Some((fps, Some(RateFrom::Metadata))) => (
                rate(fps) + &format!(", from the clip's metadata (stored at {stored})"),
                "fairly sure",
                "metadata state what the filming camera was set to",
            ),
            Some((fps, Some(_))) => (rate(fps) + ", as the time stamps run", "sure", ""),
            None => {
                let hint = self.suggested_fps().map_or(String::new(), |f| {
                    let f = number(f);
                    format!("; if the camera's screen refreshes 60 times a second it is {f}")
                });
                let known = "which real time and slow motion both are";
                (
                    format!("not known: stored at {stored} frames a second, {known}{hint}"),
                    "not known",
                    "write the rate the filming camera was set to, or run scout again with --fps",
                )
            }
        };
        let mut check = check.to_owned();
        if let Some((hz, confirms)) = self.lamp {
            let seen = format!("a lamp's flicker seen at {} Hz", number(hz));
            if confirms && self.rate.is_some() {
                check = seen + " confirms it";
            } else if !confirms {
                sure = "in doubt";
                check = seen + " does not fit this rate";
            }
        }
        Finding::new("capture rate", value, sure, &check)
    }

    pub(super) fn screen_finding(&self) -> Finding {
        let Some(f) = &self.found else {
            let feed = "the whole frame is the feed".to_owned();
            return Finding::new("screen", feed, "as you said", "");
        };
        let value = format!(
            "{:.0} × {:.0} px, corners to ±{:.1} px; its edge was seen along {:.0} % of its \
             least plain side{}",
            f.corners.width(),
            f.corners.height(),
            2.0 * f.corner_u_px,
            100.0 * f.support,
            shakes(f.sway_px)
        );
        let check = "the outline in the picture runs along the inner edge of the dark rim, and TL \
                     is the top left corner as the screen's user reads it (the frame is taken to \
                     be not upside down)";
        Finding::new("screen", value, f.sureness(), check)
    }

    pub(super) fn refresh_finding(&self) -> Finding {
        let Some(hz) = self.refresh_hz else {
            let none = "could not be told: every frame changes, or hardly any".to_owned();
            let check = "write `refresh_hz` if you know it; else times are good to a frame only";
            return Finding::new("refresh", none, "not known", check);
        };
        let hz = number(hz);
        let value = format!("the screen changes {hz} times a second; measured anew in every clip");
        if self.rate.is_some() {
            return Finding::new("refresh", value, "fairly sure", "");
        }
        let check = format!("for a true rate of {} only", number(self.fps()));
        Finding::new("refresh", value, "not sure", &check)
    }

    pub(super) fn area_finding(&self) -> Finding {
        let px = self.found.as_ref().map(|f| area_px(&f.corners));
        let small = px.filter(|p| *p < SMALL_AREA_PX);
        let small = small.map_or(String::new(), |p| {
            format!("; it is only {p:.0} px across, {SMALL_AREA_PX:.0} are better")
        });
        let lies = "the box AF in the picture lies where the camera focuses";
        let check = format!("{lies}, and the target fills it{small}");
        let value = "the middle of the screen, by default".to_owned();
        Finding::new("focus area", value, "not looked for", &check)
    }

    pub(super) fn masks_finding(&self) -> Finding {
        let n = self.graphics.masks.len();
        let (value, check) = if self.graphics.too_much {
            (
                "much is drawn over the focus area, too much to leave out".to_owned(),
                "turn off what the camera draws over its picture",
            )
        } else if n == 0 {
            let none = "no graphics that stay were seen over the focus area";
            (none.to_owned(), "")
        } else {
            (
                format!("{n} rectangles over graphics that stay or come up"),
                "the red boxes in the picture lie on graphics, not on the target",
            )
        };
        Finding::new("graphics", value, "fairly sure", check)
    }

    pub(super) fn stimulus_finding(&self) -> Finding {
        let few = self.trials < FEWEST_TRIALS;
        let n = self.trials;
        let swings = format!("something swings on the screen, {n} trials");
        let (value, sure, check) = match self.kind {
            Kind::Light(_) => (
                format!("a light beside the screen goes on {n} times"),
                "fairly sure",
                "the box LIGHT in the picture lies on your trigger light, and on nothing else \
                 that blinks",
            ),
            Kind::Swing(_) if few => (
                format!("no swing was seen on the screen ({n} trials)"),
                "not known",
                "set `kind`, and `region` for a trigger light; or use a clip with several swings",
            ),
            Kind::Swing(None) => (
                swings,
                "fairly sure",
                "`at = \"rest\"` is for a target against a stop; write \"cover\" for a free \
                 pendulum",
            ),
            Kind::Swing(Some(d)) => (
                swings
                    + &format!(
                        "; beside it the same is seen {:.0} ms earlier",
                        1e3 * d.lead_s
                    ),
                if d.alike > 0.8 {
                    "fairly sure"
                } else {
                    "not sure"
                },
                "the box DIRECT in the picture holds the target's whole way and nothing else that \
                 moves; `at = \"rest\"` is for a target against a stop, \"cover\" for a free \
                 pendulum",
            ),
        };
        Finding::new("stimulus", value, sure, check)
    }

    pub(super) fn window_finding(&self) -> Finding {
        let (value, sure, check) = match self.longest_ms {
            Some(ms) if ms < SHORTEST_MS.max(DEFAULT_HOLD.0) => (
                format!("only {ms:.0} ms fit between two trials: too little"),
                "fairly sure",
                "leave more time between swings",
            ),
            Some(ms) => (
                format!("up to {ms:.0} ms fit between two trials"),
                "fairly sure",
                "seen in this clip alone: others of the session may leave less",
            ),
            None => {
                let usual = "the default; too few trials to tell what fits";
                (usual.to_owned(), "not looked for", "")
            }
        };
        Finding::new("window", value, sure, check)
    }
}

/// A word where the filming camera moves.
fn shakes(sway_px: f64) -> String {
    if sway_px < 0.3 {
        return String::new();
    }
    let both = 2.0 * sway_px;
    format!("; the film shakes by about ±{both:.1} px around that")
}
