use super::*;
use crate::stats::compare::{CompareOptions, Named, compare};
use crate::stats::fixtures::{clip, swings, timing};

pub(crate) fn sample() -> Comparison {
    let setup = |name: &str, base: f64| {
        let clips = (0..6)
            .map(|c| {
                let ms: Vec<_> = (0..14)
                    .map(|k| (k != 5).then(|| base + f64::from((c * 14 + k) * 37 % 101)))
                    .collect();
                clip(&format!("{name}-{c}"), swings(&ms))
            })
            .collect();
        timing(name, clips)
    };
    let all = [
        setup("kit-amber", 210.0),
        setup("kit-slate", 290.0),
        setup("kit|cobalt", 216.0),
    ];
    let named: Vec<_> = all
        .iter()
        .map(|timing| Named {
            file: "k.timing.json",
            timing,
        })
        .collect();
    compare(&named, &CompareOptions::default()).unwrap()
}

#[test]
fn text_fits_and_tells_every_pair() {
    let text = compare_text(&sample());
    println!("{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100));
    for words in [
        "Intervals at 95 %. Latencies: as seen on the screen, its lag not taken off. Seed 1.",
        "kit-amber (left) − kit-slate (right)",
        "kit-slate (left) − kit|cobalt (right)",
        "adjusted for the number of pairs (Holm); intervals are not",
        "kit-amber reaches focus sooner than kit-slate",
        "93 % (85 to 97)",
        "± 14 ms (2 u)",
    ] {
        assert!(text.replace('\n', " ").contains(words), "{words}\n{text}");
    }
    assert!(!text.contains('\u{1b}'));
    assert!(
        text.starts_with("Near and far together, kit-amber reaches focus sooner than"),
        "{text}"
    );
    assert!(text.trim_end().ends_with("Seed 1."), "{text}");
    assert_eq!(text.matches("Few clips").count(), 0, "{text}");
    // Sides that say what all sides together say are not told again.
    assert!(!text.contains("on the near side"), "{text}");
}

#[test]
fn markdown_tables_are_whole() {
    let page = compare_markdown(&sample());
    assert!(page.contains("### kit-amber (left) − kit-slate (right)"));
    let rows: Vec<_> = page.lines().filter(|l| l.starts_with('|')).collect();
    let pipes = |line: &str| line.replace("\\|", "").matches('|').count();
    assert!(rows.iter().all(|r| pipes(r) == 10), "{page}");
    assert!(page.contains("kit\\|cobalt"));
}

fn named(all: &[crate::store::schema::Timing]) -> String {
    let named: Vec<_> = all
        .iter()
        .map(|timing| Named {
            file: "k.timing.json",
            timing,
        })
        .collect();
    let text = compare_text(&compare(&named, &CompareOptions::default()).unwrap());
    println!("{text}");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Latencies of near and of far trials in turn, ms.
fn uneven(name: &str, near: f64, far: f64) -> crate::store::schema::Timing {
    let ms: Vec<_> = (0..60)
        .map(|k| {
            let base = if k % 2 == 0 { near } else { far };
            Some(base + f64::from(k / 2 * 37 % 101))
        })
        .collect();
    timing(name, vec![clip(name, swings(&ms))])
}

#[test]
fn a_difference_of_one_side_is_not_told_as_one_of_both() {
    let text = named(&[
        uneven("kit-amber", 250.0, 200.0),
        uneven("kit-slate", 250.0, 600.0),
    ]);
    assert!(text.contains("sooner than kit-slate (far alone shows it too, near alone does not)."));
    let both = named(&[
        uneven("kit-amber", 250.0, 200.0),
        uneven("kit-slate", 650.0, 600.0),
    ]);
    assert!(both.contains("sooner than kit-slate.") && !both.contains("side only"));
}

#[test]
fn what_would_show_it_names_its_question() {
    let text = named(&[
        uneven("kit-amber", 250.0, 250.0),
        uneven("kit-slate", 257.0, 257.0),
    ]);
    let asked = "If the difference in time to focus is as large as seen here, about ";
    assert!(text.contains(asked) && text.contains("would show it four times out of five"));
}

#[test]
fn a_tag_that_differs_is_not_told_as_the_cause() {
    let mut slate = uneven("kit-slate", 250.0, 250.0);
    slate
        .setup
        .tags
        .insert("firmware".to_owned(), "2.1".to_owned());
    let text = named(&[uneven("kit-amber", 250.0, 250.0), slate]);
    assert!(
        text.contains("firmware (none given / 2.1): a recorded difference; nothing here shows"),
        "{text}"
    );
}
