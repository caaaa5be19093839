//! Pictures of a clip's trials.

use std::io;

use super::keep::{Eye, Kept};
use crate::screen::{Reel, Thumb};
use crate::store::evidence::{Grey, Moment};
use crate::trial::{Curve, Observed};

/// What the pictures of trials are taken from, while the film is at hand.
pub struct Sights {
    /// Where it looks.
    pub eye: Eye,
    /// Crops of the focus area.
    pub kept: Kept,
    /// Small pictures of the screen, one a frame.
    pub screen: Reel,
}

/// A picture of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Shot {
    /// What it shows.
    pub moment: Moment,
    /// The frame's number.
    pub frame: usize,
    /// Its time, seconds as shot.
    pub time_s: f64,
    /// The focus area, JPEG.
    pub area: Vec<u8>,
    /// The whole screen, small, JPEG.
    pub screen: Option<Vec<u8>>,
}

/// The instants at which a trial is looked at, whatever its verdict will be.
pub(super) fn instants(seen: &Observed, curve: &Curve) -> Vec<(Moment, f64)> {
    let (onset, end) = (seen.stimulus.onset_s, seen.end_s);
    // An update is best seen in its middle.
    let middle = curve.period_s / 2.0;
    let until = seen.settle_s.unwrap_or(end);
    let lowest = curve
        .between(onset - curve.period_s, until)
        .iter()
        .min_by(|a, b| a.value.total_cmp(&b.value));
    let blurred = lowest.map(|s| (Moment::Blurred, s.shown_s.max(onset - middle) + middle));
    let settled = seen.settle_s.map(|s| (Moment::Settled, s + middle));
    [Some((Moment::Onset, onset)), blurred, settled]
        .into_iter()
        .flatten()
        .chain([(Moment::End, end - middle)])
        .collect()
}

/// The pictures of every trial; none where no crop was kept.
///
/// # Errors
/// When a temporary file cannot be read.
pub fn shots(
    sights: Option<&mut Sights>,
    times: &[f64],
    curve: &Curve,
    trials: &[Observed],
) -> io::Result<Vec<Vec<Shot>>> {
    let Some(sights) = sights.filter(|s| !s.kept.is_empty()) else {
        return Ok(vec![Vec::new(); trials.len()]);
    };
    let mut all = Vec::new();
    for seen in trials {
        let mut own = Vec::new();
        for (moment, t) in instants(seen, curve) {
            let Some((frame, grey)) = sights.kept.nearest(&sights.eye, times, t)? else {
                continue;
            };
            let Ok(area) = grey.to_jpeg() else { continue };
            let screen = sights.screen.get(frame).ok().map(|thumb| grey_of(&thumb));
            own.push(Shot {
                moment,
                frame,
                time_s: times.get(frame).copied().unwrap_or(t),
                area,
                screen: screen.and_then(|g| g.to_jpeg().ok()),
            });
        }
        all.push(own);
    }
    Ok(all)
}

fn grey_of(thumb: &Thumb) -> Grey {
    Grey {
        width: thumb.width,
        height: thumb.height,
        pixels: thumb
            .cells
            .iter()
            .map(|v| (v * 255.0 + 0.5) as u8)
            .collect(),
    }
}
