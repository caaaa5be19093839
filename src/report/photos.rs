//! Photographs judged, as text.

use std::cmp::Ordering;

use crate::photo::{
    Between, OnScreen, Photos, Picture, PictureBlur, PictureVerdict, Target, Versus,
};
use crate::stats::normal::level_words;
use crate::store::schema::{Rate, ReferenceFrom, Side};

use super::table::{Form, table};
use super::words::{
    NONE, ends, fixed, p, paragraph, plain, points, rate_with_interval, with_interval,
};

/// Ends of the histogram's bins, circles of confusion.
pub(super) const BINS: [f64; 6] = [0.5, 1.0, 1.5, 2.0, 4.0, 8.0];
/// Pictures that are named as the worst.
const WORST: usize = 5;

/// Every setup and every pair as text of at most 100 columns.
pub(crate) fn photos_text(all: &[Photos], pairs: &[Versus]) -> String {
    let mut text = String::new();
    text.push_str(&paragraph("", &headline(&all.iter().collect::<Vec<_>>())));
    text.push('\n');
    text.push_str(&rates(all));
    text.push('\n');
    text.push_str(&histogram(all));
    text.push_str(&paragraph(
        "",
        "Pictures by blur in circles of confusion (the picture's diagonal ÷ 1500), up to the figure \
         above each column.",
    ));
    text.push('\n');
    text.push_str(&references(all));
    for photos in all {
        text.push_str(&worst(photos));
    }
    for photos in all {
        if let Some(screen) = &photos.screen {
            text.push('\n');
            text.push_str(&paragraph("", &beside_screen(&photos.setup, screen)));
        }
    }
    if !pairs.is_empty() {
        text.push('\n');
        text.push_str(&differences(pairs));
    }
    let warned = all.iter().filter(|photos| !photos.warnings.is_empty());
    for (k, photos) in warned.enumerate() {
        if k == 0 {
            text.push_str("\nBefore you rely on this\n");
        }
        for warning in &photos.warnings {
            text.push_str(&paragraph(
                "  - ",
                &format!("{}: {warning}", plain(&photos.setup)),
            ));
        }
    }
    text
}

/// What a hit is here, and whether it is verified.
pub(super) fn headline(all: &[&Photos]) -> String {
    let Some(first) = all.first() else {
        return String::new();
    };
    let targets = || all.iter().flat_map(|p| &p.targets);
    let unverified = targets().any(|t| t.reference_from != ReferenceFrom::Hand);
    let circles = |t: &Target| t.hit_limit_permille / t.circle_permille;
    let low = targets().map(circles).fold(f64::INFINITY, f64::min);
    let high = targets().map(circles).fold(0.0, f64::max);
    let limit = match (fixed(low, 2), fixed(high, 2)) {
        (low, high) if low == high => low,
        (low, high) => ends(&low, &high),
    };
    let area: Vec<String> = first.area.iter().map(|a| fixed(a * 100.0, 0)).collect();
    format!(
        "Photographs: a hit is one whose blur in the focus area ({} to {} % across, {} to {} % \
         down) is at most {limit} circles of confusion.{}",
        area[0],
        area[2],
        area[1],
        area[3],
        if unverified { " Unverified." } else { "" }
    )
}

fn rates(all: &[Photos]) -> String {
    let level = all.first().map_or(0.95, |p| p.confidence);
    let rate = format!("Hit rate ({} %)", level_words(level));
    let head = [
        "Setup",
        "Pictures",
        "Hit",
        "Miss",
        "Void",
        &rate,
        "Median\nblur, ‰",
        "90 % below,\n‰",
    ];
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|photos| {
            let s = &photos.summary;
            let blur = |x: Option<f64>| x.map_or(NONE.to_owned(), |x| fixed(x, 2));
            vec![
                plain(&photos.setup),
                s.pictures.to_string(),
                s.hit.to_string(),
                s.miss.to_string(),
                s.void.to_string(),
                rate_with_interval(s.hit_rate),
                blur(s.median_permille),
                blur(s.p90_permille),
            ]
        })
        .collect();
    table(Form::Text, &head, &rows, 1)
}

/// How many pictures are blurred by how much.
fn histogram(all: &[Photos]) -> String {
    let mut head: Vec<String> = vec!["Setup".to_owned()];
    head.extend(BINS.iter().map(|b| format!("{b}")));
    head.push("more".to_owned());
    let rows: Vec<Vec<String>> = all
        .iter()
        .map(|photos| {
            let counts = counts(photos);
            let cells = counts.iter().map(|n| match n {
                0 => "·".to_owned(),
                n => n.to_string(),
            });
            std::iter::once(plain(&photos.setup)).chain(cells).collect()
        })
        .collect();
    table(Form::Text, &head, &rows, 1)
}

/// Judged pictures by bin.
pub(super) fn counts(photos: &Photos) -> [usize; BINS.len() + 1] {
    let mut counts = [0; BINS.len() + 1];
    for picture in &photos.pictures {
        if let (true, Some(blur)) = (picture.verdict != PictureVerdict::Void, picture.blur) {
            counts[BINS.iter().take_while(|b| blur.circles > **b).count()] += 1;
        }
    }
    counts
}

fn references(all: &[Photos]) -> String {
    let head = [
        "Setup",
        "Target",
        "Blur 0 is",
        "Hits",
        "Picture,\npx",
        "Hit limit,\n‰",
        "Least told,\n‰",
    ];
    let mut rows = Vec::new();
    for photos in all {
        for (k, target) in photos.targets.iter().enumerate() {
            let size = format!("{} × {}", target.size[0], target.size[1]);
            rows.push(vec![
                plain(&photos.setup),
                called(target, k),
                target.reference.clone(),
                hits(photos, k),
                size,
                fixed(target.hit_limit_permille, 2),
                target
                    .least_permille
                    .map_or(NONE.to_owned(), |l| fixed(l, 2)),
            ]);
        }
    }
    table(Form::Text, &head, &rows, 3)
}

/// `12 of 20`.
fn hits(photos: &Photos, target: usize) -> String {
    let these = || photos.pictures.iter().filter(|p| p.target == Some(target));
    let count = |v| these().filter(|p| p.verdict == v).count();
    let hit = count(PictureVerdict::Hit);
    format!("{hit} of {}", hit + count(PictureVerdict::Miss))
}

/// `near`, `far`, or by number.
pub(super) fn called(target: &Target, k: usize) -> String {
    match target.side {
        Some(Side::Near) => "near".to_owned(),
        Some(Side::Far) => "far".to_owned(),
        None => (k + 1).to_string(),
    }
}

/// The most blurred misses, the worst first.
pub(crate) fn most_blurred(photos: &Photos) -> Vec<&Picture> {
    let mut misses: Vec<&Picture> = photos
        .pictures
        .iter()
        .filter(|p| p.verdict == PictureVerdict::Miss)
        .collect();
    let blur = |p: &Picture| p.blur.map_or(0.0, |b| b.permille);
    misses.sort_by(|a, b| blur(b).total_cmp(&blur(a)));
    misses.truncate(WORST);
    misses
}

/// `3.1 circles, 14.2 px`.
pub(super) fn amount(blur: &PictureBlur) -> String {
    let least = if blur.at_least { "at least " } else { "" };
    let (circles, px) = (fixed(blur.circles, 1), fixed(blur.px, 1));
    format!("{least}{circles} circles, {px} px")
}

fn worst(photos: &Photos) -> String {
    let named: Vec<String> = most_blurred(photos)
        .iter()
        .filter_map(|p| Some((p, p.blur?)))
        .map(|(p, blur)| format!("{} ({})", plain(&p.file), amount(&blur)))
        .collect();
    match named.is_empty() {
        true => String::new(),
        false => paragraph(
            "",
            &format!(
                "{}: most blurred: {}.",
                plain(&photos.setup),
                named.join(", ")
            ),
        ),
    }
}

/// Screen and photographs of one setup, in sentences.
pub(super) fn beside_screen(setup: &str, s: &OnScreen) -> String {
    let setup = plain(setup);
    if s.trials == 0 {
        return format!(
            "{setup}: no trial of {} is judged both on the screen and in a photograph.",
            s.timing
        );
    }
    let hits = (s.both_hit, s.both_hit + s.screen_only, s.hits_good);
    let misses = (s.both_miss, s.both_miss + s.photograph_only, s.misses_bad);
    let of = |(n, all, rate): (u64, u64, Option<Rate>)| {
        format!("{n} of {all}: {}", rate_with_interval(rate))
    };
    let mut text = format!(
        "{setup}, screen and photograph of {} trials, matched {}: a hit on the screen is one in the \
         photograph in {}; a miss is one in {}. They say the same in {}.",
        s.trials,
        s.matched,
        of(hits),
        of(misses),
        of((s.both_hit + s.both_miss, s.trials, s.agreed))
    );
    text.push_str(&stricter(s));
    if let Some(k) = s.kappa {
        text.push_str(&format!(
            " Agreement beyond chance (Cohen's kappa, 0 none, 1 full): {}.",
            between(&k, 2)
        ));
    }
    match (&s.bad_from_permille, &s.not_told) {
        (Some(b), _) => text.push_str(&format!(
            " Photographs go bad from {} ‰ of blur at the end of the trial on the screen.",
            between(b, 1)
        )),
        (None, Some(why)) => text.push_str(&format!(
            " From which blur on the screen photographs go bad is not told: {why}."
        )),
        (None, None) => {}
    }
    if s.outside + s.unlike > 0 {
        text.push_str(&format!(
            " {} photographs belong to no trial; {} trials have fewer or more than the others.",
            s.outside, s.unlike
        ));
    }
    text
}

/// Whether one of the two is the stricter judge.
fn stricter(s: &OnScreen) -> String {
    let Some(p_value) = s.mcnemar_p else {
        return String::new();
    };
    let said = match s.screen_only.cmp(&s.photograph_only) {
        _ if p_value >= 1.0 - s.agreed.map_or(0.95, |a| a.confidence) => {
            "neither is shown to be the stricter"
        }
        Ordering::Greater => "the photograph is the stricter",
        _ => "the screen is the stricter",
    };
    format!(
        " Only the screen says hit in {}, only the photograph in {}: {said} (McNemar, exact, p {}).",
        s.screen_only,
        s.photograph_only,
        p(Some(p_value))
    )
}

/// `3.2 (2.5 to 5.1)`.
fn between(b: &Between, digits: usize) -> String {
    let limit = |x: Option<f64>| x.map_or(NONE.to_owned(), |x| fixed(x, digits));
    with_interval(&fixed(b.value, digits), &limit(b.low), &limit(b.high))
}

fn differences(pairs: &[Versus]) -> String {
    let head = ["Left", "Right", "Hit rate, points", "p", "p, all pairs"];
    let rows: Vec<Vec<String>> = pairs
        .iter()
        .map(|v| {
            let limits = v.low.zip(v.high).map_or(String::new(), |(low, high)| {
                format!(" ({} to {})", points(Some(low)), points(Some(high)))
            });
            vec![
                plain(&v.a),
                plain(&v.b),
                format!("{}{limits}", points(v.value)),
                p(v.fisher_p),
                p(v.holm_p),
            ]
        })
        .collect();
    let mut text = table(Form::Text, &head, &rows, 2);
    for note in difference_notes(pairs) {
        text.push_str(&paragraph("", note));
    }
    text
}

/// How differences are to be read.
pub(super) fn difference_notes(pairs: &[Versus]) -> Vec<&'static str> {
    let mut notes = vec![
        "Left minus right, near and far apart where they are known; interval by Newcombe, p by \
         Fisher's exact test, then adjusted for the number of pairs (Holm).",
    ];
    if pairs.iter().any(|v| !v.same_limit) {
        notes.push(
            "Hit limits differ between setups: their rates do not mean the same. Give one \
             --hit-permille for all.",
        );
    }
    if pairs.iter().any(|v| !v.verified) {
        notes.push(
            "Not all were held against pictures focused by hand: the setups share no yardstick.",
        );
    }
    notes
}
