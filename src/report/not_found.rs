//! A picture of what was looked for in a clip and not found: the clip's first
//! frame with where it was looked for, and what was watched there over time.

use image::imageops::{FilterType, overlay, resize};
use image::{DynamicImage, Rgb, RgbImage};
use imageproc::drawing::{draw_filled_rect_mut, draw_hollow_rect_mut, draw_line_segment_mut};
use imageproc::rect::Rect;

use super::ink::{BLUE, BRICK, DrawError, INK, PAPER, Pen, RULE, SOFT_INK, dashed, png};
use super::words::{fixed, plain};
use crate::geometry::{Quad, UprightPx};
use crate::job::{Course, NotFound};

const WIDTH: u32 = 1000;
const MARGIN: i32 = 40;
/// Largest size of the frame's picture, px.
const FRAME: (u32, u32) = (920, 560);
/// Height of the plot, px, and room for its words above and below.
const PLOT: i32 = 180;
const HEAD: i32 = 34;
const FOOT: i32 = 46;

const GROUND: Rgb<u8> = Rgb([20, 20, 20]);
const OUTLINES: [Rgb<u8>; 4] = [
    Rgb([60, 230, 90]),
    Rgb([255, 210, 40]),
    Rgb([80, 200, 255]),
    Rgb([255, 80, 70]),
];

/// The picture as PNG; `name` is the clip's.
///
/// # Errors
/// If it cannot be encoded, which memory alone could cause.
pub fn not_found_picture(name: &str, not_found: &NotFound) -> Result<Vec<u8>, DrawError> {
    let pen = Pen::new()?;
    let wide = WIDTH - 2 * MARGIN.unsigned_abs();
    let words = pen.lines(16.0, wide, &plain(&not_found.words));
    let top = 70 + 22 * words.len() as i32 + 14;
    let frame = not_found.picture.as_ref().map(|grey| {
        let (w, h) = (f64::from(grey.width()), f64::from(grey.height()));
        let scale = (f64::from(FRAME.0) / w).min(f64::from(FRAME.1) / h);
        let size = [w, h].map(|v| ((v * scale).round() as u32).max(1));
        let small = resize(grey, size[0], size[1], FilterType::Triangle);
        (DynamicImage::ImageLuma8(small).into_rgb8(), scale)
    });
    let under = frame.as_ref().map_or(0, |f| f.0.height() as i32 + 24);
    let course = not_found.course.as_ref().map_or(0, |_| HEAD + PLOT + FOOT);
    let height = (top + under + course + 16).unsigned_abs();
    let mut sheet = RgbImage::from_pixel(WIDTH, height, PAPER);
    pen.write(&mut sheet, (MARGIN, 24), 26.0, INK, &plain(name));
    for (k, line) in (0i32..).zip(&words) {
        pen.write(&mut sheet, (MARGIN, 66 + 22 * k), 16.0, INK, line);
    }
    if let Some((mut picture, scale)) = frame {
        for ((name, quad), ink) in not_found.places.iter().zip(OUTLINES.iter().cycle()) {
            outline(&mut picture, &pen, (name, quad), scale, *ink);
        }
        overlay(&mut sheet, &picture, i64::from(MARGIN), i64::from(top));
    }
    if let Some(course) = &not_found.course {
        plot(&mut sheet, &pen, course, top + under + HEAD);
    }
    png(&sheet)
}

fn outline(
    picture: &mut RgbImage,
    pen: &Pen,
    (name, quad): (&str, &Quad<UprightPx>),
    scale: f64,
    ink: Rgb<u8>,
) {
    let at = quad
        .corners
        .map(|c| ((c.x * scale) as f32, (c.y * scale) as f32));
    for k in 0..4 {
        draw_line_segment_mut(picture, at[k], at[(k + 1) % 4], ink);
    }
    let [x0, _, _, y1] = quad.bounds().map(|v| (v * scale) as i32);
    let size = (pen.width(14.0, name) as i32 + 6, 18);
    let x = x0.clamp(0, (picture.width() as i32 - size.0).max(0));
    let y = (y1 + 3).clamp(0, (picture.height() as i32 - size.1).max(0));
    let box_of = Rect::at(x, y).of_size(size.0.unsigned_abs(), size.1.unsigned_abs());
    draw_filled_rect_mut(picture, box_of, GROUND);
    pen.write(picture, (x + 3, y + 2), 14.0, ink, name);
}

fn plot(sheet: &mut RgbImage, pen: &Pen, course: &Course, top: i32) {
    let (left, right) = (MARGIN + 50, WIDTH as i32 - MARGIN);
    let said = format!("{}; over seconds from the start", course.name);
    pen.write(sheet, (MARGIN, top - 28), 15.0, INK, &plain(&said));
    let told = || course.values.iter().filter(|v| v.1.is_finite());
    let levels = || course.levels.iter().map(|l| l.0);
    let most = told().map(|v| v.1).chain(levels()).fold(0.0, f64::max);
    let end = told().map(|v| v.0).fold(0.0, f64::max);
    let (most, end) = (1.1 * most.max(1e-9), end.max(1e-9));
    let x = |s: f64| left as f32 + (s / end) as f32 * (right - left) as f32;
    let y = |v: f64| (top + PLOT) as f32 - (v / most) as f32 * PLOT as f32;
    let size = ((right - left).unsigned_abs(), PLOT.unsigned_abs());
    draw_hollow_rect_mut(sheet, Rect::at(left, top).of_size(size.0, size.1), RULE);
    for (a, b) in told().zip(told().skip(1)) {
        draw_line_segment_mut(sheet, (x(a.0), y(a.1)), (x(b.0), y(b.1)), BLUE);
    }
    for (level, word) in &course.levels {
        let at = y(*level);
        dashed(sheet, (left as f32, right as f32), at, (9.0, 5.0), BRICK);
        pen.write(sheet, (left + 6, at as i32 - 16), 13.0, BRICK, word);
        let value = fixed(*level, 1);
        pen.write(sheet, (MARGIN, at as i32 - 8), 13.0, BRICK, &value);
    }
    for k in 0..=5 {
        let s = end * f64::from(k) / 5.0;
        let word = fixed(s, 1);
        let half = pen.width(13.0, &word) as i32 / 2;
        let at = ((x(s) as i32 - half).min(right - 2 * half), top + PLOT + 8);
        pen.write(sheet, at, 13.0, SOFT_INK, &word);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::GrayImage;

    #[test]
    fn it_is_drawn_with_and_without_a_frame_and_a_course() {
        let course = Course {
            name: "columns".to_owned(),
            values: vec![(0.0, 0.0), (1.0, f64::NAN), (2.0, 3.0)],
            levels: vec![(4.0, "would count")],
        };
        let whole = NotFound {
            words: "no trial found: נמל ".repeat(20),
            places: vec![("screen", Quad::rect(-5.0, 10.0, 900.0, 90.0))],
            course: Some(course),
            picture: Some(GrayImage::new(64, 640)),
        };
        let bare = NotFound {
            words: "no beep was heard".to_owned(),
            ..NotFound::default()
        };
        let size = |not_found: &NotFound| {
            let bytes = not_found_picture("amber-1.mp4", not_found).expect("a picture");
            let back = image::load_from_memory(&bytes).expect("a PNG");
            (back.width(), back.height())
        };
        let (wide, high) = size(&whole);
        assert_eq!(wide, WIDTH);
        assert!(high > FRAME.1, "{high}");
        assert!(size(&bare).1 < 200);
    }
}
