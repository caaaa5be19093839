//! An evidence sheet: the pictures of one trial, its curve and its numbers on
//! one PNG.

use std::io::Cursor;

use image::imageops::{FilterType, overlay, resize};
use image::{GrayImage, ImageFormat, Rgb, RgbImage};
use imageproc::drawing::{
    draw_filled_circle_mut, draw_filled_rect_mut, draw_hollow_rect_mut, draw_line_segment_mut,
};
use imageproc::rect::Rect;

use super::close::Close;
use super::font::Pen;
use super::text::numbers;
use super::words::verdict_words;
use crate::report::words::{fixed, percent, plain};
use crate::store::evidence::{Grey, StillRecord};

/// Size of the sheet, px.
const SHEET: (u32, u32) = (1120, 980);
const MARGIN: i32 = 40;
/// Size of a place for a still, px.
const STILL: (u32, u32) = (320, 240);
/// Size of the whole screen's picture: twice its cells.
const SCREEN: (u32, u32) = (128, 96);
/// The plot: left, top, right, bottom.
const PLOT: [f32; 4] = [110.0, 566.0, 1080.0, 806.0];
/// Longest name on the sheet, characters.
const LONGEST: usize = 60;

const PAPER: Rgb<u8> = Rgb([250, 250, 247]);
const INK: Rgb<u8> = Rgb([24, 37, 46]);
const SOFT_INK: Rgb<u8> = Rgb([84, 99, 109]);
const RULE: Rgb<u8> = Rgb([203, 211, 214]);
const BLUE: Rgb<u8> = Rgb([29, 90, 134]);
const AMBER: Rgb<u8> = Rgb([138, 90, 0]);

/// Why there is no sheet.
#[derive(Debug, thiserror::Error)]
#[error("the evidence sheet cannot be drawn: {0}")]
pub struct SheetError(String);

/// The sheet as PNG. `picture` hands out the bytes of a still by its name; what
/// it does not have is a place with words in it.
///
/// # Errors
/// If the picture cannot be encoded, which memory alone could cause.
pub fn evidence_sheet(
    close: &Close,
    picture: &mut dyn FnMut(&str) -> Option<Vec<u8>>,
) -> Result<Vec<u8>, SheetError> {
    let pen = Pen::new().map_err(|e| SheetError(e.to_string()))?;
    let mut sheet = RgbImage::from_pixel(SHEET.0, SHEET.1, PAPER);
    heading(&mut sheet, &pen, close);
    let stills: &[StillRecord] = close.evidence.map_or(&[], |e| &e.stills);
    for (k, x) in (0..3i32).zip([40, 400, 760]) {
        #[allow(clippy::cast_sign_loss)]
        still(&mut sheet, &pen, close, x, stills.get(k as usize), picture);
    }
    plot(&mut sheet, &pen, close);
    footer(&mut sheet, &pen, close);
    let mut bytes = Cursor::new(Vec::new());
    sheet
        .write_to(&mut bytes, ImageFormat::Png)
        .map_err(|e| SheetError(e.to_string()))?;
    Ok(bytes.into_inner())
}

fn cut(text: &str) -> String {
    let text = plain(text);
    if text.chars().count() <= LONGEST {
        return text;
    }
    text.chars().take(LONGEST - 1).chain(['…']).collect()
}

fn heading(sheet: &mut RgbImage, pen: &Pen, close: &Close) {
    let side = close.side().map_or(String::new(), |s| format!(" · {s}"));
    pen.write(
        sheet,
        (MARGIN, 24),
        30.0,
        INK,
        &cut(&close.timing.setup.name),
    );
    let line = format!("{} · trial {}{side}", cut(close.file()), close.trial.index);
    pen.write(sheet, (MARGIN, 62), 18.0, SOFT_INK, &line);
    let words = plain(&verdict_words(close.trial));
    let wide = SHEET.0 - 2 * MARGIN.unsigned_abs();
    for (k, line) in (0i32..).zip(pen.lines(17.0, wide, &words).iter().take(2)) {
        pen.write(sheet, (MARGIN, 92 + 22 * k), 17.0, INK, line);
    }
}

fn still(
    sheet: &mut RgbImage,
    pen: &Pen,
    close: &Close,
    x: i32,
    record: Option<&StillRecord>,
    picture: &mut dyn FnMut(&str) -> Option<Vec<u8>>,
) {
    let y = 146;
    draw_hollow_rect_mut(
        sheet,
        Rect::at(x - 1, y - 1).of_size(STILL.0 + 2, STILL.1 + 2),
        RULE,
    );
    let Some(record) = record else {
        pen.write(sheet, (x + 20, y + 110), 15.0, SOFT_INK, "no still is kept");
        return;
    };
    let mut read = |name: &str| Grey::from_jpeg(&picture(name)?).ok().and_then(grey);
    match read(&record.file) {
        Some(area) => {
            // At its own pixels: enlarging or reducing would change the blur seen.
            let area = image::imageops::crop_imm(&area, 0, 0, STILL.0, STILL.1).to_image();
            let left = (STILL.0 - area.width()) / 2;
            let top = (STILL.1 - area.height()) / 2;
            put(sheet, &area, x + left.cast_signed(), y + top.cast_signed());
        }
        None => pen.write(
            sheet,
            (x + 20, y + 110),
            15.0,
            SOFT_INK,
            "this still cannot be read",
        ),
    }
    if let Some(screen) = record.screen.as_ref().and_then(|name| read(name)) {
        let small = resize(&screen, SCREEN.0, SCREEN.1, FilterType::Nearest);
        put(sheet, &small, x, y + 250);
    }
    let left = x + 140;
    let after = close.after_onset(record.time_s);
    pen.write(sheet, (left, y + 252), 18.0, INK, record.moment.word());
    let when = format!("{} ms", fixed(after, 0));
    pen.write(sheet, (left, y + 276), 16.0, SOFT_INK, &when);
    if let Some(share) = close.share_at(record.time_s) {
        let told = format!("sharp: {}", percent(Some(share)));
        pen.write(sheet, (left, y + 298), 16.0, SOFT_INK, &told);
    }
    let frame = format!("frame {}", record.frame);
    pen.write(sheet, (left, y + 320), 16.0, SOFT_INK, &frame);
}

fn grey(picture: Grey) -> Option<GrayImage> {
    let size = |n: usize| u32::try_from(n).ok();
    GrayImage::from_raw(size(picture.width)?, size(picture.height)?, picture.pixels)
}

fn put(sheet: &mut RgbImage, grey: &GrayImage, x: i32, y: i32) {
    let colour = RgbImage::from_fn(grey.width(), grey.height(), |i, j| {
        let v = grey.get_pixel(i, j).0[0];
        Rgb([v, v, v])
    });
    overlay(sheet, &colour, i64::from(x), i64::from(y));
}

#[allow(clippy::cast_possible_truncation)]
fn plot(sheet: &mut RgbImage, pen: &Pen, close: &Close) {
    let [left, top, right, bottom] = PLOT;
    let updates = close.updates();
    let from = updates.first().map_or(-250.0, |u| u.ms.min(0.0));
    let to = updates
        .last()
        .map_or(close.window_ms(), |u| u.ms.max(close.window_ms()));
    let unit = close.reference();
    let scale = unit.unwrap_or(1.0);
    let most = updates.iter().map(|u| u.sharpness / scale);
    let most = most.fold(1.1f64, f64::max) * 1.02;
    let x = |ms: f64| left + ((ms - from) / (to - from)) as f32 * (right - left);
    let y = |share: f64| bottom - (share / most) as f32 * (bottom - top);
    let heading = match unit {
        Some(_) => "Sharpness, share of the reference, over ms after onset",
        None => "Sharpness, to its own scale, over ms after onset",
    };
    pen.write(sheet, (MARGIN, top as i32 - 34), 16.0, INK, heading);
    for percent in [0.0, 0.5, 1.0] {
        let at = y(percent);
        draw_line_segment_mut(sheet, (left, at), (right, at), RULE);
        let word = format!("{:>3.0} %", percent * 100.0);
        pen.write(sheet, (MARGIN, at as i32 - 8), 15.0, SOFT_INK, &word);
    }
    let step = if to - from > 3000.0 { 1000.0 } else { 250.0 };
    let mut tick = (from / step).ceil() * step;
    while tick <= to {
        draw_line_segment_mut(sheet, (x(tick), bottom), (x(tick), bottom + 6.0), SOFT_INK);
        let word = fixed(tick, 0);
        let half = pen.width(14.0, &word) as i32 / 2;
        pen.write(
            sheet,
            (x(tick) as i32 - half, bottom as i32 + 8),
            14.0,
            SOFT_INK,
            &word,
        );
        tick += step;
    }
    let inside = close.marks().into_iter().filter(|m| m.ms >= from);
    for (k, mark) in (0i32..).zip(inside) {
        let at = x(mark.ms);
        draw_line_segment_mut(sheet, (at, top), (at, bottom), AMBER);
        let down = top as i32 + 18 * (k % 4);
        pen.write(sheet, (at as i32 + 4, down), 15.0, AMBER, mark.name);
    }
    for pair in updates.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let level = y(a.sharpness / scale);
        // A screen's signal is a staircase; two strokes make it stand out.
        for off in [0.0, 1.0] {
            draw_line_segment_mut(sheet, (x(a.ms), level + off), (x(b.ms), level + off), BLUE);
            let next = y(b.sharpness / scale);
            draw_line_segment_mut(sheet, (x(b.ms) + off, level), (x(b.ms) + off, next), BLUE);
        }
    }
    if updates.is_empty() {
        pen.write(
            sheet,
            (left as i32 + 20, top as i32 + 100),
            16.0,
            SOFT_INK,
            "no curve is kept for this trial",
        );
    }
    for still in close.evidence.iter().flat_map(|e| &e.stills) {
        let at = x(close.after_onset(still.time_s)) as i32;
        draw_filled_circle_mut(sheet, (at, bottom as i32), 5, INK);
    }
    draw_filled_rect_mut(
        sheet,
        Rect::at(left as i32, bottom as i32).of_size((right - left) as u32, 1),
        SOFT_INK,
    );
}

fn footer(sheet: &mut RgbImage, pen: &Pen, close: &Close) {
    let mut y = 846;
    let mut write = |sheet: &mut RgbImage, text: &str| {
        pen.write(sheet, (MARGIN, y), 14.0, SOFT_INK, text);
        y += 19;
    };
    write(
        sheet,
        "Dots: the stills. They show the focus area at the film's own pixels.",
    );
    let said: Vec<String> = numbers(close)
        .into_iter()
        .map(|(name, value)| format!("{name}: {value}"))
        .collect();
    let wide = SHEET.0 - 2 * MARGIN.unsigned_abs();
    for line in pen.lines(14.0, wide, &said.join("; ")).iter().take(5) {
        write(sheet, line);
    }
    let hash = close.clip.sha256.get(..16).unwrap_or(&close.clip.sha256);
    let version = close.timing.made_by.get("focuslag");
    let version = version.map_or(String::new(), |v| format!("; focuslag {v}"));
    write(sheet, &plain(&format!("clip SHA-256 {hash}…{version}")));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing};

    #[test]
    fn a_sheet_without_evidence_says_so_and_is_a_png() {
        let made = timing(&"נמל ".repeat(80), vec![clip("a", swings(&[Some(400.0)]))]);
        let close = Close::bare(&made, &made.clips[0], &made.clips[0].trials[0]);
        let bytes = evidence_sheet(&close, &mut |_| None).unwrap();
        let back = image::load_from_memory_with_format(&bytes, ImageFormat::Png).unwrap();
        assert_eq!((back.width(), back.height()), SHEET);
        assert_eq!(bytes, evidence_sheet(&close, &mut |_| None).unwrap());
    }
}
