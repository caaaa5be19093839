//! Where everything stands on the page.
//!
//! Label on top, texture in its frame, a ruler below and one beside it. Near and
//! far are told apart by word, by the band's colour and by the frame.

use super::ruler::{across, down, inches};
use super::{Area, CardSpec, Mark, Paper, Side, Tone};

/// Left bare on every side, mm: more than printers need (common practice).
const MARGIN: f64 = 12.0;
/// Height of the label's band.
const LABEL: f64 = 20.0;
/// Room for frame and air around the texture.
const FRAME: f64 = 3.5;
/// Height of what stands below the texture.
const FOOT: f64 = 21.0;
/// Width of the ruler beside the texture.
const BESIDE: f64 = 9.0;
/// Size of small type.
const SMALL: f64 = 3.2;

/// Where the texture stands on a sheet.
pub(super) fn texture(paper: Paper) -> Area {
    let (width, height) = paper.size_mm();
    let (left, top) = (MARGIN + FRAME, MARGIN + LABEL + FRAME);
    Area {
        x: left,
        y: top,
        width: width - left - FRAME - BESIDE - MARGIN,
        height: height - top - FRAME - FOOT - MARGIN,
    }
}

/// All marks of a card.
pub(super) fn marks(spec: &CardSpec) -> Vec<Mark> {
    let inner = texture(spec.paper);
    let mut out = Vec::new();
    label(spec, inner.width + 2.0 * FRAME, &mut out);
    frame(spec.side, inner, &mut out);
    let foot = inner.y + inner.height + FRAME;
    across(MARGIN, foot + 10.0, &mut out);
    inches(MARGIN, foot + 20.0, &mut out);
    down(inner.x + inner.width + FRAME + 1.5, inner.y, &mut out);
    words(spec, MARGIN + 112.0, foot, &mut out);
    out
}

/// Near: white words on a black band. Far: black words on white between two
/// lines, smaller.
fn label(spec: &CardSpec, width: f64, out: &mut Vec<Mark>) {
    let band = Area {
        x: MARGIN,
        y: MARGIN,
        width,
        height: LABEL - 1.0,
    };
    let (size, tone, what) = match spec.side {
        Side::Near => (21.0, Tone::White, "target: swings in"),
        Side::Far => (13.0, Tone::Black, "background: stays"),
    };
    out.push(Mark::Bar(band, Tone::Black));
    if spec.side == Side::Far {
        out.push(Mark::Bar(
            Area {
                y: band.y + 1.0,
                height: band.height - 2.0,
                ..band
            },
            Tone::White,
        ));
    }
    // Capitals of Helvetica are 0.718 of the size tall (Adobe font metrics).
    let baseline = band.y + band.height / 2.0 + 0.718 * size / 2.0;
    let name = spec.side.name().to_uppercase();
    out.push(text(MARGIN + 4.0, baseline, size, true, tone, &name));
    out.push(text(MARGIN + 102.0, baseline, 7.0, true, tone, what));
}

/// Near: one solid frame. Far: four corners.
fn frame(side: Side, inner: Area, out: &mut Vec<Mark>) {
    let (outer, air) = (inner.grown(2.5), inner.grown(0.5));
    out.push(Mark::Bar(outer, Tone::Black));
    out.push(Mark::Bar(air, Tone::White));
    if side == Side::Far {
        let corner = 25.0;
        let gap = Area {
            x: outer.x + corner,
            width: outer.width - 2.0 * corner,
            ..outer
        };
        out.push(Mark::Bar(gap, Tone::White));
        let gap = Area {
            y: outer.y + corner,
            height: outer.height - 2.0 * corner,
            ..outer
        };
        out.push(Mark::Bar(gap, Tone::White));
    }
}

fn words(spec: &CardSpec, x: f64, top: f64, out: &mut Vec<Mark>) {
    let lines = [
        "Print at 100 % (actual size), not fitted.".to_owned(),
        "Then measure: 0 to 100 must be 100 mm,".to_owned(),
        "across and down; 0 to 4 must be 4 inches.".to_owned(),
        format!(
            "focuslag card --side {} --paper {} --seed {}",
            spec.side.name(),
            spec.paper.name().to_lowercase(),
            spec.seed
        ),
        format!("smallest disc {:.2} mm", spec.finest_mm),
    ];
    for (k, line) in lines.iter().enumerate() {
        let baseline = top + 4.0 + 4.0 * k as f64;
        out.push(text(x, baseline, SMALL, k == 0, Tone::Black, line));
    }
}

pub(super) fn text(x: f64, y: f64, size: f64, bold: bool, tone: Tone, words: &str) -> Mark {
    Mark::Text {
        x,
        y,
        size,
        bold,
        tone,
        words: words.to_owned(),
    }
}
