//! Photographs judged, as a page.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};

use super::names::{name, prose, shown};
use super::shell::framed;
use super::tables::scrolled;
use crate::photo::{Crop, Photos, Picture, PictureVerdict, Target, Versus};
use crate::report::photos::{amount, beside_screen, called, difference_notes, headline};
use crate::report::plot::blurs;
use crate::report::words::{NONE, fixed, p, points, rate_with_interval};

/// Width of a bin and bins of the histogram, circles of confusion.
const BIN: f64 = 0.25;
const BINS: usize = 24;

/// A setup's photographs with what is shown of them.
pub(crate) struct Shown<'a> {
    /// The setup.
    pub photos: &'a Photos,
    /// The picture of every target that is blur 0.
    pub references: Vec<Option<Crop>>,
    /// The most blurred misses.
    pub worst: Vec<(&'a Picture, Option<Crop>)>,
}

/// One page without scripts that needs no other file.
pub(crate) fn photos_page(all: &[Shown<'_>], pairs: &[Versus]) -> String {
    let names: Vec<String> = all.iter().map(|s| shown(&s.photos.setup)).collect();
    let judged: Vec<&Photos> = all.iter().map(|s| s.photos).collect();
    let main = html! {
        section #result aria-labelledby="result-h" {
            h2 #result-h { "Sharp where they had to be" }
            p { (headline(&judged)) }
            (scrolled("Hit rates of the photographs", &rates(&judged)))
            (warned(&judged))
            (histograms(&judged))
        }
        (screens(&judged))
        @if !pairs.is_empty() { (differences(pairs)) }
        @for one in all { (worst(one)) }
        @for photos in &judged { (every(photos)) }
    };
    framed(
        &names,
        "photographs",
        "photographs, sharp or not",
        "photographs",
        &main,
    )
}

fn rates(all: &[&Photos]) -> Markup {
    html! { table {
        caption { "Photographs by setup" }
        thead { tr {
            th scope="col" .l { "Setup" }
            @for head in ["Hit rate", "Hit", "Miss", "Void", "Median blur, ‰", "90 % below, ‰"] {
                th scope="col" { (head) }
            }
        } }
        tbody { @for photos in all {
            @let s = &photos.summary;
            @let blur = |x: Option<f64>| x.map_or(NONE.to_owned(), |x| fixed(x, 2));
            tr {
                th scope="row" { (name(&photos.setup)) }
                td { (rate_with_interval(s.hit_rate)) }
                td { (s.hit) } td { (s.miss) } td { (s.void) }
                td { (blur(s.median_permille)) } td { (blur(s.p90_permille)) }
            }
        } }
    } }
}

fn warned(all: &[&Photos]) -> Markup {
    html! { @if all.iter().any(|p| !p.warnings.is_empty()) {
        div.mind {
            h3 { "Before you rely on this" }
            ul { @for photos in all { @for w in &photos.warnings {
                li { (name(&photos.setup)) ": " (shown(w)) }
            } } }
        }
    } }
}

fn histograms(all: &[&Photos]) -> Markup {
    let shares: Vec<Vec<f64>> = all.iter().map(|p| shares(p)).collect();
    let top = shares.iter().flatten().copied().fold(0.0, f64::max);
    html! { div.stack { @for (photos, shares) in all.iter().zip(&shares) {
        figure {
            figcaption { (name(&photos.setup)) }
            (PreEscaped(blurs(
                &format!("Blur of the photographs of {}", shown(&photos.setup)),
                "Share of the judged pictures by blur in circles of confusion.",
                BIN, shares, top, limit(photos),
            )))
        }
    } } }
}

fn limit(photos: &Photos) -> f64 {
    let circles = |t: &Target| t.hit_limit_permille / t.circle_permille;
    photos.targets.iter().map(circles).fold(0.0, f64::max)
}

fn shares(photos: &Photos) -> Vec<f64> {
    let mut counts = [0.0; BINS + 1];
    let judged = photos
        .pictures
        .iter()
        .filter(|p| p.verdict != PictureVerdict::Void);
    for blur in judged.filter_map(|p| p.blur) {
        counts[((blur.circles.max(0.0) / BIN) as usize).min(BINS)] += 1.0;
    }
    let all = photos.summary.judged.max(1) as f64;
    counts.iter().map(|c| c / all).collect()
}

/// Both verdicts on the same trials.
fn screens(all: &[&Photos]) -> Markup {
    let with = || all.iter().filter_map(|p| Some((*p, p.screen.as_ref()?)));
    html! { @if with().next().is_some() {
        section #screen aria-labelledby="screen-h" {
            h2 #screen-h { "Screen and photograph" }
            @for (photos, screen) in with() {
                (scrolled(&format!("Both verdicts on {}", shown(&photos.setup)), &html! { table {
                    caption { (name(&photos.setup)) ", trials" }
                    thead { tr {
                        th scope="col" .l { "On the screen" }
                        th scope="col" { "Photograph: hit" } th scope="col" { "miss" }
                    } }
                    tbody {
                        tr { th scope="row" { "hit" } td { (screen.both_hit) } td { (screen.screen_only) } }
                        tr { th scope="row" { "miss" } td { (screen.photograph_only) } td { (screen.both_miss) } }
                    }
                } }))
                p { (prose(&beside_screen(&photos.setup, screen), &[&photos.setup])) }
            }
        }
    } }
}

fn differences(pairs: &[Versus]) -> Markup {
    let table = html! { table {
        caption { "Hit rates, left minus right" }
        thead { tr {
            th scope="col" .l { "Left" } th scope="col" .l { "Right" }
            @for head in ["Points", "p", "p, all pairs"] { th scope="col" { (head) } }
        } }
        tbody { @for v in pairs { tr {
            td.n.l { (name(&v.a)) } td.n.l { (name(&v.b)) }
            td { (points(v.value)) " (" (points(v.low)) " to " (points(v.high)) ")" }
            td { (p(v.fisher_p)) } td { (p(v.holm_p)) }
        } } }
    } };
    html! {
        section #differences aria-labelledby="differences-h" {
            h2 #differences-h { "Differences" }
            (scrolled("Differences of the hit rates", &table))
            @for note in difference_notes(pairs) { p.note { (note) } }
        }
    }
}

fn image(crop: &Crop, alt: &str) -> Markup {
    let data = format!("data:image/jpeg;base64,{}", STANDARD.encode(&crop.jpeg));
    html! { img src=(data) alt=(alt) width=(crop.size.0) height=(crop.size.1); }
}

fn worst(one: &Shown<'_>) -> Markup {
    let setup = &one.photos.setup;
    html! {
        section aria-label={ "Pictures of " (shown(setup)) } {
            h2 { "Pictures: " (name(setup)) }
            p.note { "The middle of the focus area, pixel for pixel. First what is blur 0, then the \
                most blurred misses." }
            div.film {
                @for (k, (target, crop)) in one.photos.targets.iter().zip(&one.references).enumerate() {
                    @if let Some(crop) = crop { figure {
                        (image(crop, "Blur 0"))
                        figcaption { "Blur 0 of target " (called(target, k)) ": " (name(&target.reference)) }
                    } }
                }
                @for (picture, crop) in &one.worst { @if let Some(crop) = crop { figure {
                    (image(crop, "A miss"))
                    figcaption { (name(&picture.file)) @if let Some(b) = picture.blur {
                        ": " (amount(&b))
                    } }
                } } }
            }
            @if one.worst.is_empty() { p { "No miss." } }
        }
    }
}

fn every(photos: &Photos) -> Markup {
    let table = html! { table {
        caption { "Every picture" }
        thead { tr {
            th scope="col" .l { "Picture" } th scope="col" .l { "Target" } th scope="col" .l { "Verdict" }
            th scope="col" .l { "Trial" }
            @for head in ["Blur, ‰", "± 2 u", "px", "Circles"] { th scope="col" { (head) } }
        } }
        tbody { @for picture in &photos.pictures { tr {
            th scope="row" { (name(&picture.file)) }
            td.l { (picture.target.and_then(|k| Some(called(photos.targets.get(k)?, k)))
                .unwrap_or_else(|| NONE.to_owned())) }
            td.l { (verdict(picture)) }
            td.l { @match &picture.trial {
                Some(t) => { (name(&t.clip)) ":" (t.index) },
                None => { (NONE) }
            } }
            @match picture.blur {
                Some(b) => {
                    td { (fixed(b.permille, 2)) } td { (fixed(2.0 * b.u_permille, 2)) }
                    td { (fixed(b.px, 1)) } td { (fixed(b.circles, 2)) }
                }
                None => { td { (NONE) } td { (NONE) } td { (NONE) } td { (NONE) } }
            }
        } } }
    } };
    html! {
        details {
            summary { "Every picture of " (prose(&photos.setup, &[&photos.setup])) }
            (scrolled(&format!("Pictures of {}", shown(&photos.setup)), &table))
        }
    }
}

fn verdict(picture: &Picture) -> String {
    let word = match (picture.verdict, picture.reason) {
        (PictureVerdict::Hit, _) => "hit".to_owned(),
        (PictureVerdict::Miss, _) if picture.beyond_recognition => {
            "miss (beyond recognition)".to_owned()
        }
        (PictureVerdict::Miss, _) => "miss".to_owned(),
        (PictureVerdict::Void, Some(why)) => format!("void ({})", why.word()),
        (PictureVerdict::Void, None) => "void".to_owned(),
    };
    if picture.close_call {
        format!("{word}, close call")
    } else {
        word
    }
}
