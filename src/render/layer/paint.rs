//! Draws graphics over a picture, with soft edges.

use crate::render::scene::{Overlay, Shape};

/// A picture on the screen: linear luminance and, where anything on it is
/// coloured, Cb and Cr (ITU-R BT.709, −0.5..=0.5).
#[derive(Clone, Debug, Default)]
pub(crate) struct Print {
    pub luma: Vec<f32>,
    pub chroma: Option<[Vec<f32>; 2]>,
    /// The picture is to be shown larger by this share, about its middle: the
    /// lens's breathing.
    pub breath: f32,
}

/// Left, top, right, bottom, px.
type Rect = [f64; 4];

impl Print {
    /// Draws an overlay in a colour; a clock shows `reading` hundredths of a
    /// second.
    pub(crate) fn draw(
        &mut self,
        (w, h): (usize, usize),
        overlay: &Overlay,
        color: [f64; 3],
        reading: u64,
    ) {
        // Graphics do not breathe: drawn smaller, they are shown as they should be.
        let shown = 1.0 + f64::from(self.breath);
        let [l, t, r, b] = overlay.area.map(|v| 0.5 + (v - 0.5) / shown);
        let (fw, fh) = (w as f64, h as f64);
        let area = [l * fw, t * fh, r * fw, b * fh];
        let line = overlay.line_permille * fh / 1000.0 / shown;
        let ink = Ink::new(color);
        for rect in shapes(overlay.shape, area, line, reading, overlay.step_ms) {
            self.fill((w, h), rect, &ink);
        }
    }

    fn fill(&mut self, (w, h): (usize, usize), [l, t, r, b]: Rect, ink: &Ink) {
        let range = |a: f64, b: f64, n: usize| {
            let clip = |v: f64| v.clamp(0.0, n as f64) as usize;
            clip(a.floor())..clip(b.ceil())
        };
        let part = |i: usize, a: f64, b: f64| {
            ((i as f64 + 1.0).min(b) - (i as f64).max(a)).clamp(0.0, 1.0) as f32
        };
        if ink.chroma != [0.0; 2] && self.chroma.is_none() {
            self.chroma = Some([vec![0.0; w * h], vec![0.0; w * h]]);
        }
        for y in range(t, b, h) {
            for x in range(l, r, w) {
                let cover = part(x, l, r) * part(y, t, b);
                let at = y * w + x;
                self.luma[at] += cover * (ink.luma - self.luma[at]);
                for (plane, c) in self.chroma.iter_mut().flatten().zip(ink.chroma) {
                    plane[at] += cover * (c - plane[at]);
                }
            }
        }
    }
}

/// A colour: linear luminance, Cb and Cr.
pub(crate) struct Ink {
    pub luma: f32,
    pub chroma: [f32; 2],
}

impl Ink {
    pub(crate) fn new([r, g, b]: [f64; 3]) -> Self {
        let weigh = |r: f64, g: f64, b: f64| 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let linear = |v: f64| f64::from(super::surface::decode(v as f32));
        let coded = weigh(r, g, b);
        let round = |v: f64| (v * 1e6).round() / 1e6;
        Self {
            luma: weigh(linear(r), linear(g), linear(b)) as f32,
            chroma: [
                round((b - coded) / 1.8556) as f32,
                round((r - coded) / 1.5748) as f32,
            ],
        }
    }
}

fn shapes(shape: Shape, area: Rect, line: f64, reading: u64, step_ms: f64) -> Vec<Rect> {
    let [l, t, r, b] = area;
    match shape {
        Shape::Fill => vec![area],
        Shape::Box => outline(area, line),
        Shape::Icon => {
            let (w, h) = (r - l, b - t);
            let mut out = outline([l, t, l + 0.9 * w, b], line);
            out.push([l + 0.9 * w, t + 0.3 * h, r, b - 0.3 * h]);
            out.push([l + 0.15 * w, t + 0.25 * h, l + 0.35 * w, b - 0.25 * h]);
            out.push([l + 0.45 * w, t + 0.25 * h, l + 0.65 * w, b - 0.25 * h]);
            out
        }
        Shape::Clock => clock(area, line, reading, step_ms),
    }
}

fn outline([l, t, r, b]: Rect, line: f64) -> Vec<Rect> {
    vec![
        [l, t, r, t + line],
        [l, b - line, r, b],
        [l, t + line, l + line, b - line],
        [r - line, t + line, r, b - line],
    ]
}

/// Four digits and a colon: minutes and seconds, or seconds and hundredths
/// where it steps more often than once a second.
fn clock([l, t, r, b]: Rect, line: f64, reading: u64, step_ms: f64) -> Vec<Rect> {
    let (high, low) = if step_ms >= 1000.0 {
        (reading / 6000 % 100, reading / 100 % 60)
    } else {
        (reading / 100 % 100, reading % 100)
    };
    let cell = (r - l) / 4.6;
    let mut out = Vec::new();
    for (k, digit) in [high / 10, high % 10, low / 10, low % 10]
        .iter()
        .enumerate()
    {
        let gap = if k > 1 { 0.6 * cell } else { 0.0 };
        let left = l + k as f64 * cell + gap;
        out.extend(seven([left, t, left + 0.8 * cell, b], line, *digit));
    }
    let (x, h) = (l + 2.1 * cell, b - t);
    out.push([x, t + 0.3 * h, x + line, t + 0.3 * h + line]);
    out.push([x, t + 0.65 * h, x + line, t + 0.65 * h + line]);
    out
}

/// A digit of seven bars.
fn seven([l, t, r, b]: Rect, line: f64, digit: u64) -> Vec<Rect> {
    // Top, middle, bottom, upper left, upper right, lower left, lower right.
    const BARS: [u8; 10] = [
        0b101_1111, 0b000_0101, 0b111_0110, 0b111_0101, 0b010_1101, 0b111_1001, 0b111_1011,
        0b100_0101, 0b111_1111, 0b111_1101,
    ];
    let m = f64::midpoint(t, b);
    let bars = [
        [l, t, r, t + line],
        [l, m - line / 2.0, r, m + line / 2.0],
        [l, b - line, r, b],
        [l, t, l + line, m],
        [r - line, t, r, m],
        [l, m, l + line, b],
        [r - line, m, r, b],
    ];
    let lit = BARS[(digit % 10) as usize];
    let on = |k: usize| lit >> (6 - k) & 1 == 1;
    (0..7).filter(|k| on(*k)).map(|k| bars[k]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn print() -> Print {
        Print {
            luma: vec![0.2; 40 * 20],
            chroma: None,
            breath: 0.0,
        }
    }

    /// Pure red, green and blue in BT.709: Cb and Cr from its definition
    /// (ITU-R BT.709-6, item 3.3: (B′ − Y′) ÷ 1.8556, (R′ − Y′) ÷ 1.5748).
    #[test]
    fn colours_have_their_chroma() {
        let red = Ink::new([1.0, 0.0, 0.0]);
        assert!((red.luma - 0.2126).abs() < 1e-6);
        assert!((red.chroma[1] - 0.5).abs() < 1e-4);
        assert!((Ink::new([0.0, 0.0, 1.0]).chroma[0] - 0.5).abs() < 1e-4);
        assert_eq!(Ink::new([0.6; 3]).chroma, [0.0; 2]);
    }

    #[test]
    fn a_box_is_drawn_with_soft_edges_and_is_hollow() {
        let overlay = Overlay {
            area: [0.25, 0.25, 0.75, 0.75],
            line_permille: 75.0,
            ..Overlay::default()
        };
        let mut print = print();
        print.draw((40, 20), &overlay, [1.0; 3], 0);
        assert!(print.chroma.is_none());
        let at = |x: usize, y: usize| print.luma[y * 40 + x];
        assert_eq!((at(20, 5), at(20, 10)), (1.0, 0.2));
        // A line of one and a half pixels.
        assert!((at(20, 6) - 0.6).abs() < 1e-6);
    }

    #[test]
    fn every_digit_looks_different() {
        let area = [0.0, 0.0, 10.0, 20.0];
        let digits: Vec<_> = (0..10).map(|d| seven(area, 1.0, d)).collect();
        for (i, a) in digits.iter().enumerate() {
            assert!(digits[i + 1..].iter().all(|b| a != b), "{i}");
        }
        assert_eq!(digits[8].len(), 7);
        assert_eq!(digits[1].len(), 2);
    }
}
