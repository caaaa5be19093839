//! The page: what was asked stands on it, nowhere else, and the same again.

use super::*;

fn spec(side: Side, paper: Paper) -> CardSpec {
    CardSpec {
        side,
        paper,
        seed: 7,
        finest_mm: 2.0,
    }
}

fn bounds(mark: &Mark) -> Area {
    match mark {
        Mark::Bar(area, _) => *area,
        // 0.7 of the size a letter is wider than Helvetica's mean.
        Mark::Text {
            x, y, size, words, ..
        } => Area {
            x: *x,
            y: y - size,
            width: 0.7 * size * words.len() as f64,
            height: 1.25 * size,
        },
    }
}

#[test]
fn the_same_card_is_the_same_bytes_and_another_seed_is_not() {
    let one = Card::new(spec(Side::Near, Paper::A4)).unwrap();
    let again = Card::new(spec(Side::Near, Paper::A4)).unwrap();
    assert_eq!(pdf(&one), pdf(&again));
    assert_eq!(svg(&one), svg(&again));
    for other in [
        CardSpec {
            seed: 8,
            ..one.spec
        },
        spec(Side::Far, Paper::A4),
    ] {
        let other = Card::new(other).unwrap();
        assert_ne!(other.leaves.discs, one.leaves.discs);
        assert_ne!(pdf(&other), pdf(&one));
    }
}

/// What is meant for the page keeps clear of its edge, and of the texture.
#[test]
fn nothing_lies_on_the_texture_or_off_the_page() {
    for (side, paper) in [
        (Side::Near, Paper::A4),
        (Side::Far, Paper::A4),
        (Side::Near, Paper::Letter),
        (Side::Far, Paper::Letter),
    ] {
        let card = Card::new(spec(side, paper)).unwrap();
        let (width, height) = paper.size_mm();
        let texture = card.leaves.area;
        assert!(
            texture.width > 160.0 && texture.height > 190.0,
            "{texture:?}"
        );
        for mark in &card.marks {
            let it = bounds(mark);
            let (right, bottom) = (it.x + it.width, it.y + it.height);
            assert!(it.x >= 6.0 && it.y >= 6.0, "{mark:?}");
            assert!(bottom <= height - 6.0, "{mark:?}");
            if let Mark::Bar(..) = mark {
                assert!(right <= width - 6.0, "{mark:?}");
            }
            let framed = it.x < texture.x && right > texture.x + texture.width;
            let apart = right <= texture.x
                || it.x >= texture.x + texture.width
                || bottom <= texture.y
                || it.y >= texture.y + texture.height;
            assert!(apart || framed || white(mark), "{mark:?}");
        }
    }
}

fn white(mark: &Mark) -> bool {
    matches!(mark, Mark::Bar(_, Tone::White))
}

#[test]
fn discs_cover_the_texture_and_half_of_it_is_black() {
    for (side, seed) in [(Side::Near, 1), (Side::Far, 1), (Side::Near, 2)] {
        let spec = CardSpec {
            seed,
            ..spec(side, Paper::Letter)
        };
        let card = Card::new(spec).unwrap();
        let area = card.leaves.area;
        let tone = |x: f64, y: f64| {
            let on = |d: &&Disc| (d.x - x).hypot(d.y - y) <= d.radius;
            card.leaves.discs.iter().rev().find(on).map(|d| d.tone)
        };
        let (mut black, mut all) = (0, 0);
        for row in 0..80 {
            for column in 0..60 {
                let x = area.x + area.width * (f64::from(column) + 0.5) / 60.0;
                let y = area.y + area.height * (f64::from(row) + 0.5) / 80.0;
                all += 1;
                black += i32::from(tone(x, y).unwrap_or(Tone::White) == Tone::Black);
            }
        }
        let share = f64::from(black) / f64::from(all);
        assert!((share - 0.5).abs() < 0.03, "{share}");
        assert!((card.leaves.black_share - 0.5).abs() <= 0.003);
        let radii = card.leaves.discs.iter().map(|d| d.radius);
        let (least, most) = radii.fold((f64::MAX, 0.0), |(a, b), r| (r.min(a), r.max(b)));
        assert!((0.99..1.1).contains(&least), "{least}");
        assert!(most > 10.0 && most <= area.width / 8.0 + 0.01, "{most}");
    }
}

/// The density of radii is r⁻³: half of all discs drawn are smaller than √2
/// times the smallest. Of those that show the large ones are a little more.
#[test]
fn small_discs_are_many() {
    let card = Card::new(spec(Side::Near, Paper::A4)).unwrap();
    let discs = &card.leaves.discs;
    let small = discs.iter().filter(|d| d.radius < 2f64.sqrt()).count();
    let share = small as f64 / discs.len() as f64;
    assert!((0.35..0.52).contains(&share), "{share}");
}

#[test]
fn a_detail_out_of_range_is_refused() {
    for finest_mm in [0.0, 0.5, 9.0, f64::NAN] {
        let wrong = CardSpec {
            finest_mm,
            ..spec(Side::Near, Paper::A4)
        };
        let told = Card::new(wrong).unwrap_err().to_string();
        assert!(told.contains("outside 0.6 to 8 mm"), "{told}");
    }
}

/// The content of the PDF, inflated, against the marks and discs.
#[test]
fn the_pdf_holds_a_page_of_the_right_size_and_every_disc() {
    let card = Card::new(spec(Side::Far, Paper::A4)).unwrap();
    let bytes = pdf(&card);
    let head = String::from_utf8_lossy(&bytes);
    // 210 × 297 mm at 72 points an inch of 25.4 mm.
    let at = head.find("/MediaBox [0 0 ").unwrap() + 15;
    let size: Vec<f64> = head[at..]
        .split(']')
        .next()
        .unwrap()
        .split(' ')
        .map(|v| v.parse().unwrap())
        .collect();
    assert!((size[0] - 210.0 * 72.0 / 25.4).abs() < 1e-3, "{size:?}");
    assert!((size[1] - 297.0 * 72.0 / 25.4).abs() < 1e-3, "{size:?}");
    assert!(head.contains("/PrintScaling /None") && !head.contains("Date"));
    let start = bytes
        .windows(8)
        .position(|w| w == b"stream\n\x78")
        .unwrap_or_else(|| bytes.windows(7).position(|w| w == b"stream\n").unwrap())
        + 7;
    let content = miniz_oxide::inflate::decompress_to_vec_zlib(&bytes[start..]).unwrap();
    let text = String::from_utf8(content).unwrap();
    let strokes = text.lines().filter(|l| *l == "S").count();
    assert_eq!(strokes, card.leaves.discs.len());
    assert!(text.contains("(FAR) Tj"));
}
