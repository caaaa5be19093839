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
            format!(
                "{} from {:.3} s on (stored at {})",
                number(p.fps),
                p.from_s,
                number(p.stored_fps)
            )
        };
        let parts: Vec<String> = self.parts.iter().map(part).collect();
        Finding {
            what: "capture rate",
            value: format!(
                "the clip is slowed down in parts; frames a second as filmed: {}",
                parts.join(", ")
            ),
            sure: "fairly sure",
            check: "the parts begin where motion becomes slow or quick; they hold for this clip \
                    alone, and every other clip that is slowed down in part needs a rig and a \
                    setup of its own"
                .to_owned(),
        }
    }

    pub(super) fn rate_finding(&self) -> Finding {
        if !self.parts.is_empty() {
            return self.parts_finding();
        }
        let stored = number(self.stored_fps);
        let (value, mut sure, mut check) = match self.rate {
            Some((fps, None)) => (
                format!("{} frames a second", number(fps)),
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

    pub(super) fn screen_finding(&self) -> Finding {
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

    pub(super) fn refresh_finding(&self) -> Finding {
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

    pub(super) fn area_finding(&self) -> Finding {
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

    pub(super) fn masks_finding(&self) -> Finding {
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
                format!("{n} rectangles over graphics that stay or come up"),
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

    pub(super) fn stimulus_finding(&self) -> Finding {
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

    pub(super) fn window_finding(&self) -> Finding {
        let (value, sure, check) = match self.longest_ms {
            Some(ms) if ms < SHORTEST_MS.max(DEFAULT_HOLD.0) => (
                format!("only {ms:.0} ms fit between two trials: too little"),
                "fairly sure",
                "leave more time between swings".to_owned(),
            ),
            Some(ms) => (
                format!("up to {ms:.0} ms fit between two trials"),
                "fairly sure",
                "seen in this clip alone: others of the session may leave less".to_owned(),
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
