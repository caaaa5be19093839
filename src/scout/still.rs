//! The annotated picture: the clip's mean frame, upright, with everything the
//! draft names drawn in.

use image::{DynamicImage, Rgb, RgbImage};
use imageproc::drawing::draw_line_segment_mut;

use super::draft::{Draft, Kind};
use super::letters::write;
use crate::clip::ClipIndex;
use crate::geometry::{Homography, Point, Quad, ScreenFrac, UprightPx, whole_screen};
use crate::job::upright;
use crate::rig::Rig;
use crate::screen::find::Looks;

const SCREEN: Rgb<u8> = Rgb([60, 230, 90]);
const AREA: Rgb<u8> = Rgb([255, 210, 40]);
const REGION: Rgb<u8> = Rgb([80, 200, 255]);
const MASK: Rgb<u8> = Rgb([255, 80, 70]);

/// Draws it; as large as the upright frame.
pub fn still(looks: &Looks, index: &ClipIndex, rig: &Rig, draft: &Draft) -> RgbImage {
    let mean = upright(&looks.mean(), index.orientation);
    let mut image = DynamicImage::ImageLuma8(mean).into_rgb8();
    let whole = Quad::rect(0.0, 0.0, draft.size.0 as f64, draft.size.1 as f64);
    let screen = rig.screen.corners.unwrap_or(whole);
    let dot = i64::from(image.height() / 360).max(1);
    outline(&mut image, &screen, SCREEN);
    let map: Option<Homography<ScreenFrac, UprightPx>> =
        Homography::between(&whole_screen(), &screen);
    if let Some(map) = map {
        for mask in &rig.screen.masks {
            outline(&mut image, &map.apply_quad(&mask.quad()), MASK);
        }
        let area = map.apply_quad(&rig.screen.af_area.quad());
        outline(&mut image, &area, AREA);
        label(&mut image, "AF", area.corners[0], (2, 2), dot, AREA);
    }
    let rect = |r: [f64; 4]| Quad::rect(r[0], r[1], r[2], r[3]);
    let region = match draft.kind {
        Kind::Light(p) => Some(("LIGHT", p.rect)),
        Kind::Swing(Some(d)) => Some(("DIRECT", d.place.rect)),
        Kind::Swing(None) => None,
    };
    if let Some((name, r)) = region {
        outline(&mut image, &rect(r), REGION);
        let below = Point::new(r[0], r[3]);
        let wide = 6 * dot * name.len() as i64;
        let room = i64::from(image.width()) - r[0] as i64;
        label(
            &mut image,
            name,
            below,
            ((room - wide).min(0), 3),
            dot,
            REGION,
        );
    }
    let names = [("TL", 1, 1), ("TR", -1, 1), ("BR", -1, -1), ("BL", 1, -1)];
    for ((name, right, down), corner) in names.into_iter().zip(screen.corners) {
        let at = |sign: i64, size: i64| if sign > 0 { 3 } else { -3 - size };
        let by = (at(right, 12 * dot), at(down, 8 * dot));
        label(&mut image, name, corner, by, dot, SCREEN);
    }
    image
}

fn label(
    image: &mut RgbImage,
    text: &str,
    at: Point<UprightPx>,
    by: (i64, i64),
    dot: i64,
    color: Rgb<u8>,
) {
    let (x, y) = (at.x.round() as i64 + by.0, at.y.round() as i64 + by.1);
    write(image, text, (x, y), dot, color);
}

fn outline(image: &mut RgbImage, quad: &Quad<UprightPx>, color: Rgb<u8>) {
    for i in 0..4 {
        let (a, b) = (quad.corners[i], quad.corners[(i + 1) % 4]);
        // A pixel's centre is at +0.5, and that is where a line is drawn.
        let px = |p: Point<UprightPx>| ((p.x - 0.5) as f32, (p.y - 0.5) as f32);
        draw_line_segment_mut(image, px(a), px(b), color);
    }
}
