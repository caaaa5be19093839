//! The card as SVG, by `svg`: one user unit is one millimetre.

use ::svg::Document;
use ::svg::node::element::{Circle, ClipPath, Definitions, Group, Rectangle, Text, Title};

use super::{Area, Card, Mark, Tone};

/// The text of an SVG of the page.
pub fn svg(card: &Card) -> String {
    let (width, height) = card.spec.paper.size_mm();
    let title = format!("focuslag target card, {}", card.spec.side.name());
    let mut document = Document::new()
        .set("width", format!("{}mm", number(width)))
        .set("height", format!("{}mm", number(height)))
        .set(
            "viewBox",
            format!("0 0 {} {}", number(width), number(height)),
        )
        .add(Title::new(title))
        .add(bar(
            Area {
                x: 0.0,
                y: 0.0,
                width,
                height,
            },
            Tone::White,
        ));
    for mark in &card.marks {
        document = match mark {
            Mark::Bar(area, tone) => document.add(bar(*area, *tone)),
            Mark::Text {
                x,
                y,
                size,
                bold,
                tone,
                words,
            } => document.add(
                Text::new(words.as_str())
                    .set("x", number(*x))
                    .set("y", number(*y))
                    .set("font-size", number(*size))
                    .set("font-family", "Helvetica, Arial, sans-serif")
                    .set("font-weight", if *bold { "bold" } else { "normal" })
                    .set("fill", ink(*tone)),
            ),
        };
    }
    let clip = ClipPath::new()
        .set("id", "texture")
        .add(bar(card.leaves.area, Tone::Black));
    let mut leaves = Group::new().set("clip-path", "url(#texture)");
    for disc in &card.leaves.discs {
        leaves = leaves.add(
            Circle::new()
                .set("cx", number(disc.x))
                .set("cy", number(disc.y))
                .set("r", number(disc.radius))
                .set("fill", ink(disc.tone)),
        );
    }
    document
        .add(Definitions::new().add(clip))
        .add(leaves)
        .to_string()
        + "\n"
}

fn bar(area: Area, tone: Tone) -> Rectangle {
    Rectangle::new()
        .set("x", number(area.x))
        .set("y", number(area.y))
        .set("width", number(area.width))
        .set("height", number(area.height))
        .set("fill", ink(tone))
}

fn ink(tone: Tone) -> &'static str {
    match tone {
        Tone::Black => "#000",
        Tone::White => "#fff",
    }
}

/// Hundredths, without a tail of noughts.
fn number(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0
}
