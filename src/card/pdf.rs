//! The card as PDF, by `pdf-writer`.
//!
//! Type is Helvetica, one of the fonts every reader of PDF has (ISO 32000-1,
//! 9.6.2.2). A disc is a line 0.01 mm long with round ends (8.4.3.3), which
//! takes a quarter of the bytes of four curves. No date, no device: the same
//! card gives the same bytes.

use pdf_writer::types::LineCapStyle;
use pdf_writer::{Content, Filter, Name, Pdf, Rect, Ref, Str, TextStr};

use super::{Area, Card, Mark, Tone};

/// PDF points a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// Steps a millimetre: coordinates are whole numbers of steps.
const STEPS: f64 = 100.0;

/// The bytes of a PDF of one page.
pub fn pdf(card: &Card) -> Vec<u8> {
    let [catalog, pages, page_id, content, plain, bold, info] = [1, 2, 3, 4, 5, 6, 7].map(Ref::new);
    let (width, height) = card.spec.paper.size_mm();
    let mut pdf = Pdf::new();
    let mut root = pdf.catalog(catalog);
    root.pages(pages);
    root.lang(TextStr("en"));
    // Readers that know this key (ISO 32000-1, table 150) offer 100 %.
    root.viewer_preferences()
        .pair(Name(b"PrintScaling"), Name(b"None"));
    drop(root);
    pdf.pages(pages).kids([page_id]).count(1);
    let mut page = pdf.page(page_id);
    let (right, top) = ((width * POINTS) as f32, (height * POINTS) as f32);
    page.media_box(Rect::new(0.0, 0.0, right, top));
    page.parent(pages);
    page.contents(content);
    page.resources().fonts().pair(PLAIN, plain).pair(BOLD, bold);
    drop(page);
    pdf.type1_font(plain).base_font(Name(b"Helvetica"));
    pdf.type1_font(bold).base_font(Name(b"Helvetica-Bold"));
    let title = format!("focuslag target card, {}", card.spec.side.name());
    pdf.document_info(info).title(TextStr(&title));
    let drawn = miniz_oxide::deflate::compress_to_vec_zlib(&drawn(card, height), 9);
    pdf.stream(content, &drawn).filter(Filter::FlateDecode);
    pdf.finish()
}

const PLAIN: Name<'static> = Name(b"P");
const BOLD: Name<'static> = Name(b"B");

/// The page's operators, in steps from the top left corner down.
fn drawn(card: &Card, height: f64) -> Vec<u8> {
    let mut content = Content::new();
    let scale = (POINTS / STEPS) as f32;
    let top = (height * POINTS) as f32;
    content.transform([scale, 0.0, 0.0, -scale, 0.0, top]);
    for mark in &card.marks {
        match mark {
            Mark::Bar(area, tone) => {
                content.set_fill_gray(gray(*tone));
                rect(&mut content, *area);
                content.fill_nonzero();
            }
            Mark::Text {
                x,
                y,
                size,
                bold,
                tone,
                words,
            } => {
                content.set_fill_gray(gray(*tone));
                content.begin_text();
                content.set_font(if *bold { BOLD } else { PLAIN }, steps(*size));
                content.set_text_matrix([1.0, 0.0, 0.0, -1.0, steps(*x), steps(*y)]);
                content.show(Str(words.as_bytes()));
                content.end_text();
            }
        }
    }
    rect(&mut content, card.leaves.area);
    content.clip_nonzero();
    content.end_path();
    content.set_line_cap(LineCapStyle::RoundCap);
    let mut tone = None;
    for disc in &card.leaves.discs {
        if tone != Some(disc.tone) {
            tone = Some(disc.tone);
            content.set_stroke_gray(gray(disc.tone));
        }
        let (x, y) = (steps(disc.x), steps(disc.y));
        content.set_line_width(steps(2.0 * disc.radius));
        content.move_to(x, y);
        content.line_to(x + 1.0, y);
        content.stroke();
    }
    content.finish().into_vec()
}

fn rect(content: &mut Content, area: Area) {
    content.rect(
        steps(area.x),
        steps(area.y),
        steps(area.width),
        steps(area.height),
    );
}

fn gray(tone: Tone) -> f32 {
    match tone {
        Tone::Black => 0.0,
        Tone::White => 1.0,
    }
}

/// Whole steps.
fn steps(mm: f64) -> f32 {
    (mm * STEPS).round() as f32
}
