//! `[screen]` and rectangles.

use super::fields::Table;
use super::spec::{AreaFrac, DEFAULT_AF_AREA, PixelRect, ScreenSpec};
use super::value::Value;
use crate::geometry::{Point, Quad, UprightPx};
use crate::units::Hertz;

/// A screen narrower or lower than this many pixels holds no picture to judge.
const LEAST_SIDE_PX: f64 = 32.0;

/// Reads `[screen]`; `frame` is the upright frame's size where it is known.
pub(super) fn screen(table: &Table<'_>, frame: Option<(usize, usize)>) -> Option<ScreenSpec> {
    let feed = table.value("feed").map(|v| v.flag());
    let corners = table.value("corners").map(|v| corners(&v, frame));
    let refresh_hz = table.number("refresh_hz", 1.0..=1000.0).map(Hertz);
    let af_area = table.value("af_area").map(|v| area(&v));
    let masks = table.value("masks").map(|v| {
        let items = v.items().unwrap_or_default();
        items.iter().map(area).collect::<Vec<_>>()
    });
    let feed = feed.unwrap_or(Some(false));
    if feed == Some(true) {
        table.refuse("corners", "has no place beside `feed = true`, where the whole frame is the picture; take one of the two out");
    }
    let af_area = af_area.unwrap_or(Some(DEFAULT_AF_AREA));
    let masks: Option<Vec<AreaFrac>> = masks.unwrap_or_default().into_iter().collect();
    if let (Some(area), Some(masks)) = (&af_area, &masks)
        && covered(area, masks)
    {
        table.fault(
            "masks",
            "cover the whole af_area, nothing is left to measure; make them smaller",
        );
    }
    Some(ScreenSpec {
        corners: corners.unwrap_or_default(),
        feed: feed?,
        refresh_hz,
        af_area: af_area?,
        masks: masks?,
    })
}

fn corners(value: &Value<'_>, frame: Option<(usize, usize)>) -> Option<Quad<UprightPx>> {
    let items = value.items()?;
    if items.len() != 4 {
        let found = items.len();
        value.fault(format!("holds {found} points; give four, [[x, y], …]: top left, top right, bottom right, bottom left"));
        return None;
    }
    let points: Vec<_> = items.iter().map(|i| i.numbers(["x", "y"])).collect();
    let points: Vec<[f64; 2]> = points.into_iter().collect::<Option<_>>()?;
    let inside = items
        .iter()
        .zip(&points)
        .map(|(item, [x, y])| in_frame(item, &[*x], &[*y], frame));
    let inside = inside.fold(true, |all, one| all & one);
    let points: [[f64; 2]; 4] = points.try_into().ok()?;
    let quad = Quad::new(points.map(|[x, y]| Point::new(x, y)));
    let complaint = shape_complaint(&quad);
    if let Some(complaint) = complaint {
        value.fault(complaint);
    }
    (inside && complaint.is_none()).then_some(quad)
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

/// Notes where a coordinate lies outside the frame.
fn in_frame(value: &Value<'_>, xs: &[f64], ys: &[f64], frame: Option<(usize, usize)>) -> bool {
    #[allow(clippy::cast_precision_loss)]
    let (w, h) = frame.map_or((f64::MAX, f64::MAX), |(w, h)| (w as f64, h as f64));
    let good = xs.iter().all(|x| (0.0..=w).contains(x)) && ys.iter().all(|y| (0.0..=h).contains(y));
    if !good {
        let size = frame.map_or(String::new(), |(w, h)| format!(" of {w} × {h}"));
        value.fault(format!(
            "lies outside the frame{size}; give pixels of the upright frame"
        ));
    }
    good
}

/// A rectangle in fractions of the screen.
pub(super) fn area(value: &Value<'_>) -> Option<AreaFrac> {
    let [left, top, right, bottom] = value.numbers(["left", "top", "right", "bottom"])?;
    if ![left, top, right, bottom]
        .iter()
        .all(|v| (0.0..=1.0).contains(v))
    {
        value.fault("reaches beyond the screen; give fractions of the screen from 0 to 1: [left, top, right, bottom]");
        return None;
    }
    if left >= right || top >= bottom {
        value.fault("is empty; left must be smaller than right and top smaller than bottom: [left, top, right, bottom]");
        return None;
    }
    Some(AreaFrac {
        left,
        top,
        right,
        bottom,
    })
}

/// A rectangle in pixels of the upright frame.
pub(super) fn pixel_rect(value: &Value<'_>, frame: Option<(usize, usize)>) -> Option<PixelRect> {
    let [x0, y0, x1, y1] = value.numbers(["x0", "y0", "x1", "y1"])?;
    if x0 >= x1 || y0 >= y1 {
        value
            .fault("is empty; x0 must be smaller than x1 and y0 smaller than y1: [x0, y0, x1, y1]");
        return None;
    }
    in_frame(value, &[x0, x1], &[y0, y1], frame).then_some(PixelRect { x0, y0, x1, y1 })
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
