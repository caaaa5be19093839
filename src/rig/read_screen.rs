//! `[screen]` and rectangles.

use serde::de::{Deserialize, Deserializer};

use super::spec::{AreaFrac, PixelRect, ScreenSpec};
use crate::geometry::{Point, Quad, UprightPx};
use crate::written::Sheet;
use crate::written::values::{area, numbers, refused};

/// A screen narrower or lower than this many pixels holds no picture to judge.
const LEAST_SIDE_PX: f64 = 32.0;

impl ScreenSpec {
    /// Tells what does not go together; `frame` is the upright frame's size
    /// where it is known.
    pub(super) fn check(&self, sheet: &Sheet, frame: Option<(usize, usize)>) {
        for (i, p) in self.corners.iter().flat_map(|q| q.corners).enumerate() {
            let key = format!("screen.corners[{i}]");
            in_frame(sheet, &key, &[p.x], &[p.y], frame);
        }
        if self.feed {
            sheet.refuse_key("screen.corners", "has no place beside `feed = true`, where the whole frame is the picture; take one of the two out");
        }
        if covered(&self.af_area, &self.masks) {
            let message = "cover the whole af_area, nothing is left to measure; make them smaller";
            sheet.fault("screen.masks", message);
        }
    }
}

/// A list of which every element is looked at.
pub(super) fn each<'de, D: Deserializer<'de>>(d: D) -> Result<Vec<AreaFrac>, D::Error> {
    let list = Vec::<Option<AreaFrac>>::deserialize(d)?;
    Ok(list.into_iter().flatten().collect())
}

struct Corner([f64; 2]);

impl<'de> Deserialize<'de> for Corner {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        numbers(d, ["x", "y"]).map(Self)
    }
}

pub(super) fn corners<'de, D: Deserializer<'de>>(
    d: D,
) -> Result<Option<Quad<UprightPx>>, D::Error> {
    let list = Vec::<Corner>::deserialize(d)?;
    let points: Vec<_> = list
        .iter()
        .map(|Corner([x, y])| Point::new(*x, *y))
        .collect();
    let Ok(points) = points.try_into() else {
        let found = list.len();
        return refused(format!(
            "holds {found} points; give four, [[x, y], …]: top left, top right, bottom right, bottom left"
        ));
    };
    let quad = Quad::new(points);
    shape_complaint(&quad).map_or(Ok(Some(quad)), refused)
}

fn shape_complaint(quad: &Quad<UprightPx>) -> Option<&'static str> {
    if !quad.is_convex() {
        Some(
            "do not make a plain four-sided shape (sides cross, or three corners lie on a line); give them in the order top left, top right, bottom right, bottom left as the screen's user reads it",
        )
    } else if !quad.is_clockwise() {
        Some(
            "run the wrong way round, as in a mirror; give them in the order top left, top right, bottom right, bottom left as the screen's user reads it",
        )
    } else if quad.width() < LEAST_SIDE_PX || quad.height() < LEAST_SIDE_PX {
        Some(
            "enclose less than 32 pixels across; give pixels of the upright frame, not fractions, and film the screen larger",
        )
    } else {
        None
    }
}

/// Tells a coordinate outside the frame.
pub(super) fn in_frame(
    sheet: &Sheet,
    key: &str,
    xs: &[f64],
    ys: &[f64],
    frame: Option<(usize, usize)>,
) {
    let (w, h) = frame.map_or((f64::MAX, f64::MAX), |(w, h)| (w as f64, h as f64));
    let good = xs.iter().all(|x| (0.0..=w).contains(x)) && ys.iter().all(|y| (0.0..=h).contains(y));
    if !good {
        let size = frame.map_or(String::new(), |(w, h)| format!(" of {w} × {h}"));
        let message = format!("lies outside the frame{size}; give pixels of the upright frame");
        sheet.fault(key, message);
    }
}

impl<'de> Deserialize<'de> for AreaFrac {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        area(d).map(|[left, top, right, bottom]| Self {
            left,
            top,
            right,
            bottom,
        })
    }
}

impl<'de> Deserialize<'de> for PixelRect {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let [x0, y0, x1, y1] = numbers(d, ["x0", "y0", "x1", "y1"])?;
        if x0 >= x1 || y0 >= y1 {
            return refused(
                "is empty; x0 must be smaller than x1 and y0 smaller than y1: [x0, y0, x1, y1]",
            );
        }
        Ok(Self { x0, y0, x1, y1 })
    }
}

/// Whether the masks together cover the area: every cell of the grid that all
/// edges draw lies in some mask.
fn covered(area: &AreaFrac, masks: &[AreaFrac]) -> bool {
    let cuts = |lo: f64, hi: f64, edges: Vec<f64>| {
        let mut cuts: Vec<f64> = edges.into_iter().filter(|e| *e > lo && *e < hi).collect();
        cuts.extend([lo, hi]);
        cuts.sort_by(f64::total_cmp);
        let middles: Vec<f64> = cuts.windows(2).map(|w| f64::midpoint(w[0], w[1])).collect();
        middles
    };
    let edges = |f: fn(&AreaFrac) -> [f64; 2]| masks.iter().flat_map(f).collect::<Vec<f64>>();
    let xs = cuts(area.left, area.right, edges(|m| [m.left, m.right]));
    let ys = cuts(area.top, area.bottom, edges(|m| [m.top, m.bottom]));
    xs.iter()
        .all(|x| ys.iter().all(|y| masks.iter().any(|m| m.contains(*x, *y))))
}
