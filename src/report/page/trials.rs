//! The evidence, trial by trial.

use maud::{Markup, PreEscaped, html};

use super::kit::Kit;
use super::names::{name, shown};
use super::plots::{key, mark};
use super::stills::Pictures;
use super::tables::scrolled;
use crate::report::plot::moment;
use crate::report::trial::{Close, glance, kind, numbers, verdict_words};
use crate::report::words::{NONE, fixed, whole};
use crate::store::evidence::StillRecord;
use crate::store::schema::{Clip, Trial};

pub(super) fn section(kits: &[Kit], pictures: &Pictures, kept: usize) -> Markup {
    html! {
        section #trials aria-labelledby="trials-h" {
            h2 #trials-h { "Evidence" }
            p.note {
                "Stills show the focus area at the film's own pixels, luma, and the whole screen small \
                beside it. "
                (said(kits, pictures, kept))
                " The worst trial of a setup: a lost one before a soft one before the slowest hit; of \
                several lost or soft ones the most blurred. Curves: blur in ‰ of the screen's height, \
                on a scale of square roots; the band is the end blur ± δ, the dashed line the hit \
                limit, the dotted one the film's limit; below, small and to its own scale, the raw \
                signal."
            }
            (key())
            @for kit in kits { @if let Some((k, clip, trial)) = kit.worst() {
                h3 { "The worst trial of " (name(kit.label())) }
                div.trial id={ (kit.trial_id(k, trial)) "-w" } {
                    p { strong { (what(clip, trial)) } " · " (mark(kind(trial))) " " (shown(&glance(trial)))
                        " · onset " (fixed(trial.onset_s, 2)) " s into the clip, as shot" }
                    div.look { (body(kit, clip, trial, pictures)) }
                }
            } }
            @for kit in kits { (list(kit, pictures)) }
        }
    }
}

/// How many stills there are and how many are here.
fn said(kits: &[Kit], pictures: &Pictures, kept: usize) -> String {
    let all: usize = kits.iter().map(Kit::trials_len).sum();
    let shown = pictures.trials();
    match (kept, shown) {
        (0, _) => "No stills are kept for these trials.".to_owned(),
        (kept, 0) => {
            format!("Stills are kept for {kept} of {all} trials; none is in this page (--stills).")
        }
        (kept, shown) if shown < kept => format!(
            "This page has the stills of {shown} of {kept} trials that have some: the worst of every \
             setup first, and its quickest and its middle one. The others lie in the evidence files \
             (focuslag show, or --stills all)."
        ),
        (kept, _) => format!("This page has the stills of all {kept} trials that have some."),
    }
}

/// A link to the worst trial of all.
pub(super) fn pointer(kit: &Kit) -> Markup {
    let Some((k, clip, trial)) = kit.worst() else {
        return html! { "No trial could be judged." };
    };
    html! {
        "The worst trial: " (name(kit.label())) ", "
        a href={ "#" (kit.trial_id(k, trial)) "-w" } { (what(clip, trial)) }
        " (" (shown(&glance(trial))) ")."
        span.paper { " It is printed under “Evidence”, below “The worst trial of " (name(kit.label())) "”." }
    }
}

/// `amber-1.mp4, trial 3, near`.
fn what(clip: &Clip, trial: &Trial) -> Markup {
    let file = clip.path.rsplit('/').next().unwrap_or(&clip.path);
    let side = trial.side.map_or("", |s| match s {
        crate::store::schema::Side::Near => ", near",
        crate::store::schema::Side::Far => ", far",
    });
    html! { (name(file)) ", trial " (trial.index) (side) }
}

fn list(kit: &Kit, pictures: &Pictures) -> Markup {
    let worst = kit.worst().map(|(k, _, t)| (k, t.index));
    let table = html! { table {
        caption { "Trials of " (name(kit.label())) ", in the order of the session" }
        thead { tr {
            th scope="col" .l { "Trial" } th scope="col" { "Latency, ms" } th scope="col" .l { "Verdict" }
            th scope="col" .l { "Side" }
            @for head in ["± (2 u)", "End blur, ‰", "Reversals", "Relapses"] {
                th scope="col" { (head) }
            }
        } }
        tbody { @for (k, clip, t) in kit.trials() { tr {
            th scope="row" { a href={ "#" (kit.trial_id(k, t)) } {
                (name(clip.path.rsplit('/').next().unwrap_or(&clip.path))) ":" (t.index) } }
            td { (whole(t.latency_ms)) }
            td.w { (mark(kind(t))) " " (shown(&verdict_short(t))) }
            td.l { (t.side.map_or("", crate::report::row::side_name)) }
            td { (whole(t.uncertainty_ms.map(|u| 2.0 * u))) }
            td { (t.blur_permille.and_then(|b| b.end).map_or(NONE.to_owned(), |b| fixed(b, 1))) }
            td { (count(t.reversals)) }
            td { (count(t.relapses)) }
        } } }
    } };
    html! {
        h3 id={ "trials-" (kit.id()) } { "All trials of " (name(kit.label())) }
        details {
            summary { "Table of " (kit.trials_len()) " trials" }
            (scrolled(&format!("Trials of {}", shown(kit.label())), &table))
        }
        @for (k, clip, trial) in kit.trials() {
            details.trial {
                summary { (what(clip, trial)) " · " (mark(kind(trial))) " " (shown(&glance(trial))) }
                div.look id=(kit.trial_id(k, trial)) {
                    @if worst == Some((k, trial.index)) {
                        p { "The worst trial of this setup: "
                            a href={ "#" (kit.trial_id(k, trial)) "-w" } { "shown above" } "." }
                    } @else {
                        (body(kit, clip, trial, pictures))
                    }
                }
            }
        }
    }
}

fn verdict_short(trial: &Trial) -> String {
    match (kind(trial), trial.reason.as_deref()) {
        (_, Some(reason)) if trial.latency_ms.is_none() => {
            let lead = if kind(trial) == "excluded" {
                "void"
            } else {
                kind(trial)
            };
            format!("{lead}, {reason}")
        }
        (kind, _) => kind.to_owned(),
    }
}

fn count(n: Option<u32>) -> String {
    n.map_or(NONE.to_owned(), |n| n.to_string())
}

fn body<'a>(kit: &Kit<'a>, clip: &'a Clip, trial: &'a Trial, pictures: &Pictures) -> Markup {
    let close = kit.close(clip, trial);
    let file = shown(close.file());
    let title = format!("Blur in trial {} of {file}", trial.index);
    let moments: Vec<String> = close
        .marks()
        .iter()
        .map(|m| format!("{} at {} ms", m.name, fixed(m.ms, 0)))
        .collect();
    let curve = moment(&close, &title, &format!("{}.", moments.join(", ")));
    html! {
        p { (shown(&verdict_words(trial))) }
        (film(kit, &close, pictures))
        @match curve {
            Some(svg) => {
                figure.wide { (PreEscaped(svg)) }
            }
            None => { p.note { "No curve is kept for this trial." } }
        }
        dl { @for (term, value) in numbers(&close) {
            dt { (term) } dd { (shown(&value)) }
        } }
    }
}

fn film(kit: &Kit, close: &Close, pictures: &Pictures) -> Markup {
    let stills: &[StillRecord] = close.evidence.map_or(&[], |e| &e.stills);
    let have = |s: &&StillRecord| pictures.get(kit.place, &s.file).is_some();
    let lost = |s: &&StillRecord| pictures.lost(kit.place, &s.file);
    let (have, lost) = (
        stills.iter().any(|s| have(&s)),
        stills.iter().filter(lost).count(),
    );
    html! {
        @if stills.is_empty() {
            p.note { "No stills are kept for this trial." }
        } @else if lost > 0 {
            p.note { (lost) " of its " (stills.len()) " stills are gone from the evidence file." }
        } @else if !have {
            p.note { "Its stills are in the evidence file and not in this page, to keep it small." }
        }
        @if have {
            div.film { @for s in stills { @if let Some(data) = pictures.get(kit.place, &s.file) {
                figure {
                    img src=(data) alt=(alt(close, s)) decoding="async";
                    figcaption {
                        strong { (s.moment.word()) } ", " (fixed(close.after_onset(s.time_s), 0)) " ms"
                        @if let Some(blur) = close.blur_at(s.time_s) { ", blur " (fixed(blur, 1)) " ‰" }
                        @if let Some(small) = s.screen.as_ref().and_then(|n| pictures.get(kit.place, n)) {
                            img.scr src=(small) alt="The whole screen then" width="64" height="48" decoding="async";
                        }
                    }
                }
            } } }
        }
    }
}

fn alt(close: &Close, still: &StillRecord) -> String {
    let sharp = close.blur_at(still.time_s).map_or(String::new(), |b| {
        format!(", blur {} per mille of the screen's height", fixed(b, 1))
    });
    format!(
        "Focus area, {}, {} ms after onset{sharp}",
        still.moment.word(),
        fixed(close.after_onset(still.time_s), 0)
    )
}
