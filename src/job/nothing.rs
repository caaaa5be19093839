//! Words for a clip in which nothing started a trial: what was looked for,
//! where, and what came nearest.

use super::gauge::CELLS;
use super::signals::Signals;
use crate::rig::{Rig, Stimulus, SwingAt};
use crate::trial::{COVERED, LEAST_LIGHT_STEP, LEAST_SWING_CELLS};

/// What was watched for, and how far what was seen fell short; in a sentence
/// that goes on from a clip's name.
pub fn words(rig: &Rig, signals: &Signals) -> String {
    let (seen, advice) = match &rig.stimulus {
        Stimulus::Light { region } => {
            let at = [region.x0, region.y0, region.x1, region.y1].map(|v| v.round());
            (
                light(&signals.light, at),
                "outline the light itself in `stimulus.region`; `focuslag scout` looks for it",
            )
        }
        Stimulus::Tone => (
            "no beep was heard: a steady tone from 1 to 8 kHz, 20 ms or longer, 12 dB above its \
             background"
                .to_owned(),
            "film nearer to the camera, or with a louder beep",
        ),
        Stimulus::Swing {
            at: SwingAt::Cover, ..
        } => (
            cover(&signals.cover),
            "check `screen.corners` and `screen.af_area` against a still of this clip",
        ),
        Stimulus::Swing { region, .. } => {
            let moved = signals.shifts.iter().map(|s| s.moved).fold(0.0, f64::max);
            let view = region.map_or("on the screen", |_| "in `stimulus.region`");
            (
                format!(
                    "nothing was seen to swing {view} and come to rest: at most {:.0} % of it \
                     changed at once; a swing goes {LEAST_SWING_CELLS:.0} of its {} columns or \
                     more, and then stays",
                    100.0 * moved,
                    CELLS.0
                ),
                "check `screen.corners` and `stimulus.region` against a still of this clip, or \
                 `at = \"cover\"` for a free pendulum",
            )
        }
    };
    format!("no trial found: {seen}; {advice}")
}

/// Of a light's brightness, frame by frame.
fn light(light: &[f64], [x0, y0, x1, y1]: [f64; 4]) -> String {
    let (low, high) = ends(light);
    format!(
        "no light went on in {x0:.0},{y0:.0} to {x1:.0},{y1:.0} px: its brightest part stayed \
         between {:.0} and {:.0} % of full scale; a light counts from a plain step of {:.0} \
         points on, and one that is on from the start does not",
        100.0 * low,
        100.0 * high,
        100.0 * LEAST_LIGHT_STEP
    )
}

/// Of how much of the area a target covers, update by update.
fn cover(cover: &[f64]) -> String {
    let (low, high) = ends(cover);
    format!(
        "nothing came to cover the focus area and left it: between {:.0} and {:.0} % of it were \
         covered; a target is in from {:.0} % on, and gone below {:.0} %",
        100.0 * low,
        100.0 * high,
        100.0 * COVERED,
        100.0 * (1.0 - COVERED)
    )
}

fn ends(v: &[f64]) -> (f64, f64) {
    let told = v.iter().copied().filter(|v| v.is_finite());
    let (low, high) = told.fold((1.0, 0.0), |(a, b): (f64, f64), v| (a.min(v), b.max(v)));
    (low.min(high), high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_fell_short_is_said_with_its_figures() {
        let said = light(&[0.31, 0.33, 0.32, f64::NAN], [10.0, 20.0, 30.0, 44.0]);
        assert!(said.contains("10,20 to 30,44 px"), "{said}");
        assert!(said.contains("between 31 and 33 %"), "{said}");
        assert!(cover(&[0.2, 0.75]).contains("between 20 and 75 %"));
        assert!(cover(&[]).contains("between 0 and 0 %"));
    }
}
