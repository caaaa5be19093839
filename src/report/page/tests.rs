use super::*;
use crate::stats::compare::{CompareOptions, Named, compare};
use crate::stats::fixtures::{blurred, clip, swings, timing, void};
use crate::store::schema::{Cue, ReferenceFrom, Side, Verdict};

fn made(name: &str, add: f64) -> Timing {
    let ms: Vec<_> = (0..20u32)
        .map(|k| (k % 9 != 7).then(|| add + f64::from(k * 37 % 101)))
        .collect();
    let mut trials = swings(&ms);
    for trial in &mut trials {
        blurred(trial, 31.0, 0.6, ReferenceFrom::Setup);
    }
    trials[3].verdict = Verdict::Soft;
    trials[3].latency_ms = None;
    trials[4].cues.insert(
        "subject box".to_owned(),
        Cue {
            shown_s: Some(17.1),
            latency_ms: Some(100.0),
            on_at_onset: false,
            heard: false,
        },
    );
    let mut out = void(20, Some(Side::Far));
    out.reason = Some("excluded: a gull <b>".to_owned());
    trials.extend([out, void(21, Some(Side::Near))]);
    timing(name, vec![clip(&format!("{name}-1"), trials)])
}

fn source<'a>(timing: &'a Timing) -> Source<'a> {
    Source {
        file: "a.timing.json".to_owned(),
        timing,
        name: &timing.setup.name,
        evidence: None,
        missing: vec!["a.evidence.zip: no evidence".to_owned()],
    }
}

#[test]
fn every_trial_and_every_reason_is_on_the_page() {
    let (a, b) = (made("kit-amber", 200.0), made("kit-slate", 400.0));
    let named = [("a", &a), ("b", &b)].map(|(file, timing)| Named { file, timing });
    let comparison = compare(&named, &CompareOptions::default()).unwrap();
    let mut sources = [source(&a), source(&b)];
    let page = page(
        &mut sources,
        std::slice::from_ref(&comparison),
        &["a tide to mind".to_owned()],
        Stills::Some,
        0.95,
    );
    let html = &page.html;
    assert_eq!(
        (page.trials, page.with_stills, page.stills_shown),
        (44, 0, 0)
    );
    assert_eq!(html.matches("<details class=\"trial\">").count(), 44);
    for words in [
        "void, excluded: a gull &lt;b&gt;",
        "subject box",
        "a tide to mind",
        "Evidence that is missing",
        "lost, hunted on",
        "Rig and measure of",
        "id=\"t1-0-21\"",
    ] {
        assert!(html.contains(words), "{words}");
    }
    // The words of the comparison stand there as they are.
    let pair = comparison.pairs.iter().find(|p| p.side == "all").unwrap();
    let sentence = pair.sentence.replace("kit-amber", "<bdi>kit-amber</bdi>");
    let sentence = sentence.replace("kit-slate", "<bdi>kit-slate</bdi>");
    assert!(html.contains(&sentence), "{sentence}");
    // Strips: 44 marks and the key's and list's marks beside words.
    let dots = html.matches("class=\"g ").count();
    assert!(dots >= 44 + 2 * 44, "{dots}");
    // Links lead somewhere.
    for (at, _) in html.match_indices("href=\"#") {
        let id: String = html[at + 7..].chars().take_while(|c| *c != '"').collect();
        assert!(html.contains(&format!("id=\"{id}\"")), "{id}");
    }
}

/// Relative luminance and contrast as WCAG 2.2 defines them.
fn contrast(a: &str, b: &str) -> f64 {
    let light = |hex: &str| {
        let full = match hex.len() {
            3 => hex.chars().flat_map(|c| [c, c]).collect(),
            _ => hex.to_owned(),
        };
        let part = |k: usize| {
            let c = f64::from(u8::from_str_radix(&full[k..k + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * part(0) + 0.7152 * part(2) + 0.0722 * part(4)
    };
    let (a, b) = (light(a), light(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn inks_stand_out_from_papers() {
    // Black on white is 21 to 1.
    assert!((contrast("000", "fff") - 21.0).abs() < 1e-9);
    let style = include_str!("style.css");
    let roots: Vec<&str> = style
        .split(":root{")
        .skip(1)
        .map(|s| s.split('}').next().unwrap())
        .collect();
    assert_eq!(roots.len(), 3);
    for root in roots {
        let colour = |name: &str| {
            let lead = format!("--{name}:#");
            let at = root.find(&lead).unwrap() + lead.len();
            root[at..].split([';', '}']).next().unwrap()
        };
        for paper in ["paper", "card", "mind"] {
            for ink in ["ink", "soft", "blue", "amber", "brick", "grey"] {
                let ratio = contrast(colour(ink), colour(paper));
                // WCAG 2.2, 1.4.3: text at least 4.5 to 1.
                assert!(ratio >= 4.5, "{ink} on {paper}: {ratio:.2}");
            }
            for line in ["teal", "plum", "moss"] {
                // WCAG 2.2, 1.4.11: graphics at least 3 to 1.
                assert!(
                    contrast(colour(line), colour(paper)) >= 3.0,
                    "{line} on {paper}"
                );
            }
        }
    }
}
