//! The printed card: its texture against the measures that will look at it, and
//! its rulers on a page drawn by somebody else's renderer (`resvg`).
//!
//! The whole table, other textures included: `cargo bench --bench card`.

#![allow(clippy::expect_used, clippy::unwrap_used, clippy::panic)]

#[path = "support/texture.rs"]
mod texture;

use focuslag::card::{Card, CardSpec, Paper, Side, svg};
use focuslag::rig::DEFAULT_MEASURE;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use texture::{RIVALS, card, curve, rival, spectrum};

fn made(side: Side, paper: Paper, seed: u64) -> Card {
    let spec = CardSpec {
        side,
        paper,
        seed,
        finest_mm: 0.8,
    };
    Card::new(spec).unwrap()
}

/// How much the largest octave of energy may outdo the least, the strongest
/// direction the weakest, a repeat, and a rise of sharpness with blur.
const FAIR: (f64, f64, f64, f64) = (6.0, 3.0, 0.35, 0.005);

/// Which of the four limits a texture breaks.
fn faults(picture: &texture::Sampled) -> [bool; 4] {
    let s = spectrum(picture);
    let most = s.octaves.iter().copied().fold(0.0, f64::max);
    let least = s.octaves.iter().copied().fold(1.0, f64::min);
    let rise = curve(picture, &DEFAULT_MEASURE).rise;
    println!("{s:?} rise {rise:.4}");
    [
        most > FAIR.0 * least,
        s.sectors > FAIR.1,
        s.side_peak > FAIR.2,
        rise > FAIR.3,
    ]
}

#[test]
fn the_texture_has_all_octaves_and_directions_and_no_repeat_or_false_sharpness() {
    for (side, seed, fill) in [(Side::Near, 1, 0.3), (Side::Far, 2, 0.5)] {
        let card_made = made(side, Paper::A4, seed);
        let broken = faults(&card(&card_made.leaves, fill));
        assert_eq!(broken, [false; 4], "{side:?} at {fill}");
    }
}

/// The same limits see what is wrong with the usual patterns.
#[test]
fn checks_and_stripes_break_the_same_limits() {
    let leaves = made(Side::Near, Paper::A4, 1).leaves;
    for (name, black) in &RIVALS[..2] {
        let broken = faults(&rival(&leaves, 0.5, black));
        assert_eq!(broken, [true; 4], "{name}");
    }
}

/// Pixels a millimetre.
const SCALE: usize = 10;

/// A page drawn by `resvg`, darkness of every pixel.
struct Drawn {
    width: usize,
    height: usize,
    dark: Vec<bool>,
}

fn drawn(card: &Card, scale: usize) -> Drawn {
    let tree = Tree::from_str(&svg(card), &Options::default()).unwrap();
    let (page_width, page_height) = card.spec.paper.size_mm();
    let width = (page_width * scale as f64).round() as usize;
    let height = (page_height * scale as f64).round() as usize;
    let mut map = Pixmap::new(width as u32, height as u32).unwrap();
    let (x, y) = (
        (page_width * scale as f64) as f32 / tree.size().width(),
        (page_height * scale as f64) as f32 / tree.size().height(),
    );
    assert!((x / y - 1.0).abs() < 1e-4, "the page keeps its shape");
    // 96 pixels an inch are CSS's, and so SVG's, idea of a physical length.
    let inch = tree.size().width() / 96.0 * 25.4;
    assert!((f64::from(inch) - page_width).abs() < 0.01, "{inch} mm");
    resvg::render(&tree, Transform::from_scale(x, y), &mut map.as_mut());
    let dark = map.pixels().iter().map(|p| p.red() < 128).collect();
    Drawn {
        width,
        height,
        dark,
    }
}

/// Middles of the dark runs of a line, pixels.
fn runs(line: impl Iterator<Item = bool>) -> Vec<f64> {
    let (mut out, mut start) = (Vec::new(), None);
    for (k, dark) in line.chain([false]).enumerate() {
        match (start, dark) {
            (None, true) => start = Some(k),
            (Some(from), false) => {
                out.push((from + k) as f64 / 2.0);
                start = None;
            }
            _ => {}
        }
    }
    out
}

/// Length from the first to the last of `ticks`, mm, on the first line that
/// shows just so many.
fn measured(lines: impl Iterator<Item = Vec<f64>>, ticks: usize) -> f64 {
    let mut found = lines.filter(|line| line.len() == ticks);
    let line = found.next().expect("a line that crosses all ticks");
    (line[ticks - 1] - line[0]) / SCALE as f64
}

#[test]
fn the_rulers_are_true_to_a_tenth_of_a_millimetre() {
    for (side, paper) in [
        (Side::Near, Paper::A4),
        (Side::Far, Paper::A4),
        (Side::Near, Paper::Letter),
    ] {
        let card = made(side, paper, 3);
        let page = drawn(&card, SCALE);
        let foot = page.height - 32 * SCALE;
        let row = |y: usize| {
            let from = y * page.width + 5 * SCALE;
            runs(page.dark[from..from + 115 * SCALE].iter().copied())
        };
        let across = measured((foot..page.height).map(row), 101);
        assert!((across - 100.0).abs() < 0.1, "{across}");
        let inches = measured((foot..page.height).map(row), 33);
        assert!((inches - 4.0 * 25.4).abs() < 0.1, "{inches}");
        let column =
            |x: usize| runs((30 * SCALE..145 * SCALE).map(|y| page.dark[y * page.width + x]));
        let down = measured((page.width - 20 * SCALE..page.width).map(column), 101);
        assert!((down - 100.0).abs() < 0.1, "{down}");
    }
}

/// The texture as this file samples it is the one on the page.
#[test]
fn the_sampled_texture_is_the_printed_one() {
    let card_made = made(Side::Near, Paper::A4, 4);
    let (scale, area) = (4, card_made.leaves.area);
    let page = drawn(&card_made, scale);
    let fill = scale as f64 * area.height / texture::SCREEN_PX;
    let sampled = card(&card_made.leaves, fill);
    let (left, top) = (
        (area.x * scale as f64).round() as usize,
        (area.y * scale as f64).round() as usize,
    );
    let mut unlike = 0;
    for (i, luma) in sampled.luma.iter().enumerate() {
        let (x, y) = (left + i % sampled.size, top + i / sampled.size);
        unlike += usize::from(page.dark[y * page.width + x] != (*luma < 0.45));
    }
    let share = unlike as f64 / sampled.luma.len() as f64;
    assert!(share < 0.01, "{share}");
}
