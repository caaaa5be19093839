//! Four-sided bright shapes.

use image::GrayImage;
use imageproc::contours::{BorderType, find_contours_with_threshold};
use imageproc::geometry::{approximate_polygon_dp, contour_area, convex_hull};
use imageproc::point::Point as Px;

use super::Picture;
use crate::geometry::{Point, Quad, StoredPx, distance};

/// Levels of light at which the picture is cut.
const LEVELS: usize = 36;
/// Smallest and largest shape, share of the picture.
const LEAST_AREA: f64 = 0.008;
const MOST_AREA: f64 = 0.985;
/// Corners of a hull that are tried as corners of the shape.
const MOST_POINTS: usize = 18;
/// Share of its hull that the shape must fill.
const FILLS: f64 = 0.88;
/// Shapes with corners closer than this are one, px.
const SAME: f64 = 2.5;
/// Most shapes that are looked at.
const MOST: usize = 60;

/// Shapes in the picture's own pixels, clockwise.
pub fn candidates(high: &Picture) -> Vec<Quad<StoredPx>> {
    let image = high.smoothed().gray();
    let frame = f64::from(image.width()) * f64::from(image.height());
    let mut out: Vec<Quad<StoredPx>> = Vec::new();
    for level in levels(&image) {
        for contour in find_contours_with_threshold::<i32>(&image, level) {
            if contour.border_type != BorderType::Outer || contour.points.len() < 32 {
                continue;
            }
            let hull = convex_hull(contour.points);
            let area = contour_area(&hull);
            if !(LEAST_AREA * frame..=MOST_AREA * frame).contains(&area) || at_rim(&hull, &image) {
                continue;
            }
            let Some(quad) = four_sided(&hull, area) else {
                continue;
            };
            if plausible(&quad) && !out.iter().any(|q| same(q, &quad)) && out.len() < MOST {
                out.push(quad);
            }
        }
    }
    out
}

/// Levels that part equal shares of the picture, no two alike.
fn levels(image: &GrayImage) -> Vec<u8> {
    let mut counts = [0usize; 256];
    for p in image.pixels() {
        counts[usize::from(p.0[0])] += 1;
    }
    let total = image.as_raw().len().max(1);
    let mut out = Vec::new();
    let (mut below, mut next) = (0, 1);
    for (level, count) in counts.iter().enumerate().take(255) {
        below += count;
        if below * (LEVELS + 1) >= next * total {
            out.push(u8::try_from(level).unwrap_or(u8::MAX));
            while below * (LEVELS + 1) >= next * total {
                next += 1;
            }
        }
    }
    // A dark rim may hold less than a share.
    let least = counts.iter().position(|c| *c > 0).unwrap_or(0);
    let darkest = (1..=8).filter_map(|k| u8::try_from(least + 6 * k).ok());
    out.extend(darkest);
    out.sort_unstable();
    out.dedup();
    out
}

/// Whether a shape is cut off by the picture's own rim.
fn at_rim(hull: &[Px<i32>], image: &GrayImage) -> bool {
    let (w, h) = (image.width().cast_signed(), image.height().cast_signed());
    hull.iter()
        .any(|p| p.x <= 1 || p.y <= 1 || p.x >= w - 2 || p.y >= h - 2)
}

/// The largest four-sided shape with corners on the hull.
fn four_sided(hull: &[Px<i32>], area: f64) -> Option<Quad<StoredPx>> {
    let mut points = hull.to_vec();
    let mut epsilon = 0.7;
    while points.len() > MOST_POINTS && epsilon < 60.0 {
        points = approximate_polygon_dp(hull, epsilon, true);
        epsilon *= 1.4;
    }
    let at = |i: usize| (f64::from(points[i].x) + 0.5, f64::from(points[i].y) + 0.5);
    let n = points.len();
    let mut best = (0.0, [0; 4]);
    for a in 0..n {
        for b in a + 1..n {
            for c in b + 1..n {
                for d in c + 1..n {
                    let (pa, pb, pc, pd) = (at(a), at(b), at(c), at(d));
                    let size =
                        ((pc.0 - pa.0) * (pd.1 - pb.1) - (pc.1 - pa.1) * (pd.0 - pb.0)).abs();
                    if size > best.0 {
                        best = (size, [a, b, c, d]);
                    }
                }
            }
        }
    }
    if best.0 / 2.0 < FILLS * area {
        return None;
    }
    let mut quad = Quad::new(best.1.map(|i| Point::new(at(i).0, at(i).1)));
    if !quad.is_clockwise() {
        quad.corners.reverse();
    }
    Some(quad)
}

/// Whether a screen can look like this: angles of 50° to 130°, opposite sides
/// at most twice as long as each other, at most three times as long as high.
pub fn plausible(quad: &Quad<StoredPx>) -> bool {
    let c = &quad.corners;
    let side = |i: usize| distance(c[i], c[(i + 1) % 4]).max(1e-9);
    let alike = |a: f64, b: f64, most: f64| a.max(b) <= most * a.min(b);
    let square = (0..4).all(|i| {
        let (p, q, r) = (c[(i + 3) % 4], c[i], c[(i + 1) % 4]);
        let dot = (p.x - q.x) * (r.x - q.x) + (p.y - q.y) * (r.y - q.y);
        (dot / (side((i + 3) % 4) * side(i))).abs() <= 0.643
    });
    square
        && quad.is_convex()
        && alike(side(0), side(2), 2.0)
        && alike(side(1), side(3), 2.0)
        && alike(side(0) + side(2), side(1) + side(3), 3.0)
}

fn same(a: &Quad<StoredPx>, b: &Quad<StoredPx>) -> bool {
    (0..4).any(|k| (0..4).all(|i| distance(a.corners[i], b.corners[(i + k) % 4]) < SAME))
}
