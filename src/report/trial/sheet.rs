//! An evidence sheet: the pictures of one trial, its curve and its numbers on
//! one PNG.

use image::imageops::{FilterType, overlay, resize};
use image::{GrayImage, Rgb, RgbImage};
use imageproc::drawing::{
    draw_filled_circle_mut, draw_filled_rect_mut, draw_hollow_rect_mut, draw_line_segment_mut,
};
use imageproc::rect::Rect;

use super::close::{Close, Limits, Update};
use super::text::numbers;
use super::words::verdict_words;
use crate::report::depth::Depth;
use crate::report::ink::{
    AMBER, BLUE, BRICK, DrawError, INK, PAPER, Pen, RULE, SOFT_INK, dashed, png,
};
use crate::report::words::{fixed, plain};
use crate::store::evidence::{Grey, StillRecord};

/// Size of the sheet, px.
const SHEET: (u32, u32) = (1120, 1000);
const MARGIN: i32 = 40;
/// Size of a place for a still, px.
const STILL: (u32, u32) = (320, 240);
/// Size of the whole screen's picture: twice its cells.
const SCREEN: (u32, u32) = (128, 96);
/// The plot: left, top, right, bottom.
const PLOT: [f32; 4] = [110.0, 566.0, 1080.0, 780.0];
/// Top and bottom of the raw signal.
const RAW: [f32; 2] = [810.0, 840.0];
/// Longest name on the sheet, characters.
const LONGEST: usize = 60;

const STAY: Rgb<u8> = Rgb([219, 230, 238]);

/// The sheet as PNG. `picture` hands out the bytes of a still by its name; what
/// it does not have is a place with words in it.
///
/// # Errors
/// If the picture cannot be encoded, which memory alone could cause.
pub fn evidence_sheet(
    close: &Close,
    picture: &mut dyn FnMut(&str) -> Option<Vec<u8>>,
) -> Result<Vec<u8>, DrawError> {
    let pen = Pen::new()?;
    let mut sheet = RgbImage::from_pixel(SHEET.0, SHEET.1, PAPER);
    heading(&mut sheet, &pen, close);
    let stills: &[StillRecord] = close.evidence.map_or(&[], |e| &e.stills);
    for (k, x) in (0..3i32).zip([40, 400, 760]) {
        still(&mut sheet, &pen, close, x, stills.get(k as usize), picture);
    }
    plot(&mut sheet, &pen, close);
    footer(&mut sheet, &pen, close);
    png(&sheet)
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
    if let Some(blur) = close.blur_at(record.time_s) {
        let told = format!("blur {} ‰", fixed(blur, 1));
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

/// Where the plot's values lie on the sheet.
struct Frame {
    /// First and last instant, ms after onset.
    time: (f64, f64),
    depth: Depth,
}

impl Frame {
    fn x(&self, ms: f64) -> f32 {
        let share = (ms - self.time.0) / (self.time.1 - self.time.0);
        PLOT[0] + share as f32 * (PLOT[2] - PLOT[0])
    }

    fn y(&self, permille: f64) -> f32 {
        PLOT[3] - self.depth.at(permille) as f32 * (PLOT[3] - PLOT[1])
    }
}

fn plot(sheet: &mut RgbImage, pen: &Pen, close: &Close) {
    let [left, top, right, bottom] = PLOT;
    let updates = close.updates();
    let limits = close.limits();
    let after = updates.iter().filter(|u| u.ms >= 0.0);
    let frame = Frame {
        time: (
            updates.first().map_or(-250.0, |u| u.ms.min(0.0)),
            updates
                .last()
                .map_or(close.window_ms(), |u| u.ms.max(close.window_ms())),
        ),
        depth: Depth::of(after.filter_map(|u| u.blur), limits.hit),
    };
    let heading = "Blur, ‰ of the screen's height, over ms after onset. In focus at the bottom; square roots.";
    pen.write(sheet, (MARGIN, top as i32 - 34), 16.0, INK, heading);
    levels(sheet, pen, &frame, &limits);
    ticks(sheet, pen, &frame);
    let inside = close.marks().into_iter().filter(|m| m.ms >= frame.time.0);
    for (k, mark) in (0i32..).zip(inside) {
        let at = frame.x(mark.ms);
        draw_line_segment_mut(sheet, (at, top), (at, bottom), AMBER);
        let down = top as i32 + 18 * (k % 4);
        pen.write(sheet, (at as i32 + 4, down), 15.0, AMBER, mark.name);
    }
    for pair in updates.windows(2) {
        let (Some(a), Some(b)) = (pair[0].blur, pair[1].blur) else {
            continue;
        };
        let (level, next) = (frame.y(a), frame.y(b));
        let (from, to) = (frame.x(pair[0].ms), frame.x(pair[1].ms));
        // A screen's signal is a staircase; two strokes make it stand out.
        for off in [0.0, 1.0] {
            draw_line_segment_mut(sheet, (from, level + off), (to, level + off), BLUE);
            draw_line_segment_mut(sheet, (to + off, level), (to + off, next), BLUE);
        }
    }
    if updates.iter().all(|u| u.blur.is_none()) {
        let said = if updates.is_empty() {
            "no curve is kept for this trial"
        } else {
            "blur could not be told in this trial"
        };
        let at = (left as i32 + 20, top as i32 + 100);
        pen.write(sheet, at, 16.0, SOFT_INK, said);
    }
    for still in close.evidence.iter().flat_map(|e| &e.stills) {
        let at = frame.x(close.after_onset(still.time_s)) as i32;
        draw_filled_circle_mut(sheet, (at, bottom as i32), 5, INK);
    }
    draw_filled_rect_mut(
        sheet,
        Rect::at(left as i32, bottom as i32).of_size((right - left) as u32, 1),
        SOFT_INK,
    );
    raw(sheet, pen, &updates, &frame);
}

/// The axis of blur, and what blur is held against.
fn levels(sheet: &mut RgbImage, pen: &Pen, frame: &Frame, limits: &Limits) {
    let [left, _, right, _] = PLOT;
    if let Some((low, high)) = limits.stay() {
        let (low, high) = (frame.y(low) as i32, frame.y(high) as i32);
        let size = ((right - left) as u32, (low - high).max(1) as u32);
        let band = Rect::at(left as i32, high).of_size(size.0, size.1);
        draw_filled_rect_mut(sheet, band, STAY);
        let said = format!("end ± δ ({} ‰)", fixed(limits.delta.unwrap_or(0.0), 1));
        let at = (right as i32 - pen.width(13.0, &said) as i32 - 4, high - 16);
        pen.write(sheet, at, 13.0, BLUE, &said);
    }
    for mark in frame.depth.marks() {
        let at = frame.y(mark);
        draw_line_segment_mut(sheet, (left, at), (right, at), RULE);
        let word = format!("{mark:>3.0} ‰");
        pen.write(sheet, (MARGIN + 8, at as i32 - 8), 15.0, SOFT_INK, &word);
    }
    // The film's limit is never above the hit limit: its words stand below its line.
    let lines = [
        (limits.hit, "hit limit", BRICK, (9.0, 5.0), -17),
        (limits.film, "film's limit", SOFT_INK, (2.0, 4.0), 3),
    ];
    for (level, name, ink, dashes, off) in lines {
        let Some(level) = level else { continue };
        let y = frame.y(level);
        dashed(sheet, (left, right), y, dashes, ink);
        let said = format!("{name} {} ‰", fixed(level, 1));
        let at = (left as i32 + 6, y as i32 + off);
        pen.write(sheet, at, 13.0, ink, &said);
    }
}

fn ticks(sheet: &mut RgbImage, pen: &Pen, frame: &Frame) {
    let bottom = PLOT[3];
    let (from, to) = frame.time;
    let step = if to - from > 3000.0 { 1000.0 } else { 250.0 };
    let mut tick = (from / step).ceil() * step;
    while tick <= to {
        let at = frame.x(tick);
        draw_line_segment_mut(sheet, (at, bottom), (at, bottom + 6.0), SOFT_INK);
        let word = fixed(tick, 0);
        let half = pen.width(14.0, &word) as i32 / 2;
        let place = (at as i32 - half, bottom as i32 + 8);
        pen.write(sheet, place, 14.0, SOFT_INK, &word);
        tick += step;
    }
}

/// The raw signal, small and to its own scale.
fn raw(sheet: &mut RgbImage, pen: &Pen, updates: &[Update], frame: &Frame) {
    let [top, bottom] = RAW;
    let most = updates.iter().map(|u| u.sharpness).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    let y = |u: &Update| bottom - (u.sharpness / most).max(0.0) as f32 * (bottom - top);
    for pair in updates.windows(2) {
        let (from, to) = (frame.x(pair[0].ms), frame.x(pair[1].ms));
        draw_line_segment_mut(sheet, (from, y(&pair[0])), (to, y(&pair[0])), SOFT_INK);
        draw_line_segment_mut(sheet, (to, y(&pair[0])), (to, y(&pair[1])), SOFT_INK);
    }
    for (k, said) in (0i32..).zip(["raw signal,", "own scale"]) {
        let at = (MARGIN - 14, top as i32 + 15 * k);
        pen.write(sheet, at, 12.0, SOFT_INK, said);
    }
}

fn footer(sheet: &mut RgbImage, pen: &Pen, close: &Close) {
    let mut y = 862;
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
        let back = image::load_from_memory_with_format(&bytes, image::ImageFormat::Png).unwrap();
        assert_eq!((back.width(), back.height()), SHEET);
        assert_eq!(bytes, evidence_sheet(&close, &mut |_| None).unwrap());
    }
}
