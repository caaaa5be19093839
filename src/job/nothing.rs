//! A clip in which what was looked for is not there: in words what was looked for,
//! where, what came nearest and by how much it fell short; and all that a picture
//! of it needs.

use std::path::PathBuf;

use image::{GrayImage, Luma};

use super::gauge::CELLS;
use super::signals::Signals;
use super::stimuli::ways;
use crate::clip::{ClipIndex, Orientation, first_picture};
use crate::geometry::{Homography, Point, Quad, ScreenFrac, UprightPx, whole_screen};
use crate::rig::{PixelRect, Rig, Stimulus, SwingAt};
use crate::screen::find::Picture;
use crate::trial::{COVERED, Curve, LEAST_LIGHT_STEP, LEAST_SWING_CELLS};

/// What was looked for and is not there.
#[derive(Clone, Debug, Default)]
pub struct NotFound {
    /// What was seen and what to do, in a sentence that goes on from the clip's
    /// name.
    pub words: String,
    /// Where it was looked for, by name.
    pub places: Vec<(&'static str, Quad<UprightPx>)>,
    /// What was watched there.
    pub course: Option<Course>,
    /// The clip's first picture, upright; `None` where the clip is not at hand.
    pub picture: Option<GrayImage>,
}

/// The same, and in which clip of which setup.
#[derive(Clone, Debug)]
pub struct NotFoundIn {
    pub setup: String,
    pub clip: PathBuf,
    pub not_found: NotFound,
}

/// A value over the clip, and what it would have had to reach.
#[derive(Clone, Debug)]
pub struct Course {
    /// What is shown, and its unit.
    pub name: String,
    /// Seconds as shot, and the value then.
    pub values: Vec<(f64, f64)>,
    /// Values that count, each with a word.
    pub levels: Vec<(f64, &'static str)>,
}

impl Course {
    /// The lowest and the highest value, and when each was first reached.
    fn ends(&self) -> Option<[(f64, f64); 2]> {
        let told = || self.values.iter().copied().filter(|v| v.1.is_finite());
        let low = told().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let high = told().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
        Some([low, high])
    }
}

impl NotFound {
    /// With the clip's first picture, where it can be had.
    #[must_use]
    pub fn in_clip(mut self, index: &ClipIndex) -> Self {
        let first = first_picture(index).ok().flatten();
        let picture = first.map(|still| Picture::of(&still.frame()));
        self.picture = picture.map(|p| upright(&p, index.orientation));
        self
    }
}

/// A stored picture as it is meant to be seen.
pub fn upright(picture: &Picture, orientation: Orientation) -> GrayImage {
    let (w, h) = orientation.upright_size();
    GrayImage::from_fn(w as u32, h as u32, |x, y| {
        let p = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        let s = orientation.to_stored(p);
        Luma([(255.0 * picture.at(s.x, s.y).clamp(0.0, 1.0)).round() as u8])
    })
}

/// That nothing started a trial.
pub fn no_trial(rig: &Rig, curve: &Curve, times: &[f64], signals: &Signals) -> NotFound {
    let (seen, course) = match &rig.stimulus {
        Stimulus::Light { region } => light(region, times, signals),
        Stimulus::Tone => (
            "no beep was heard: a steady tone from 1 to 8 kHz, 20 ms or longer, 12 dB above its \
             background; film nearer to the camera, or with a louder beep"
                .to_owned(),
            None,
        ),
        Stimulus::Swing {
            at: SwingAt::Cover, ..
        } => cover(curve, signals),
        Stimulus::Swing { region, .. } => swing(*region, curve, times, signals),
    };
    NotFound {
        words: format!("no trial found: {seen}"),
        places: places(rig),
        course,
        picture: None,
    }
}

/// Where the rig has the screen, its focus area and what starts a trial.
pub fn places(rig: &Rig) -> Vec<(&'static str, Quad<UprightPx>)> {
    let mut out = Vec::new();
    if let Some(corners) = rig.screen.corners {
        out.push(("screen", corners));
        let map: Option<Homography<ScreenFrac, UprightPx>> =
            Homography::between(&whole_screen(), &corners);
        out.extend(map.map(|m| ("focus area", m.apply_quad(&rig.screen.af_area.quad()))));
    }
    let rect = |r: &PixelRect| Quad::rect(r.x0, r.y0, r.x1, r.y1);
    match &rig.stimulus {
        Stimulus::Light { region } => out.push(("light", rect(region))),
        Stimulus::Swing {
            region: Some(region),
            ..
        } => out.push(("target", rect(region))),
        Stimulus::Swing { .. } | Stimulus::Tone => {}
    }
    out
}

/// Of a light's brightness, frame by frame.
fn light(region: &PixelRect, times: &[f64], signals: &Signals) -> (String, Option<Course>) {
    let (times, light) = signals.facts.footing.seen(times, &signals.light);
    let values = times.into_iter().zip(light.iter().map(|v| 100.0 * v));
    let mut course = Course {
        name: "brightest part of the light's region, % of full scale".to_owned(),
        values: values.collect(),
        levels: Vec::new(),
    };
    let [x0, y0, x1, y1] = [region.x0, region.y0, region.x1, region.y1].map(f64::round);
    let least = 100.0 * LEAST_LIGHT_STEP;
    let seen = course.ends().map_or_else(String::new, |[low, (at, high)]| {
        course
            .levels
            .push((low.1 + least, "would count as a light that goes on"));
        format!(
            ": its brightest part went from {:.0} to {high:.0} % of full scale, brightest \
             {at:.2} s after the start",
            low.1
        )
    });
    let words = format!(
        "no light went on in {x0:.0},{y0:.0} to {x1:.0},{y1:.0} px{seen}; a light counts from a \
         plain step of {least:.0} points on, and one that is on from the start does not; outline \
         the light itself in `stimulus.region`; `focuslag scout` looks for it"
    );
    (words, Some(course))
}

/// Of how much of the area a target covers, update by update.
fn cover(curve: &Curve, signals: &Signals) -> (String, Option<Course>) {
    let samples = curve.samples.iter().zip(&signals.cover);
    let (near, far) = (100.0 * COVERED, 100.0 * (1.0 - COVERED));
    let course = Course {
        name: "share of the focus area that the target covers, %".to_owned(),
        values: samples.map(|(s, c)| (s.shown_s, 100.0 * c)).collect(),
        levels: vec![(near, "in from here on"), (far, "gone from here on")],
    };
    let (low, high) = course
        .ends()
        .map_or((0.0, 0.0), |[low, high]| (low.1, high.1));
    let words = format!(
        "nothing came to cover the focus area and left it: between {low:.0} and {high:.0} % of it \
         were covered; a target is in from {near:.0} % on, and gone below {far:.0} %; check \
         `screen.corners` and `screen.af_area` against a still of this clip"
    );
    (words, Some(course))
}

/// Of how far the target went, step by step.
fn swing(
    region: Option<PixelRect>,
    curve: &Curve,
    times: &[f64],
    signals: &Signals,
) -> (String, Option<Course>) {
    let course = Course {
        name: format!(
            "columns (of {}) that what moves went since it was at rest",
            CELLS.0
        ),
        values: ways(curve, times, signals),
        levels: vec![(
            LEAST_SWING_CELLS,
            "would count as a swing that comes to rest",
        )],
    };
    let view = region.map_or("on the screen", |_| "in `stimulus.region`");
    let nearest = match course.ends() {
        Some([_, (at, way)]) if way >= LEAST_SWING_CELLS => format!(
            "what moved went {way:.0} columns, until {at:.2} s after the start, and did not stay \
             at rest"
        ),
        Some([_, (at, way)]) if way > 0.0 => {
            format!("the longest way was {way:.1} columns, until {at:.2} s after the start")
        }
        _ => "nothing moved as one thing".to_owned(),
    };
    let words = format!(
        "nothing was seen to swing {view} and come to rest: {nearest}; a swing goes \
         {LEAST_SWING_CELLS:.0} of its {} columns or more, and then stays; check `screen.corners` \
         and `stimulus.region` against a still of this clip, or `at = \"cover\"` for a free pendulum",
        CELLS.0
    );
    (words, Some(course))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_a_course_pass_over_what_is_not_known() {
        let course = |values: &[f64]| Course {
            name: String::new(),
            values: (0..).map(f64::from).zip(values.iter().copied()).collect(),
            levels: Vec::new(),
        };
        let told = course(&[0.31, f64::NAN, 0.33, 0.33, 0.2]).ends();
        assert_eq!(told, Some([(4.0, 0.2), (2.0, 0.33)]));
        assert_eq!(course(&[f64::NAN]).ends(), None);
    }
}
