//! Rulers: printed beside the texture, to check the printer's scale both ways.

use super::face::text;
use super::{Area, Mark, Tone};

/// Thickness of a tick, mm.
const THIN: f64 = 0.2;
/// Size of the numbers, mm.
const NUMBERS: f64 = 2.8;
/// Width of a digit of Helvetica ÷ size (Adobe font metrics).
const DIGIT: f64 = 0.556;

/// 0 to 100 mm from `x` to the right, standing on `y`. The middle of a tick is
/// its place.
pub(super) fn across(x: f64, y: f64, out: &mut Vec<Mark>) {
    for mm in 0..=100 {
        let at = x + f64::from(mm);
        out.push(upright(at, y, length(mm)));
        if mm % 10 == 0 {
            out.push(number(&mm.to_string(), at, y - 5.0));
        }
    }
    out.push(text(x + 103.0, y, NUMBERS, false, Tone::Black, "mm"));
}

/// 0 to 4 inches from `x` to the right, an eighth a tick.
pub(super) fn inches(x: f64, y: f64, out: &mut Vec<Mark>) {
    for eighth in 0..=32 {
        let at = x + 25.4 * f64::from(eighth) / 8.0;
        let long = match eighth % 8 {
            0 => 4.5,
            4 => 3.0,
            _ => 2.0,
        };
        out.push(upright(at, y, long));
        if eighth % 8 == 0 {
            out.push(number(&(eighth / 8).to_string(), at, y - 5.0));
        }
    }
    out.push(text(x + 103.0, y, NUMBERS, false, Tone::Black, "in"));
}

/// 0 to 100 mm from `y` down, standing on `x`.
pub(super) fn down(x: f64, y: f64, out: &mut Vec<Mark>) {
    for mm in 0..=100 {
        let at = y + f64::from(mm);
        let tick = Area {
            x,
            y: at - THIN / 2.0,
            width: length(mm),
            height: THIN,
        };
        out.push(Mark::Bar(tick, Tone::Black));
        if mm % 10 == 0 {
            let words = mm.to_string();
            let baseline = at + 0.36 * NUMBERS;
            out.push(text(x + 5.0, baseline, NUMBERS, false, Tone::Black, &words));
        }
    }
}

fn length(mm: i32) -> f64 {
    match mm % 10 {
        0 => 4.5,
        5 => 3.0,
        _ => 2.0,
    }
}

fn upright(x: f64, y: f64, long: f64) -> Mark {
    let tick = Area {
        x: x - THIN / 2.0,
        y: y - long,
        width: THIN,
        height: long,
    };
    Mark::Bar(tick, Tone::Black)
}

/// A number with its middle at `x`.
fn number(words: &str, x: f64, y: f64) -> Mark {
    let half = DIGIT * NUMBERS * words.len() as f64 / 2.0;
    text(x - half, y, NUMBERS, false, Tone::Black, words)
}
